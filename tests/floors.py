#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The house's order, asked of what the compiler made: dependency files say which headers an object really saw, and its
symbol table what it really calls, so that a spelling or a declaration by hand gets round nothing.

Usage: tests/floors.py BUILD         the rules, on the objects of a build by gcc
       tests/floors.py BUILD prove   plants a breach of each rule in a copy and sees it caught

The rules: a floor sees and calls only itself and floors below it; each library has one owner; pure floors call nothing
beyond a list; floors below cli keep no state between calls; no two files export one name; what is exported is used by
another file of the program; files of a folder do not call each other in a circle, but for the circles named
here (cli aside, where the table of commands names every command); a struct's name means one thing in the house; each source
file names its licence, and each C file then says what it is.
"""
import collections
import glob
import os
import re
import shutil
import subprocess
import sys
import tempfile

FLOORS = ["base", "calc", "facility", "desk", "trend", "recipe", "schedule", "plan", "why", "week", "store", "exchange", "records", "print", "cli", "page"]

# A floor's faces: headers in include/neap, and tables that they read in. Where none is named, the floor's own name.
FACES = {
    "base": ["base", "banned"],
    "calc": ["calc", "species.def"],
    "facility": ["facility", "label", "analytes.def"],
    "plan": ["plan", "advice", "capacity", "changed", "learned", "ledger", "log", "figures", "replan", "rescale", "response",
             "stock", "working"],
    "records": ["colonies", "drawing", "entered", "loading", "logging", "naming", "quarantine", "readings", "switches", "todays", "week_log"],
}

_LIGHT = ["base", "calc", "facility", "trend", "recipe", "schedule", "plan"]
BELOW = {
    "base": [],
    "calc": ["base"],
    "recipe": ["base", "calc"],
    "schedule": ["base"],
    "facility": ["base", "calc"],
    "desk": ["base", "calc", "facility"],
    "trend": ["base", "calc"],
    "plan": _LIGHT[:-1],
    "why": _LIGHT,
    "week": _LIGHT + ["why"],
    "store": _LIGHT + ["why", "week"],
    "exchange": _LIGHT + ["why", "week"],
    "records": _LIGHT + ["why", "week", "store", "exchange"],
    "print": _LIGHT + ["why", "week", "desk"],
    "cli": _LIGHT + ["why", "week", "desk", "store", "exchange", "records", "print"],
    "page": _LIGHT + ["why", "week", "desk", "print"],
}

# Library: its header, the prefix of its names, the files that may use it.
OWNERS = [
    ("sqlite3.h", "sqlite3", r"src/store/"),
    ("csv.h", "csv_(?:init|parse|fini|free|error|write|strerror|set)", r"src/exchange/csv_"),
    ("cjson/cJSON.h", "cJSON_", r"src/(exchange/json_|page/read)"),
    ("cairo/", "cairo_", r"src/page/"),
    ("pango-1.0/", "pango_", r"src/page/"),
    ("qrencode.h", "QRcode_", r"src/page/code"),
    ("glpk.h", "glp_", r"src/recipe/"),
    ("cadical.hpp", "ccadical_|_ZN7CaDiCaL", r"src/schedule/solver"),
    ("ccadical.h", "ccadical_", r"nothing; schedule/solver.h is the way"),
    ("histedit.h", "el_w?(?:init|end|set|get|gets|line|insertstr)$", r"src/cli/log_prompt"),
    ("utf8proc.h", "utf8proc_", r"src/(facility|print)/"),
    ("gsl/", "gsl_", r"src/(trend/|cli/main)"),
]

# What the pure floors may call of C and the libraries: arithmetic, memory, text. No file, clock, environment, printing, exit.
PURE = ["base", "calc", "facility", "desk", "trend", "recipe", "schedule", "plan", "why", "week"]
MAY_CALL = re.compile(
    "|".join(
        [
            r"(?:a?tan|exp2?|fmax|fmin|log1p|log10|log|pow|sincos|sin|cos|sqrt|erfc?|ceil|floor|round|l?lround|modf|fabs|hypot|cbrt)",
            r"(?:malloc|calloc|realloc|free|mem(?:cpy|move|set|cmp|chr))",
            r"str(?:n?cmp|len|r?chr|spn|cspn|str|tod|tol|pbrk)",
            r"v?snprintf|qsort|bsearch|t(?:search|find|delete)",
            r"__ctype_(?:b|tolower|toupper)_loc|__errno_location|__assert_fail|__stack_chk_fail",
            r"_setjmp|longjmp",  # the guarded entry of GLPK
            r"_GLOBAL_OFFSET_TABLE_|_Unwind_Resume|__gxx_personality_v0|__cxa_(?:begin|end)_catch|_Znwm(?:RKSt9nothrow_t)?|_ZdlPvm?|_ZSt7nothrow|_ZT[IV]\w+|_ZSt9terminatev",
        ]
    )
)
LIBRARY_OF = {"facility": "utf8proc_", "trend": "gsl_(?:cdf|ran|rng|stats|linalg|matrix|vector|blas|multifit|sf)_?", "recipe": "glp_", "schedule": "_ZN7CaDiCaL"}

# Circles within a folder that are left, each with its reason.
CIRCLES = {
    "facility": [(["facility", "registers"], "a register's row names its own functions, which look fields up")],
}

# Exported and not yet used by the program, each with its reason.
UNUSED = {
    "no3_from_no3_n": "published factors are checked by it",
    "po4_from_po4_p": "published factors are checked by it",
    "quantity_unit": "tests try every unit there and back",
    "slope_at_rank": "published confidence ranks are checked by it",
}


def faces(floor):
    return FACES.get(floor, [floor])


class House:
    def __init__(self, top, build):
        self.top, self.breaches = top, []
        self.objects = {}  # source → (floor, deps, defined, undefined)
        for floor in FLOORS:
            for source in sorted(glob.glob(f"{top}/src/{floor}/*.c") + glob.glob(f"{top}/src/{floor}/*.cpp")):
                stem = f"{top}/{build}/" + os.path.relpath(source, top).rsplit(".", 1)[0]
                if not os.path.exists(stem + ".o"):
                    sys.exit(f"floors: no {stem}.o; build first (make)")
                self.objects[os.path.relpath(source, top)] = (floor, stem)
        self.read()

    def read(self):
        self.deps, self.defines, self.needs, self.state = {}, {}, {}, {}
        for source, (floor, stem) in self.objects.items():
            text = open(stem + ".d").read().replace("\\\n", " ")
            self.deps[source] = [os.path.normpath(w) for w in text.split("\n", 1)[0].split(":", 1)[1].split()]
        stems = [stem for _, stem in self.objects.values()]
        by_stem = {stem: source for source, (_, stem) in self.objects.items()}
        out = subprocess.run(["nm", "-A"] + [s + ".o" for s in stems], check=True, capture_output=True, text=True).stdout
        for line in out.splitlines():
            place, _, rest = line.partition(".o:")
            words = rest.split()
            source, kind, name = by_stem[place], words[-2], words[-1]
            if kind in "TDRBVW" and not name.startswith(("_Z", "DW.ref.")):
                self.defines.setdefault(source, set()).add(name)
            elif kind == "U":
                self.needs.setdefault(source, set()).add(name)
        out = subprocess.run(["size", "-A"] + [s + ".o" for s in stems], check=True, capture_output=True, text=True).stdout
        for line in out.splitlines():
            words = line.split()
            if words[1:] == [":"]:
                source = by_stem[words[0][:-2]]
            elif len(words) == 3 and re.match(r"\.(data|bss|tdata|tbss)(?!\.rel)\b", words[0]) and int(words[1]) > 0:
                self.state.setdefault(source, []).append(f"{words[1]} bytes of {words[0]}")
        self.owner = {}
        for source, names in self.defines.items():
            for name in names:
                self.owner.setdefault(name, []).append(source)

    def complain(self, words):
        self.breaches.append(words)

    def sees_only_below(self):
        for source, (floor, _) in self.objects.items():
            under = [floor] + BELOW[floor]
            may = {f"include/neap/{face}" + ("" if "." in face else ".h") for f in under for face in faces(f)}
            for dep in self.deps[source]:
                if dep.startswith("include/neap/") and dep not in may:
                    self.complain(f"{source} sees {dep}, which is not below {floor}")
                elif dep.startswith("src/") and dep.split("/")[1] != floor:
                    self.complain(f"{source} reaches into {dep}")
            for name in sorted(self.needs.get(source, ())):
                for other in self.owner.get(name, ()):
                    if self.objects[other][0] not in under:
                        self.complain(f"{source} calls {name} of {other}, which is not below {floor}")

    def libraries_have_one_owner(self):
        for header, prefix, files in OWNERS:
            for source in self.objects:
                if re.match(files, source):
                    continue
                seen = [d for d in self.deps[source] if d.endswith("/" + header) or (header.endswith("/") and "/" + header in d)]
                used = [n for n in sorted(self.needs.get(source, ())) if re.match(prefix, n) and n not in self.owner]
                if seen or used:
                    self.complain(f"{source} uses {(seen + used)[0]}, which belongs to {files}")

    def pure_floors_touch_no_world(self):
        for source, (floor, _) in self.objects.items():
            for name in sorted(self.needs.get(source, ())):
                if floor not in PURE or name in self.owner or MAY_CALL.fullmatch(name):
                    continue
                if floor not in LIBRARY_OF or not re.match(LIBRARY_OF[floor], name):
                    self.complain(f"{source} calls {name}; {floor} is pure")

    def no_state_between_calls(self):
        for source, what in self.state.items():
            if self.objects[source][0] != "cli":
                self.complain(f"{source} keeps state between calls: {', '.join(what)}")

    def names_are_exported_once_and_used(self):
        wanted = collections.Counter(n for names in self.needs.values() for n in names)
        for name, sources in sorted(self.owner.items()):
            if len(sources) > 1 and name != "main":  # cli and page are a program each
                self.complain(f"{name} is exported by {' and '.join(sources)}")
            elif wanted[name] == 0 and name != "main" and name not in UNUSED:
                self.complain(f"{sources[0]} exports {name}, which no other file of the program uses")
        for name in sorted(UNUSED):
            if name not in self.owner or wanted[name] > 0:
                self.complain(f"{name} is excused in tests/floors.py and needs no excuse")

    def circles(self, floor):
        """Strongly connected files of a folder (Tarjan 1972), as sorted tuples of their stems."""
        sources = [s for s, (f, _) in self.objects.items() if f == floor]
        calls = {s: {o for n in self.needs.get(s, ()) for o in self.owner.get(n, ()) if o != s and o in sources} for s in sources}
        index, low, stack, found = {}, {}, [], []

        def visit(v):
            index[v] = low[v] = len(index)
            stack.append(v)
            for w in sorted(calls[v]):
                if w not in index:
                    visit(w)
                    low[v] = min(low[v], low[w])
                elif w in stack:
                    low[v] = min(low[v], index[w])
            if low[v] == index[v]:
                ring = []
                while not ring or ring[-1] != v:
                    ring.append(stack.pop())
                if len(ring) > 1:
                    found.append(tuple(sorted(os.path.basename(r).rsplit(".", 1)[0] for r in ring)))

        for s in sources:
            if s not in index:
                visit(s)
        return found

    def no_circles(self):
        for floor in [f for f in FLOORS if f != "cli"]:
            named = [set(ring) for ring, _ in CIRCLES.get(floor, ())]
            found = self.circles(floor)
            for ring in found:
                if not any(set(ring) <= known for known in named):
                    self.complain(f"src/{floor}: {', '.join(ring)} call each other in a circle")
            for known in named:
                if not any(set(ring) & known for ring in found):
                    self.complain(f"src/{floor}: the circle {', '.join(sorted(known))} is excused in tests/floors.py and is gone")

    def c_files(self):
        for folder in ("src", "include", "tests"):
            for file in sorted(glob.glob(f"{self.top}/{folder}/**", recursive=True)):
                if re.search(r"\.(c|h|cpp)$", file):
                    with open(file, encoding="utf-8") as f:
                        yield os.path.relpath(file, self.top), f.read()

    def files_say_what_they_are(self):
        for file, text in self.c_files():
            if not (text.split("\n") + [""])[1].startswith("/*"):
                self.complain(f"{file} does not say in its second line what it is")

    def tags_name_one_thing(self):
        found = {}
        for file, text in self.c_files():
            for tag in re.findall(r"\b(?:struct|enum|union) ([a-z_0-9]+) {", text):
                found.setdefault(tag, []).append(file)
        for tag, files in sorted(found.items()):
            if len(files) > 1:
                self.complain(f"struct {tag} is defined in {' and in '.join(files)}; give each its own name")

    def promises_are_tested(self):
        """The numbered promises of a header, "[store 3]": each is named by a test, and a test names none that is not there."""
        number = r"\[(?:store|order) \d+\]"
        made, named = {}, {}
        for found, tops, kinds in ((made, ("include",), "h"), (named, ("tests",), "c|py|bats")):
            for top in tops:
                for file in sorted(glob.glob(f"{self.top}/{top}/**", recursive=True)):
                    if re.search(rf"\.({kinds})$", file) and not file.endswith("tests/floors.py"):
                        with open(file, encoding="utf-8") as f:
                            for promise in re.findall(number, f.read()):
                                found[promise] = os.path.relpath(file, self.top)
        for promise in sorted(made.keys() - named.keys()):
            self.complain(f"{made[promise]} promises {promise}, which no test names")
        for promise in sorted(named.keys() - made.keys()):
            self.complain(f"{named[promise]} tests {promise}, which no header promises")

    def lines_have_120_columns(self):
        for file, text in self.c_files():
            for number, line in enumerate(text.split("\n"), 1):
                if len(line) > 120 and '"' not in line:  # a text may be longer than can be broken
                    self.complain(f"{file}:{number} has {len(line)} columns; expected at most 120")

    def files_name_their_licence(self):
        for folder in ("src", "include", "tests", "tools"):
            for file in sorted(glob.glob(f"{self.top}/{folder}/**", recursive=True)):
                name = os.path.relpath(file, self.top)
                if re.search(r"\.(c|h|cpp|def|sql|py|sh|bats|bash)$", name) and not name.startswith("tests/store/") and os.path.isfile(file):
                    with open(file, encoding="utf-8") as f:
                        if "SPDX-License-Identifier: GPL-3.0-or-later" not in f.readline() + f.readline():
                            self.complain(f"{name} does not name its licence in its first two lines (SPDX-License-Identifier)")

    def check(self):
        for rule in (self.files_name_their_licence, self.files_say_what_they_are, self.tags_name_one_thing, self.lines_have_120_columns,
                     self.promises_are_tested, self.sees_only_below, self.libraries_have_one_owner, self.pure_floors_touch_no_world,
                     self.no_state_between_calls, self.names_are_exported_once_and_used, self.no_circles):
            rule()
        return self.breaches


# What is planted, all at once: file (a new one where there is none), what goes at its end, and the words of a complaint that
# nothing else of it causes.
PLANTED = [
    ("src/calc/volume.c", '#include "neap/store.h"\n', "calc/volume.c sees include/neap/store.h"),
    ("src/base/text.c", "double tank_gross(const void *, int);\ndouble up(void); double up(void) { return tank_gross(0, 0); }\n", "src/base/text.c calls tank_gross of"),
    ("src/trend/slope.c", '#include "../recipe/model.h"\n', "reaches into src/recipe/model.h"),
    ("src/plan/due.c", "#include <ccadical.h>\n", "ccadical.h, which belongs to nothing"),
    ("src/print/words.c", "#include <sqlite3.h>\n", "sqlite3.h, which belongs to src/store/"),
    ("src/week/ahead.c", "void *cJSON_CreateObject(void);\nvoid *by_hand(void); void *by_hand(void) { return cJSON_CreateObject(); }\n", "uses cJSON_CreateObject, which belongs to"),
    ("src/plan/due.c", "#include <stdio.h>\nvoid say(void); void say(void) { fprintf(stderr, \"%d\", 1); }\n", "calls fprintf; plan is pure"),
    ("src/why/why.c", "#include <stdio.h>\nvoid say_so(void); void say_so(void) { fputs(\"a\", stdout); }\n", "; why is pure"),
    ("src/trend/slope.c", "#include <time.h>\nlong now(void); long now(void) { struct timespec t; clock_gettime(CLOCK_REALTIME, &t); return t.tv_sec; }\n", "calls clock_gettime; trend is pure"),
    ("src/calc/volume.c", "static int calls;\nint count_calls(void); int count_calls(void) { return ++calls; }\n", "src/calc/volume.c keeps state between calls"),
    ("src/store/rows.c", "int kept(void); int kept(void) { static int n = 3; return n++; }\n", "src/store/rows.c keeps state between calls"),
    ("src/schedule/bound.c", "int hidden(void); int hidden(void) { static _Thread_local int n; return n++; }\n", "src/schedule/bound.c keeps state between calls"),
    ("src/calc/density.c", "double calc_convert_twice(double); double calc_convert_twice(double x) { return x; }\n", "src/calc/density.c exports calc_convert_twice, which no other file of the program uses"),
    ("src/week/report.c", "int day_weekday(int); int day_weekday(int d) { return d; }\n", "day_weekday is exported by"),
    ("src/print/silent.c", "int silent(void);\n", "src/print/silent.c does not say in its second line what it is"),
    ("src/print/words.c", "struct lp_job {\n    int left;\n};\n", "struct lp_job is defined in src/print/words.c and in src/recipe/lp.c"),
    ("src/calc/volume.c", "/* %s */\n" % ("long " * 30), "has 156 columns; expected at most 120"),
    ("include/neap/store.h", "/* [store 99] */\n", "promises [store 99], which no test names"),
    ("src/calc/check.c", "_Bool around(void); _Bool around(void) { return volume_net(1, 0, 0, 0); }\n", "check, volume call each other in a circle"),
]


def prove(top, build):
    missed = 0
    with tempfile.TemporaryDirectory() as copy:
        for folder in ("src", "include", "data", "tests"):
            shutil.copytree(f"{top}/{folder}", f"{copy}/{folder}", ignore=shutil.ignore_patterns("*.sql", "golden", "__pycache__"))
        shutil.copy(f"{top}/Makefile", copy)
        shutil.copytree(f"{top}/{build}/src", f"{copy}/{build}/src")
        shutil.copytree(f"{top}/{build}/gen", f"{copy}/{build}/gen")
        before = set(House(copy, build).check())
        for file, words, _ in PLANTED:
            with open(f"{copy}/{file}", "a") as f:
                f.write(words)
        objects = sorted({f"{build}/{file.rsplit('.', 1)[0]}.o" for file, _, _ in PLANTED if not file.endswith(".h")})
        subprocess.run(["make", "-s", "-C", copy, f"B={build}", "CFLAGS=-O0", "WARN=", *objects], check=True)
        found = [b for b in House(copy, build).check() if b not in before]
        for file, _, expected in PLANTED:
            caught = any(expected in b for b in found)
            print(f"{'ok' if caught else 'not ok'} floors: a breach planted in {file} is caught: {expected}")
            missed += not caught
    return missed


def main():
    build = sys.argv[1].rstrip("/")
    if sys.argv[2:] == ["prove"]:
        sys.exit(1 if prove(".", build) else 0)
    breaches = House(".", build).check()
    for b in breaches:
        print("floors:", b)
    if breaches:
        sys.exit(1)
    print("floors: in order\n11 checks passed")


if __name__ == "__main__":
    main()
