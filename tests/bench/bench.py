#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""How fast, each figure beside another program's on the same machine in the same run: one table. Asserts nothing.

usage: bench.py BUILD [--runs N] [--rows N] [--copies N,N,…]

A figure is the least of N runs, the two programs in turn, by processor time (user + system) of the whole process, since
others may use the machine too; "wanted" is the ratio that was set as a goal. --rows: colonies of the load (1,000,000).
"""
import argparse, os, shutil, subprocess, sys, tempfile

DAY = "2026-11-27"
COLONIES_EACH = 3000  # lots to a copy of the demo's fourteen tanks


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


def store_of(neap, folder, copies, colonies_each):
    """A store of a farm (tests/bench/farm.py): the demo's fourteen tanks so many times, and the folder of its tables."""
    demo, tables, db = f"{folder}/demo", f"{folder}/farm-{copies}-{colonies_each}", f"{folder}/{copies}-{colonies_each}.neap"
    if not os.path.exists(demo):
        cost([neap, "--db", f"{folder}/demo.neap", "--on", DAY, "start", "--demo", "--no-log"])
        cost([neap, "--db", f"{folder}/demo.neap", "dump", "--into", demo])
    cost(["/usr/bin/python3", "-B", "tests/bench/farm.py", demo, tables, str(copies), str(colonies_each), str(min(20, 2 * copies))])
    cost([neap, "--db", db, "--on", DAY, "start"])
    return db, tables


def main():
    p = argparse.ArgumentParser()
    p.add_argument("build"), p.add_argument("--runs", type=int, default=5), p.add_argument("--rows", type=int, default=1_000_000)
    p.add_argument("--copies", default="1,10,100,1000", help="of the demo's fourteen tanks")
    given = p.parse_args()
    neap = os.path.abspath(f"{given.build}/neap")
    table, folder = Table(), tempfile.mkdtemp(prefix="bench.")
    try:
        start(table, neap, folder, given.runs)
        inside(table, given.build, folder)
        load(table, neap, folder, given.rows)
        plans(table, neap, folder, [int(n) for n in given.copies.split(",")])
    finally:
        shutil.rmtree(folder)


def start(table, neap, folder, runs):
    db = f"{folder}/start.neap"
    cost([neap, "--db", db, "--on", DAY, "start"])
    a, b = least(max(runs, 20), lambda: ([neap, "--version"],), lambda: (["sqlite3", ":memory:", "select 1"],))
    table.row("start: sqlite3 shell, select 1", a[0], b[0], "<= 1.2")
    a, b = least(max(runs, 20), lambda: ([neap, "--db", db, "list", "food"],), lambda: (["sqlite3", db, "select * from food"],))
    table.row("open the store, list its foods: shell", a[0], b[0], "")


def plans(table, neap, folder, sizes):
    """The plan of a day without search, beside one SQL aggregation over the same rows, and how both grow."""
    sql = "SELECT tank, kind, count(*), sum(count), sum(heads * count), min(fed_before) FROM colony GROUP BY tank, kind"
    for copies in sizes:
        n = copies * COLONIES_EACH
        db, tables = store_of(neap, folder, copies, COLONIES_EACH)
        cost([neap, "--db", db, "--on", DAY, "load", tables])
        a, b = least(1 if n > 100_000 else 3, lambda: ([neap, "--db", db, "--on", DAY, "plan", "--dry-run", "--effort", "0.1"],),
                     lambda: (["sqlite3", db, sql],))
        table.row(f"plan {n:,} lots, {14 * copies:,} tanks: SQL group by", a[0], b[0], "<= 1.0",
                  f"{a[1]:.0f} MiB, {1e6 * a[0] / n:.1f} us a lot")


def load(table, neap, folder, rows):
    """So many colonies, every check on, beside .import into the same tables with their checks and references on."""
    db, tables = store_of(neap, folder, 10, rows // 10)
    cost([neap, "--db", db, "--on", DAY, "load", f"{tables}/system.csv", f"{tables}/tank.csv"])
    a = cost([neap, "--db", db, "--on", DAY, "load", f"{tables}/colony.csv"])
    columns = open(f"{tables}/colony.csv").readline().strip()
    made = [subprocess.run(["sqlite3", db, f"SELECT sql || ';' FROM sqlite_schema WHERE name = '{t}' AND type = 'table'"],
                           check=True, capture_output=True, text=True).stdout for t in ("system", "tank", "kind", "colony")]
    values = ", ".join(f"nullif(new.{c}, '')" for c in columns.split(","))
    script = f"{folder}/import.sql"
    with open(script, "w") as f:
        f.write("PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;\n" + "".join(made) + f"ATTACH '{db}' AS was;\n" +
                "".join(f"INSERT INTO main.{t} SELECT * FROM was.{t};\n" for t in ("system", "tank", "kind")) +
                "DETACH was; PRAGMA foreign_keys=ON;\n"
                f"CREATE TEMP VIEW given AS SELECT {columns} FROM colony;\n"
                f"CREATE TEMP TRIGGER put INSTEAD OF INSERT ON given BEGIN INSERT INTO colony ({columns}) VALUES ({values}); END;\n"
                f".mode csv\n.import --skip 1 {tables}/colony.csv given\n")
    b = cost(["sqlite3", f"{folder}/import.db", f".read {script}"])
    n = subprocess.run(["sqlite3", f"{folder}/import.db", "SELECT count(*) FROM colony"], capture_output=True, text=True).stdout.strip()
    if n != str(rows):
        sys.exit(f"bench: .import took {n} of {rows} rows")
    table.row(f"load {rows:,} colonies: sqlite3 .import", a[0], b[0], "<= 1.1", f"{a[1]:.0f} MiB, shell {b[1]:.0f} MiB")


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
