#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Do the tests notice when the program is wrong? Seeded single changes of the source, each put to the tests that reach its line.

usage: mutants.py FOLDER COVERAGE [--seed N] [--count N] [--only REGEX] [--tests N] [--again] [--jobs N]

COVERAGE holds what tests/coverage.py kept (reached.json). In FOLDER a copy of the house is built; then one line after another
is changed in it. A change that does not compile, or whose object is the same machine code, is none. A changed program is
caught when a test that reaches the line fails, which does not without the change, or takes ten times its time; those tests
come first that caught most in the time they take. --tests: no more than so many for a change; what they let pass counts as
survived. What survives is printed; where it means the same as before, its reason stands in tests/mutants.equivalent
(file | line as it is | line as changed | reason) and it counts neither way.

FOLDER/results keeps each verdict: begun again, the run goes on where it stopped. --again puts what survived to the tests anew.
"""
import argparse, collections, concurrent.futures, filecmp, hashlib, json, os, re, resource, shutil, signal, subprocess, sys, threading

from coverage import tests_of

EQUIVALENT = "tests/mutants.equivalent"
BUILD = "build/release"
CACHED = ["CC=ccache cc", "CXX=ccache c++"] if shutil.which("ccache") else []
LINKED = "CFLAGS=-fuse-ld=gold"  # for all that is linked only: the quicker of the two linkers

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
ASSERTED = re.compile(r"^\s+(debug_)?assert\(")  # says what holds; nothing is done by it


def changes_of(line):
    """(kind, line as changed) of all that can be changed in a line of code; words in quotes and comments are left alone."""
    hidden = re.sub(r'"(\\.|[^"\\])*"|\'(\\.|[^\'\\])\'|/\*.*?\*/|//.*', lambda m: "\0" * len(m.group()), line)
    if ASSERTED.match(hidden):
        return
    for kind, pattern, into in SWAPS:
        for m in re.finditer(pattern, hidden):
            was = m.group(1)
            for new in [into[was]] if into else ["1" if was == "0" else "0" if was == "1" else str(int(was) + 1)]:
                yield kind, line[:m.start(1)] + new + line[m.end(1):]
    if DELETED.match(hidden):
        yield "deleted", re.match(r"\s*", line).group() + ";"


Change = collections.namedtuple("Change", "file number kind line changed key")


def candidates(reached, only, seed, folder):
    """In the order of a sum over words and seed: what is written elsewhere does not change which come first."""
    lines_of = collections.defaultdict(set)
    for test in reached["tests"].values():
        for file, lines in test["reached"].items():
            lines_of[file].update(lines)
    found = []
    for file in filter(only.search, lines_of):
        text, met = open(f"{folder}/{file}").read().split("\n"), collections.Counter()
        for number in sorted(lines_of[file]):
            line = text[number - 1]
            if not file.endswith(".c") or not line.startswith((" ", "\t")):  # in a function
                continue
            for kind, changed in changes_of(line):
                words = f"{file} | {line.strip()} | {changed.strip()}"
                met[words] += 1
                found.append(Change(file, number, kind, line, changed, f"{words} | {met[words]}"))
    return sorted(found, key=lambda c: hashlib.sha256(f"{seed} {c.key}".encode()).digest())


class Limited:
    """A command with an end for what would have none: of its processor time, memory and files. Its lines, as they come."""

    def __init__(self, command, house, cpu_s, wall_s):
        def limit():
            for what, most in ((resource.RLIMIT_CPU, cpu_s), (resource.RLIMIT_DATA, 3 << 30), (resource.RLIMIT_FSIZE, 1 << 28),
                               (resource.RLIMIT_CORE, 0)):
                resource.setrlimit(what, (most, most))

        env = dict(os.environ, CI="true", NEAP=f"{house.folder}/{BUILD}/neap", TMPDIR=f"{house.folder}/tmp")
        self.process = subprocess.Popen(command, cwd=house.folder, env=env, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True,
                                        errors="replace", stderr=subprocess.STDOUT, start_new_session=True, preexec_fn=limit)
        self.watch = threading.Timer(wall_s, self.end)

    def end(self):
        try:
            os.killpg(self.process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass

    def __enter__(self):
        self.watch.start()
        return self.process

    def __exit__(self, *_):
        self.watch.cancel()
        self.end()
        self.process.wait()


class House:
    """A copy of the house in which one line at a time is wrong."""

    def __init__(self, folder):
        self.folder = os.path.abspath(folder)
        os.makedirs(f"{self.folder}/tmp", exist_ok=True)
        for what in ("Makefile", "README.md", "CHANGELOG.md", "DEVELOPERS.md", "LICENSE"):
            shutil.copy2(what, self.folder)
        for what in ("src", "include", "data", "tests", "docs", "tools"):
            shutil.rmtree(f"{self.folder}/{what}", ignore_errors=True)
            shutil.copytree(what, f"{self.folder}/{what}")
        self.restore()
        if not self.make("STRICT=-Werror", "all", "units"):
            sys.exit(f"{self.folder}: does not build")
        self.command = {n: c for n, c in tests_of(BUILD) if not n.startswith("cross")}  # programs of their own
        self.fails_anyway = {}  # test → what of it fails without any change; looked at for those that fail with one

    def make(self, *targets):
        # Not as a part of the caller's make, if any: this is another house.
        env = {k: v for k, v in os.environ.items() if not k.startswith("MAKE")} | {"CCACHE_NOHASHDIR": "1", "CCACHE_BASEDIR": self.folder}
        return subprocess.run(["make", "-s", "-C", self.folder, *CACHED, *targets], env=env, capture_output=True).returncode == 0

    def same_code(self, one, other):
        """Two objects, but for what is there for a debugger."""
        bare = [f"{self.folder}/tmp/{i}.o" for i in range(2)]
        for path, to in zip((one, other), bare):
            subprocess.run(["objcopy", "-g", path, to], check=True)
        return filecmp.cmp(*bare, shallow=False)

    def restore(self):
        """Source and object as they were before the change; also of a run that was stopped meanwhile."""
        kept = f"{self.folder}/kept"
        if os.path.exists(f"{kept}/names"):
            for what, name in zip(("source", "object"), open(f"{kept}/names").read().split()):
                shutil.copy(f"{kept}/{what}", f"{self.folder}/{name}")
        shutil.rmtree(kept, ignore_errors=True)

    def apply(self, change):
        """The line as changed; false: it does not compile, or is the same machine code."""
        path, obj, kept = f"{self.folder}/{change.file}", f"{BUILD}/{change.file[:-2]}.o", f"{self.folder}/kept"
        os.makedirs(kept)
        shutil.copy2(path, f"{kept}/source")
        shutil.copy2(f"{self.folder}/{obj}", f"{kept}/object")
        with open(f"{kept}/names", "w") as f:
            f.write(f"{change.file} {obj}")
        text = open(path).read().split("\n")
        assert text[change.number - 1] == change.line
        text[change.number - 1] = change.changed
        with open(path, "w") as f:
            f.write("\n".join(text))
        return (self.make("WARN=-w", obj) and not self.same_code(f"{kept}/object", f"{self.folder}/{obj}") and
                self.make(LINKED, "all", "units"))

    def failing(self, name, seconds, known=frozenset()):
        """What fails of a test, which is stopped at the first that is not known; known None: at none."""
        found = set()
        # A file of end-to-end tests is many programs, each far quicker than the file.
        with Limited(self.command[name], self, int(10 * seconds + 5) if name.startswith("unit") else 60, 20 * seconds + 300) as p:
            for line in p.stdout:
                if line.startswith("not ok"):
                    found.add(re.sub(r"^not ok \d+ ", "", line.strip()))
                    if known is not None and not found <= known:
                        return found
            return found if p.wait() == 0 or found else {"its exit status"}

    def put(self, change, going):
        """caught by which test, "" for none, None where it is no change; going: tests with their seconds, in order."""
        try:
            if not self.apply(change):
                return None
            for name, seconds in going:
                known = self.fails_anyway.get(name, frozenset())
                bad = self.failing(name, seconds, known)
                if bad <= known:
                    continue
                if name not in self.fails_anyway:
                    self.restore()
                    self.make(LINKED, "all", "units")
                    known = self.fails_anyway[name] = self.failing(name, seconds, None)
                    if bad <= known:
                        self.apply(change)
                        bad = self.failing(name, seconds, known)
                if not bad <= known:
                    return name
            return ""
        finally:
            self.restore()


class Results:
    """A row for each verdict, written at once."""

    def __init__(self, path):
        self.path, self.of = path, {}
        for row in open(path) if os.path.exists(path) else []:
            verdict, by, key = row.rstrip("\n").split(" | ", 2)
            self.of[key] = verdict, by

    def put(self, key, verdict, by):
        self.of[key] = verdict, by
        with open(self.path, "a") as f:
            f.write(f"{verdict} | {by} | {key}\n")

    def caught_by(self):
        return collections.Counter(by for verdict, by in self.of.values() if verdict == "caught")


def equivalents():
    known = {}
    for row in open(EQUIVALENT) if os.path.exists(EQUIVALENT) else []:
        if row.strip() and not row.startswith("#"):
            file, line, changed, reason = [part.strip() for part in row.split(" | ", 3)]
            known[f"{file} | {line} | {changed}"] = reason
    return known


def going_for(change, reached, house, results, most):
    """The tests that reach a change, each with its seconds, in the order that pays."""
    caught = results.caught_by()
    found = [(t["seconds"], n) for n, t in reached["tests"].items() if n in house.command and
             change.number in t["reached"].get(change.file, ())]
    found.sort(key=lambda row: (row[0] + 1) / (1 + caught[row[1]]))
    return [(name, seconds) for seconds, name in found[:most or None]]


def given_words():
    p = argparse.ArgumentParser()
    p.add_argument("folder"), p.add_argument("coverage")
    p.add_argument("--seed", type=int, default=1), p.add_argument("--count", type=int, default=200)
    p.add_argument("--tests", type=int, default=0), p.add_argument("--jobs", type=int, default=1)
    p.add_argument("--again", action="store_true")
    p.add_argument("--only", type=re.compile, default=re.compile(r"^src/(?!page)"))
    return p.parse_args()


def main():
    given = given_words()
    reached = json.load(open(f"{given.coverage.rstrip('/')}/reached.json"))
    for test in reached["tests"].values():
        test["reached"] = {file: set(lines) for file, lines in test["reached"].items()}
    os.makedirs(given.folder, exist_ok=True)
    houses = [House(f"{given.folder}/house{i}") for i in range(given.jobs)]
    results, known, lock = Results(f"{given.folder}/results"), equivalents(), threading.Lock()
    everything = candidates(reached, given.only, given.seed, houses[0].folder)
    counts, waiting = collections.Counter(), iter(everything)

    def judged(change, house):
        verdict, by = results.of.get(change.key, ("", ""))
        if not verdict or verdict == "survived" and given.again:
            found = house.put(change, going_for(change, reached, house, results, given.tests))
            verdict, by = "none" if found is None else "caught" if found else "survived", found or ""
            with lock:
                results.put(change.key, verdict, by)
        return verdict, by

    def work(house):
        house.fails_anyway = houses[0].fails_anyway
        while True:
            with lock:
                # What others are at is taken for tried: a run of several jobs may try a few more than asked.
                change = next(waiting, None) if counts["caught"] + counts["survived"] < given.count else None
            if not change:
                return
            if change.key.rsplit(" | ", 1)[0] in known:
                counts["equivalent"] += 1
                continue
            verdict, by = judged(change, house)
            with lock:
                counts[verdict] += 1
                if verdict != "none":
                    print(f"{verdict if verdict == 'caught' else 'SURVIVED'} {change.file}:{change.number} {change.kind}: "
                          f"{change.line.strip()} → {change.changed.strip()}{f' ({by})' if by else ''}", flush=True)

    with concurrent.futures.ThreadPoolExecutor(given.jobs) as pool:
        list(pool.map(work, houses))
    n = counts["caught"] + counts["survived"]
    print(f"of {n} changes {counts['caught']} caught ({100 * counts['caught'] / max(n, 1):.0f} %), {counts['survived']} survived, "
          f"{counts['equivalent']} known to mean the same, {counts['none']} were none; {len(everything)} possible; seed {given.seed}")
    sys.exit(0 if counts["caught"] >= 0.9 * n else 1)


if __name__ == "__main__":
    main()
