#!/usr/bin/python3
"""How fast, each figure beside another program's on the same machine in the same run: one table. Asserts nothing.

usage: bench.py BUILD [--runs N] [--rows N] [--tanks N,N,…]

A figure is the least of N runs, the two programs in turn, by processor time (user + system) of the whole process, since
others may use the machine too; "wanted" is the ratio that was set as a goal. --rows: colonies of the load (1,000,000).
"""
import argparse, csv, os, random, resource, shutil, subprocess, sys, tempfile, time

DAY = "2026-11-27"


def cost(command, **how):
    """Processor seconds of a process and its children, and its largest memory in MiB."""
    how.setdefault("stdout", subprocess.DEVNULL)
    p = subprocess.Popen(command, stderr=subprocess.PIPE, **how)
    said = p.stderr.read()
    _, status, used = os.wait4(p.pid, 0)
    p.returncode = os.waitstatus_to_exitcode(status)
    if p.returncode:
        sys.exit(f"bench: {' '.join(map(str, command))[:200]} ended with {p.returncode}: {said.decode()[:500]}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def least(runs, *makers):
    """Each maker sets up and returns a command; all in turn, the least cost of each."""
    best = [(float("inf"), 0)] * len(makers)
    for _ in range(runs):
        for i, maker in enumerate(makers):
            best[i] = min(best[i], cost(*maker()))
    return best


class Table:
    def __init__(self):
        print(f"{'what':44} {'neap s':>8} {'other s':>8} {'ratio':>7} {'wanted':>8}")

    def row(self, what, ours, other, wanted, note=""):
        ratio = ours / other if other else float("nan")
        print(f"{what:44} {ours:8.3f} {other:8.3f} {ratio:7.2f} {wanted:>8}{'  ' + note if note else ''}", flush=True)


def write_facility(folder, n_tanks, n_colonies, seed=1):
    """Invented: racks of ten tanks to a system, colonies of six kinds spread over them."""
    draw = random.Random(seed)
    kinds = ["acans and micromussids", "blastomussa", "branching euphylliids", "mushrooms and ricordea", "zoanthids", "chalices"]
    known = {r["name"] for r in csv.DictReader(open("data/stock/kind.csv"))}
    kinds = [k for k in kinds if k in known] or sorted(known)[:6]
    n_systems = max(1, n_tanks // 10)
    with open(f"{folder}/system.csv", "w") as f:
        f.write("name,sump_volume_l,test_every_d\n" + "".join(f"s{i},600,7\n" for i in range(n_systems)))
    with open(f"{folder}/tank.csv", "w") as f:
        f.write("name,system,shape,length_cm,width_cm,water_cm,displacement_frac,position_m\n")
        f.write("".join(f"T{i},s{i % n_systems},box,200,80,40,0.1,{2 * i}\n" for i in range(n_tanks)))
    with open(f"{folder}/colony.csv", "w") as f:
        f.write("code,label,tank,kind,count,heads,arrived,fed_before\n")
        for i in range(n_colonies):
            f.write(f"C{i},lot {i},T{i % n_tanks},{kinds[draw.randrange(len(kinds))]},1,{draw.randrange(1, 9)},2026-01-01,2026-11-{draw.randrange(10, 26)}\n")


def store_of(neap, folder, n_tanks, n_colonies):
    write_facility(folder, n_tanks, n_colonies)
    db = f"{folder}/{n_tanks}-{n_colonies}.neap"
    base = [neap, "--db", db, "--on", DAY]
    cost(base + ["start"])
    cost(base + ["load"] + [f"{folder}/{r}.csv" for r in ("system", "tank", "colony")])
    return db


def main():
    p = argparse.ArgumentParser()
    p.add_argument("build"), p.add_argument("--runs", type=int, default=5), p.add_argument("--rows", type=int, default=1_000_000)
    p.add_argument("--tanks", default="14,140,1400")
    given = p.parse_args()
    neap = os.path.abspath(f"{given.build}/neap")
    table, folder = Table(), tempfile.mkdtemp(prefix="bench.")
    try:
        start(table, neap, folder, given.runs)
        plans(table, neap, folder, [int(n) for n in given.tanks.split(",")])
        load(table, neap, folder, given.rows)
        inside(table, given.build, folder)
    finally:
        shutil.rmtree(folder)


def start(table, neap, folder, runs):
    db = store_of(neap, folder, 14, 300)
    a, b = least(max(runs, 20), lambda: ([neap, "--version"],), lambda: (["sqlite3", ":memory:", "select 1"],))
    table.row("start: sqlite3 shell, select 1", a[0], b[0], "<= 1.2")
    a, b = least(max(runs, 20), lambda: ([neap, "--db", db, "list", "system"],), lambda: (["sqlite3", db, "select * from system"],))
    table.row("open the store, list its systems: shell", a[0], b[0], "")


def plans(table, neap, folder, sizes):
    """The plan of a day without search, beside one SQL aggregation over the same rows, and how both grow."""
    sql = "SELECT tank, kind, count(*), sum(count), sum(heads * count), min(fed_before) FROM colony GROUP BY tank, kind"
    for n_tanks in sizes:
        n = n_tanks * 214
        db = store_of(neap, folder, n_tanks, n)
        a, b = least(1 if n > 100_000 else 3, lambda: ([neap, "--db", db, "--on", DAY, "plan", "--dry-run", "--effort", "0.1"],),
                     lambda: (["sqlite3", db, sql],))
        table.row(f"plan {n:,} colonies, {n_tanks:,} tanks: SQL group", a[0], b[0], "<= 1.0", f"{a[1]:.0f} MiB, {1e6 * a[0] / n:.1f} us a colony")


def load(table, neap, folder, rows):
    """A million colonies, every check on, beside .import into the same table of the same file's schema."""
    write_facility(folder, 140, rows)
    db = f"{folder}/load.neap"
    def ours():
        for end in ("", "-wal", "-shm"):
            if os.path.exists(db + end):
                os.remove(db + end)
        cost([neap, "--db", db, "--on", DAY, "start"])
        cost([neap, "--db", db, "--on", DAY, "load", f"{folder}/system.csv", f"{folder}/tank.csv"])
        return ([neap, "--db", db, "--on", DAY, "load", f"{folder}/colony.csv"],)
    a = cost(*ours())
    other = f"{folder}/import.db"
    rows_of = {t: subprocess.run(["sqlite3", db, f"SELECT sql || ';' FROM sqlite_schema WHERE name = '{t}' AND type = 'table'"],
                                 check=True, capture_output=True, text=True).stdout for t in ("system", "tank", "kind", "colony")}
    script = "PRAGMA foreign_keys=ON; PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;\n" + "".join(rows_of.values())
    for t in ("system", "tank", "kind"):
        script += f"ATTACH '{db}' AS was; INSERT INTO {t} SELECT * FROM was.{t}; DETACH was;\n"
    columns = "code,label,tank,kind,count,heads,arrived,fed_before"
    script += (f"CREATE TEMP VIEW given AS SELECT {columns} FROM colony;\n"
               f"CREATE TEMP TRIGGER put INSTEAD OF INSERT ON given BEGIN INSERT INTO colony ({columns}) VALUES ({', '.join('new.' + c for c in columns.split(','))}); END;\n"
               f".mode csv\n.import --skip 1 {folder}/colony.csv given\n")
    open(f"{folder}/import.sql", "w").write(script)
    if os.path.exists(other):
        os.remove(other)
    b = cost(["sqlite3", other, f".read {folder}/import.sql"])
    n = int(subprocess.run(["sqlite3", other, "SELECT count(*) FROM colony"], capture_output=True, text=True).stdout or 0)
    if n != rows:
        sys.exit(f"bench: .import took {n} of {rows} rows")
    table.row(f"load {rows:,} colonies: sqlite3 .import", a[0], b[0], "<= 1.1", f"{a[1]:.0f} MiB")


def inside(table, build, folder):
    """What only the inside can be asked: a Theil-Sen line beside SciPy's, and a recipe beside what of it is GLPK's own time."""
    values = f"{folder}/values"
    said = dict((line.split()[0], line.split()[1:]) for line in
                subprocess.run([f"{build}/bench/bench_inside", values], check=True, capture_output=True, text=True).stdout.splitlines())
    theirs = "\n".join(["import sys, time", "from scipy import stats", "y = [float(v) for v in open(sys.argv[1])]", "best = 1e9",
                        "for _ in range(3):", " t = time.process_time(); s = stats.theilslopes(y, range(len(y)), 0.95)",
                        " best = min(best, time.process_time() - t)", "print(best, s[0])"])
    other = subprocess.run(["/usr/bin/python3", "-c", theirs, values], check=True, capture_output=True, text=True).stdout.split()
    ours, n, slope = float(said["slope"][0]), said["slope"][1], float(said["slope"][2])
    if abs(slope - float(other[1])) > 1e-9:
        sys.exit(f"bench: the slope is {slope}, SciPy has {other[1]}")
    table.row(f"Theil-Sen line, {n} readings: SciPy", ours, float(other[0]), "<= 0.01")
    table.row(f"recipe, {said['recipe'][2]} random rounds: GLPK alone", float(said["recipe"][0]), float(said["recipe"][1]), "<= 1.5")


main()
