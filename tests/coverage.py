#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""What the tests reach, by gcov: lines and branches of each folder of src, and what a pure floor leaves out.

usage: coverage.py BUILD [only KIND]   run the tests of BUILD (compiled with --coverage; KIND: unit, bats, examples, faults),
                                       keep who reaches what, print the table
       coverage.py BUILD table      the table again
       coverage.py BUILD missed [FOLDER]   each line that nothing reaches, with its text

Each suite of unit tests, each file of end-to-end tests, the examples and the faults count into files of their own, so that
BUILD/reached.json also says which test reaches a line, and in how long: tests/mutants.py goes by it.
"""
import collections, glob, json, os, re, shutil, subprocess, sys, tempfile, time

from floors import PURE

EXCUSED = "tests/coverage.excused"  # lines of pure floors that no test can reach: file, text, reason


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
    yield "faults", ["/usr/bin/python3", "-B", "tests/fault/faults.py", "short", f"{build}/neap"]


def counted(build, folder):
    """What a test's counts say: (file, line) → times, and (file, line, branch) → times."""
    lines, branches = collections.Counter(), collections.Counter()
    data = [os.path.relpath(p, folder) for p in glob.glob(f"{folder}/src/**/*.gcda", recursive=True)]
    for p in data:
        shutil.copy(f"{build}/{p[:-5]}.gcno", f"{folder}/{p[:-5]}.gcno")
    if not data:
        return lines, branches
    # To standard output: as files, two sources of one name in different folders would overwrite each other's.
    told = subprocess.run(["gcov", "-b", "--json-format", "--stdout"] + [f"{folder}/{p}" for p in data],
                          cwd=folder, check=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True).stdout
    for answer in told.splitlines():
        for file in json.loads(answer)["files"] if answer.startswith("{") else []:
            name = file["file"]
            if not name.startswith("src/"):
                continue
            for line in file["lines"]:
                at_line = (name, line["line_number"])
                lines[at_line] += line["count"]
                for i, branch in enumerate(line["branches"]):
                    branches[at_line + (i,)] += branch["count"]
    return lines, branches


def run(build, kind=""):
    """Run each test with counts of its own; keep the sums and who reached what, after each test."""
    lines, branches, tests, failed = collections.Counter(), collections.Counter(), {}, []
    build = os.path.abspath(build)
    for name, command in tests_of(build):
        if not name.startswith(kind):
            continue
        with tempfile.TemporaryDirectory() as folder:
            env = dict(os.environ, NEAP=f"{build}/neap", GCOV_PREFIX=folder, GCOV_PREFIX_STRIP=str(build.count("/")),
                       MAKEFLAGS=r"CFLAGS=-O0\ -g\ --coverage")  # a test that builds the program anew
            began = time.monotonic()
            done = subprocess.run(command, env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True)
            took = time.monotonic() - began
            if done.returncode:
                failed.append(name)
                print(f"coverage: {name} failed\n{done.stdout[-2000:]}{done.stderr[-1000:]}", file=sys.stderr)
            seen, taken = counted(build, folder)
        for key in seen:
            lines[key] += seen[key]
        for key in taken:
            branches[key] += taken[key]
        reached = collections.defaultdict(list)
        for (file, line), times in sorted(seen.items()):
            if times:
                reached[file].append(line)
        tests[name] = {"seconds": round(took, 2), "reached": reached}
        print(f"{name}: {took:.0f} s", file=sys.stderr, flush=True)
        with open(f"{build}/reached.json", "w") as f:
            json.dump({"lines": [[*k, n] for k, n in sorted(lines.items())],
                       "branches": [[*k, n] for k, n in sorted(branches.items())], "tests": tests}, f)
    return failed


def excused():
    """file → texts of lines that are left out, each with its reason in the file beside this one."""
    left = collections.defaultdict(set)
    if os.path.exists(EXCUSED):
        for row in open(EXCUSED):
            if row.strip() and not row.startswith("#"):
                file, text, _ = [part.strip() for part in row.split("|", 2)]
                left[file].add(text)
    return left


def kept(build):
    data = json.load(open(f"{build}/reached.json"))
    return {(f, l): n for f, l, n in data["lines"]}, {(f, l, b): n for f, l, b, n in data["branches"]}


def missed(build, folder=None):
    lines, _ = kept(build)
    left, texts = excused(), {}
    for (file, line), times in sorted(lines.items()):
        if times or folder and file.split("/")[1] != folder:
            continue
        text = texts.setdefault(file, open(file).read().split("\n"))[line - 1].strip()
        if text not in left[file]:
            yield file, line, text


def table(build):
    lines, branches = kept(build)
    sums = collections.defaultdict(lambda: [0, 0, 0, 0])
    for at, counts in ((0, lines), (2, branches)):
        for key, times in counts.items():
            for folder in (key[0].split("/")[1], "all"):
                sums[folder][at] += 1
                sums[folder][at + 1] += times > 0
    print(f"{'folder':10} {'lines':>7} {'reached':>9} {'branches':>9} {'taken':>8}")
    for folder in PURE + sorted(set(sums) - set(PURE) - {"all"}) + ["all"]:
        n, hit, n_branches, taken = sums[folder]
        print(f"{folder:10} {n:7} {100 * hit / max(n, 1):7.2f} % {n_branches:9} {100 * taken / max(n_branches, 1):6.2f} %")
    bare = [m for m in missed(build) if m[0].split("/")[1] in PURE]
    for file, line, text in bare:
        print(f"{file}:{line}: nothing reaches: {text}")
    return not bare


def main():
    build, *words = sys.argv[1:]
    build = build.rstrip("/")
    if words[:1] == ["missed"]:
        for file, line, text in missed(build, *words[1:]):
            print(f"{file}:{line}: {text}")
        return
    failed = [] if words == ["table"] else run(build, *words[1:])
    sys.exit(0 if table(build) and not failed else 1)


if __name__ == "__main__":
    main()
