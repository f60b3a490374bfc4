#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What the tests reach, by gcov: lines and branches of each folder of src. Of the pure floors every line is to be reached, but for
those that tests/coverage.excused names with a reason each, and of the branches 95 in 100: else it ends with 1.

usage: coverage.py BUILD [only KIND | more]   run the tests of BUILD (compiled with --coverage; KIND: unit, bats, examples,
                                       cross; more: that are not in what is kept), keep who reaches what, print the table
       coverage.py BUILD table      the table again
       coverage.py BUILD missed FOLDER…   each line there that nothing reaches, or not all branches of

Each suite of unit tests, each file of end-to-end tests and the examples count into files of their own, so that
BUILD/reached.json also says which test reaches a line, and in how long: tests/mutants.py goes by it.

A branch is one outcome of one condition: without optimisation gcov counts each side of a || b, and each case of a switch, for
itself. Faults are not asked: what fails there fails in the counting, too. Not counted: conditions in assertions, whose other side
ends the program, and the ways of C++ out of a call that throws.
"""
import collections, concurrent.futures, glob, json, os, re, shutil, subprocess, sys, tempfile, time

from floors import PURE

EXCUSED = "tests/coverage.excused"  # lines of pure floors that no test can reach: file:function | text | reason
BRANCHES_LEAST = 95  # in 100, of each pure floor


def tests_of(build):
    """(name, command) of each test of a build; they run with NEAP in their environment."""
    for suite in sorted(glob.glob("tests/unit/test_*.c")):
        name = os.path.basename(suite)[5:-2]
        yield f"unit {name}", [f"{build}/units", name]
    for file in sorted(glob.glob("tests/cli/*.bats")):
        yield f"bats {os.path.basename(file)[:-5]}", ["bats", "--formatter", "tap", file]
    yield "examples", ["tests/golden.sh"]
    for page in re.search(r"^EXAMPLES = (.*)", open("Makefile").read(), re.M).group(1).split():
        yield f"examples {page}", ["tests/readme.sh", page]
    for script in sorted(glob.glob("tests/cross/*.py")):
        name = os.path.basename(script)[:-3]
        program = [f"{build}/cross/{p}" for p in (name, name.split("_")[0]) if os.path.exists(f"tests/cross/{p}.c")]
        yield f"cross {name}", ["/usr/bin/python3", "-B", script] + program[:1]


def counted(build, folder):
    """What a test's counts say: (file, line, function) → times, and (file, line, branch) → times."""
    lines, branches = collections.Counter(), collections.Counter()
    data = [os.path.relpath(p, folder) for p in glob.glob(f"{folder}/src/**/*.gcda", recursive=True)]
    for p in data:
        shutil.copy(f"{build}/{p[:-5]}.gcno", f"{folder}/{p[:-5]}.gcno")
    if not data:
        return lines, branches
    # To standard output: as files, two sources of one name in different folders would overwrite each other's.
    told = subprocess.run(["gcov", "-b", "--json-format", "--stdout"] + [f"{folder}/{p}" for p in data],
                          cwd=folder, check=True, capture_output=True, text=True).stdout
    for answer in told.splitlines():
        for file in json.loads(answer)["files"] if answer.startswith("{") else []:
            name = file["file"]
            if not name.startswith("src/"):
                continue
            for line in file["lines"]:
                lines[name, line["line_number"], line.get("function_name", "")] += line["count"]
                for i, branch in enumerate(line["branches"]):
                    if not branch["throw"]:
                        branches[name, line["line_number"], i] += branch["count"]
    return lines, branches


def run_one(build, name, command):
    """(name, seconds, what went wrong, lines, branches) of a test that runs with counts of its own."""
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # each run of the program writes some 200 files of counts
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        env = dict(os.environ, NEAP=f"{build}/neap", GCOV_PREFIX=f"{folder}/counts", GCOV_PREFIX_STRIP=str(build.count("/")), TMPDIR=folder,
                   MAKEFLAGS=r"CFLAGS=-O0\ -g\ --coverage")  # a test that builds the program anew
        began = time.monotonic()
        done = subprocess.run(command, env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True)
        took = time.monotonic() - began
        wrong = done.stdout[-2000:] + done.stderr[-1000:] if done.returncode else ""
        try:
            return name, took, wrong, *counted(build, f"{folder}/counts")
        except subprocess.CalledProcessError as e:  # its counts are lost, not those of the others
            return name, took, f"{wrong}gcov: exit status {e.returncode}: {e.stderr[-1000:]}", {}, {}


def run(build, which, kind=""):
    """Run each test with counts of its own, as many at once as there are processors; keep the sums and who reached what."""
    lines, branches, tests, failed = collections.Counter(), collections.Counter(), {}, []
    build = os.path.abspath(build)
    if which == "more":
        data = json.load(open(f"{build}/reached.json"))
        lines.update({(f, l, function): n for f, l, function, n in data["lines"]})
        branches.update({(f, l, b): n for f, l, b, n in data["branches"]})
        tests = data["tests"]
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        going = [pool.submit(run_one, build, *test) for test in tests_of(build)
                 if test[0].startswith(kind) and test[0] not in tests]
        for one in concurrent.futures.as_completed(going):
            name, took, wrong, seen, taken = one.result()
            if wrong:
                failed.append(name)
                print(f"coverage: {name} failed\n{wrong}", file=sys.stderr)
            if not seen and wrong:
                continue
            for key in seen:
                lines[key] += seen[key]
            for key in taken:
                branches[key] += taken[key]
            reached = collections.defaultdict(list)
            for (file, line, _), times in sorted(seen.items()):
                if times and line not in reached[file][-1:]:
                    reached[file].append(line)
            tests[name] = {"seconds": round(took, 2), "reached": reached}
            print(f"{name}: {took:.0f} s", file=sys.stderr, flush=True)
            with open(f"{build}/reached.json.new", "w") as f:
                json.dump({"lines": [[*k, n] for k, n in sorted(lines.items())],
                           "branches": [[*k, n] for k, n in sorted(branches.items())], "tests": dict(sorted(tests.items()))}, f)
            os.replace(f"{build}/reached.json.new", f"{build}/reached.json")
    return failed


def excused():
    """(file, function, text of a line) → reason."""
    left = {}
    for row in open(EXCUSED) if os.path.exists(EXCUSED) else []:
        if row.strip() and not row.startswith("#"):
            place, text, reason = (part.strip() for part in row.split(" | ", 2))
            left[(*place.split(":"), text)] = reason
    return left


def kept(build):
    """(file, line) → (function, times), and (file, line, branch) → times."""
    data = json.load(open(f"{build}/reached.json"))
    lines = {}
    for file, line, function, times in data["lines"]:
        lines[file, line] = (function, times + lines.get((file, line), ("", 0))[1])
    return lines, {(f, l, b): n for f, l, b, n in data["branches"]}


class Texts(dict):
    def __missing__(self, file):
        self[file] = [""] + [line.strip() for line in open(file)]
        return self[file]


class Asserted(dict):
    """file → the lines of its assertions."""

    def __init__(self, texts):
        self.texts = texts

    def __missing__(self, file):
        inside, depth = self.setdefault(file, set()), 0
        for i, text in enumerate(self.texts[file]):
            if depth > 0 or re.match(r"(debug_)?assert\(", text):
                inside.add(i)
                depth += text.count("(") - text.count(")")
        return inside


def table(build):
    """Prints the table and what is wrong with the pure floors; true: nothing."""
    lines, branches = kept(build)
    excuses, texts, sums, wrong = excused(), Texts(), collections.defaultdict(collections.Counter), []
    missing = {(file, line): (file, function, texts[file][line]) for (file, line), (function, times) in sorted(lines.items())
               if not times and file.split("/")[1] in PURE}
    for place, what in missing.items():
        if what in excuses:
            sums[what[0].split("/")[1]]["excused"] += 1
        else:
            wrong.append(f"{place[0]}:{place[1]}: {what[1]}: no test reaches: {what[2]}")
    for what in excuses:
        if what not in missing.values():
            wrong.append(f"{EXCUSED}: {what[0]}:{what[1]}: needs no excuse: {what[2]}")
    for (file, _), (_, times) in lines.items():
        sums[file.split("/")[1]].update(lines=1, reached=times > 0)
    proofs = Asserted(texts)
    for (file, line, _), times in branches.items():
        if line not in proofs[file]:
            sums[file.split("/")[1]].update(branches=1, taken=times > 0)
    print(f"{'folder':10} {'lines':>7} {'reached':>9} {'excused':>8} {'branches':>9} {'taken':>8}")
    for folder in PURE + sorted(set(sums) - set(PURE)):
        n = sums[folder]
        sums["all"] += n
        row(folder, n)
        if folder in PURE and 100 * n["taken"] < BRANCHES_LEAST * n["branches"]:
            wrong.append(f"{folder}: {n['branches'] - n['taken']} branches not taken; expected {BRANCHES_LEAST} % taken")
    row("all", sums["all"])
    print("\n".join(wrong))
    return not wrong


def row(name, n):
    print(f"{name:10} {n['lines']:7} {100 * n['reached'] / max(n['lines'], 1):7.2f} % {n['excused']:8} "
          f"{n['branches']:9} {100 * n['taken'] / max(n['branches'], 1):6.2f} %")


def show_missed(build, folders):
    """Each line that nothing reaches, and each that not all branches are taken of: + for one that is, - for one that is not."""
    lines, branches = kept(build)
    texts, ways = Texts(), collections.defaultdict(str)
    proofs = Asserted(texts)
    for (file, line, _), times in sorted(branches.items()):
        ways[file, line] += "+" if times else "-"
    for (file, line), (function, times) in sorted(lines.items()):
        if file.split("/")[1] in folders and line not in proofs[file] and (not times or "-" in ways[file, line]):
            print(f"{file}:{line}: {function}: {ways[file, line] if times else 'no'} {texts[file][line]}")


def main():
    build, *words = sys.argv[1:]
    build = build.rstrip("/")
    if words[:1] == ["missed"]:
        show_missed(build, words[1:])
        return
    failed = [] if words == ["table"] else run(build, *(words or [""]))
    sys.exit(0 if table(build) and not failed else 1)


if __name__ == "__main__":
    main()
