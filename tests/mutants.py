#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Do the tests notice when the program is wrong? Seeded single changes of the source, each put to the tests that reach its line.

usage: mutants.py BUILD COVERAGE [--seed N] [--count N] [--from N] [--only REGEX] [--jobs N]

BUILD holds the objects of a whole build, COVERAGE what tests/coverage.py kept (reached.json). A change that does not compile,
or whose object is the same machine code, is none. A changed program is caught when a test that reaches the line fails or
takes twenty times its time. What survives is printed; where it means the same as before, its reason stands in
tests/mutants.equivalent (file | line as it is | line as changed | reason) and it counts neither way.
"""
import argparse, collections, concurrent.futures, filecmp, glob, json, os, random, re, shutil, signal, subprocess, sys, tempfile

from coverage import tests_of

EQUIVALENT = "tests/mutants.equivalent"

# What a change is: a pattern and what stands there instead. The kinds are those of Offutt's five sufficient operators
# (Offutt and others 1996: absolute value left out, for doubles here carry units) with statements deleted besides.
SWAPS = [
    ("relation", r" (<=|>=|==|!=|<|>) ", {"<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "=="}),
    ("logic", r" (&&|\|\|) ", {"&&": "||", "||": "&&"}),
    ("arithmetic", r" ([-+*/]) ", {"+": "-", "-": "+", "*": "/", "/": "*"}),
    ("step", r"(\+\+|--)(?=[;)\]])", {"++": "--", "--": "++"}),
    ("returned", r"(?<=return )(true|false)(?=;)", {"true": "false", "false": "true"}),
    ("not", r"(?<=[( ])(!)(?=[a-z(])", {"!": ""}),
    ("number", r"(?<![\w.])(\d+)(?![\w.])", None),
    ("bound", r"\b(fmin|fmax)(?=\()", {"fmin": "fmax", "fmax": "fmin"}),
]
DELETED = re.compile(r"^\s+(?!return|break|continue|goto|case|default|const |static |struct |enum |double |size_t |long |int |bool |char )[\w>.\[\]*()-]+( [-+*/|&]?= .*|\(.*\));$")


def changes_of(line):
    """(kind, line as changed) of all that can be changed in a line of code; words in quotes and comments are left alone."""
    hidden = re.sub(r'"(\\.|[^"\\])*"|\'(\\.|[^\'\\])\'|/\*.*?\*/|//.*', lambda m: "\0" * len(m.group()), line)
    for kind, pattern, into in SWAPS:
        for m in re.finditer(pattern, hidden):
            was = m.group(1)
            for new in [into[was]] if into else ["1" if was == "0" else "0" if was == "1" else str(int(was) + 1)]:
                yield kind, line[:m.start(1)] + new + line[m.end(1):]
    if DELETED.match(hidden):
        yield "deleted", re.match(r"\s*", line).group() + ";"


def candidates(reached, only):
    lines_of = collections.defaultdict(set)
    for test in reached["tests"].values():
        for file, lines in test["reached"].items():
            lines_of[file].update(lines)
    for file in sorted(lines_of):
        if not only.search(file) or not file.endswith(".c"):
            continue
        text = open(file).read().split("\n")
        for number in sorted(lines_of[file]):
            line = text[number - 1]
            if line.startswith((" ", "\t")):  # in a function
                for kind, changed in changes_of(line):
                    yield file, number, kind, line, changed


def make(folder, build, *targets):
    return subprocess.run(["make", "-s", "-C", folder, f"B={build}", "WARN=-w", *targets], capture_output=True).returncode == 0


def machine_code(obj, to):
    subprocess.run(["objcopy", "-g", obj, to], check=True)
    return to


def fails(command, seconds, folder, build):
    """Does this test fail on the changed program? A file of end-to-end tests is stopped at its first failure."""
    env = dict(os.environ, CI="true", NEAP=f"{folder}/{build}/neap", TMPDIR=f"{folder}/tmp")
    p = subprocess.Popen(command, cwd=folder, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                         stderr=subprocess.STDOUT, text=True, errors="replace", start_new_session=True)
    watch = subprocess.Popen(["sh", "-c", f"sleep {int(20 * seconds) + 20}; kill -9 -- -{p.pid}"], start_new_session=True)
    try:
        for line in p.stdout:
            if line.startswith("not ok"):
                return True
        return p.wait() != 0
    finally:
        for group in (p.pid, watch.pid):
            try:
                os.killpg(group, signal.SIGKILL)
            except ProcessLookupError:
                pass
        p.wait(), watch.wait()


class House:
    """A copy of the house in which one line at a time is wrong."""

    def __init__(self, build):
        self.build, self.folder = build, tempfile.mkdtemp(prefix="mutants.")
        for what in ["Makefile", "README.md", *glob.glob("*.md")]:
            shutil.copy(what, self.folder)
        for what in ("src", "include", "data", "tests", "docs"):
            shutil.copytree(what, f"{self.folder}/{what}")
        os.makedirs(f"{self.folder}/tmp")
        shutil.copytree(build, f"{self.folder}/{build}", ignore=shutil.ignore_patterns("logs", "*.neap*"))
        make(self.folder, build, "all", "units")
        self.command = dict(tests_of(f"{self.folder}/{build}"))

    def put(self, reached, change):
        """caught by which test, or None; "none" where it is no change."""
        file, number, _, line, changed = change
        path, obj = f"{self.folder}/{file}", f"{self.build}/{file[:-2]}.o"
        was = open(path).read()
        kept = machine_code(f"{self.folder}/{obj}", f"{self.folder}/tmp/kept.o")
        text = was.split("\n")
        assert text[number - 1] == line
        text[number - 1] = changed
        try:
            with open(path, "w") as f:
                f.write("\n".join(text))
            if not make(self.folder, self.build, obj) or filecmp.cmp(
                    kept, machine_code(f"{self.folder}/{obj}", f"{self.folder}/tmp/new.o"), shallow=False):
                return "none"
            if not make(self.folder, self.build, "all", "units"):
                return "none"
            going = [(t["seconds"], name) for name, t in reached["tests"].items() if number in t["reached"].get(file, ())]
            for seconds, name in sorted(going):
                if fails(self.command[name], seconds, self.folder, self.build):
                    return name
            return None
        finally:
            with open(path, "w") as f:
                f.write(was)
            make(self.folder, self.build, obj)

    def close(self):
        shutil.rmtree(self.folder, ignore_errors=True)


def equivalents():
    known = {}
    if os.path.exists(EQUIVALENT):
        for row in open(EQUIVALENT):
            if row.strip() and not row.startswith("#"):
                file, line, changed, reason = [part.strip() for part in row.split(" | ", 3)]
                known[file, line, changed] = reason
    return known


def main():
    p = argparse.ArgumentParser()
    p.add_argument("build"), p.add_argument("coverage")
    p.add_argument("--seed", type=int, default=1), p.add_argument("--count", type=int, default=200)
    p.add_argument("--from", type=int, default=0, dest="first"), p.add_argument("--jobs", type=int, default=1)
    p.add_argument("--only", type=re.compile, default=re.compile(r"^src/(?!page)"))
    given = p.parse_args()
    reached = json.load(open(f"{given.coverage.rstrip('/')}/reached.json"))
    for test in reached["tests"].values():
        test["reached"] = {file: set(lines) for file, lines in test["reached"].items()}
    everything = list(candidates(reached, given.only))
    random.Random(given.seed).shuffle(everything)
    waiting = iter(everything[given.first:])
    known, counts, tried = equivalents(), collections.Counter(), 0

    def work():
        nonlocal tried
        house = House(given.build.rstrip("/"))
        try:
            while tried < given.count:
                change = next(waiting)
                file, number, kind, line, changed = change
                if (file, line.strip(), changed.strip()) in known:
                    counts["equivalent"] += 1
                    continue
                tried += 1
                by = house.put(reached, change)
                if by == "none":
                    tried -= 1
                    continue
                counts["caught" if by else "survived"] += 1
                print(f"{'caught' if by else 'SURVIVED'} {file}:{number} {kind}: {line.strip()} → {changed.strip()}"
                      f"{f' ({by})' if by else ''}", flush=True)
        finally:
            house.close()

    with concurrent.futures.ThreadPoolExecutor(given.jobs) as pool:
        for done in [pool.submit(work) for _ in range(given.jobs)]:
            done.result()
    n = counts["caught"] + counts["survived"]
    print(f"of {n} changes {counts['caught']} caught ({100 * counts['caught'] / max(n, 1):.0f} %), "
          f"{counts['survived']} survived, {counts['equivalent']} known to mean the same; seed {given.seed}")
    sys.exit(0 if counts["caught"] >= 0.9 * n else 1)


main()
