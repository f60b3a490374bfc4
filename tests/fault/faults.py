#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""[store 2] Fails one write, sync or allocation of a command after another, until a run meets no fault any more.

usage: faults.py short|long NEAP [COMMAND…]     COMMAND: of those below, no others

Every command that stores is tried: those whose help names --dry-run, as the program lists them, and start; one that has no line
in COMMANDS below fails the test. Syncs fail at every point there is. So do writes; short: each of the first 40, which is all that
most commands have, then every seventh. Allocations: short, at the 1st, 3rd, 7th, 15th …; long, at each of the first 200, then every
twentieth part further; a load is then of so many rows that its entry has parts. Each time: exit 0 and what was to be stored is
there; or exit 1 with a message, and the store as it was. Never a crash, a store that is half written, or a file left beside it.
"""
import glob
import hashlib
import os
import re
import shlex
import shutil
import sqlite3
import subprocess
import sys
import tempfile

DAY = "2026-11-27"
# What is in the store before each command, and the command. {copy}: a name where nothing is; {backup}: a backup.
BASE = [
    "start",
    "add system reef sump_volume_l=100",
    "add tank R1 system=reef shape=box length_cm=100 width_cm=60 water_cm=50",
    "add tank R2 system=reef shape=stated net_volume_l=250",
    "add colony R1-001 tank=R1 kind='branching euphylliids' count=3 heads=4",
    "add colony R2-001 tank=R2 kind='acans and micromussids' count=4 heads=6",
    "add lot P-1 food='phosphate-lowering powder' amount_units=100",
    "test reef no3=6 po4=0.05",
    "hold tank R2 --reason dipped --until 2026-12-20",
]
PLANNED = BASE + ["release tank R2", "plan --effort 0.1"]
COMMANDS = {
    "start": ([], "start"),
    "plan": (BASE, "plan --effort 0.1"),
    "log": (PLANNED, "log 1 --all"),
    "test": (BASE, "test reef no3=7 po4=0.06 --at 2026-11-27T09:00"),
    "water": (BASE, "water reef 50L"),
    "stock": (BASE, "stock --waste P-1=5g --reason spilt"),
    "count": (BASE, "count R1-001 1 sold"),
    "move": (BASE, "move R2-001 2 to R1"),
    "split": (BASE, "split R2-001 2"),
    "treat": (BASE, "treat R1-001 'iodine dip' --minutes 10"),
    "load": (BASE, "load {tables}"),
    "add": (BASE, "add tank R3 system=reef shape=stated net_volume_l=50"),
    "set": (BASE, "set tank R1 water_cm=48"),
    "retire": (BASE, "retire lot P-1"),
    "hold": (BASE, "hold colony R1-001 --reason cut"),
    "release": (BASE, "release tank R2"),
    "undo": (BASE, "undo --yes"),
    "redo": (BASE + ["undo --yes"], "redo --yes"),
    "backup": (BASE, "backup {copy}"),
    "restore": ([], "restore {backup}"),
    "upgrade": (["older"], "test reef no3=7 po4=0.06 --at 2026-11-27T09:00"),  # what any writing command does to an older store
}
OLDER = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../store/9.sql")


class Faults:
    def __init__(self, mode, neap, folder):
        self.mode, self.neap, self.folder = mode, neap, folder
        self.checks, self.bad, self.bases, self.states = 0, 0, {}, {}
        self.preload = folder + "/failing.so"
        source = os.path.join(os.path.dirname(os.path.abspath(__file__)), "failing.c")
        subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", self.preload, source, "-ldl"], check=True)
        self.names = {
            "copy": folder + "/copy.neap",
            "backup": folder + "/backup.neap",
            "tables": folder + "/tables",
        }
        os.mkdir(self.names["tables"])
        with open(self.names["tables"] + "/tank.csv", "w") as f:
            rows = 40 if mode == "short" else 5000
            f.write("name,system,shape,net_volume_l\n" + "".join(f"T{i},reef,stated,{50 + i}\n" for i in range(rows)))
        self.run("backup {backup}", self.base(BASE))

    def run(self, words, store, fail=None):
        env = {"LC_ALL": "C", "TZ": "UTC", "NEAP_DB": store, "HOME": self.folder}
        if fail:
            env |= {"FAIL": fail, "FAIL_MARK": self.folder + "/mark", "LD_PRELOAD": self.preload}
        args = shlex.split(words.format(**self.names))
        return subprocess.run([self.neap, "--on", DAY, *args], env=env, stdin=subprocess.DEVNULL, capture_output=True)

    def base(self, lines):
        """A store in one file, by these commands; made once."""
        key = tuple(lines)
        if key not in self.bases:
            store = f"{self.folder}/base{len(self.bases)}.neap"
            if lines == ["older"]:
                with sqlite3.connect(store) as db:
                    db.executescript(open(OLDER).read())
                db.close()
                lines = []
            for line in lines:
                done = self.run(line, store)
                if done.returncode:
                    sys.exit(f"faults.py: {line}: {done.stderr.decode()}")
            self.bases[key] = store
        return self.bases[key]

    def fail(self, text):
        self.bad += 1
        print("not ok:", text)

    def state(self, store):
        """Number of entries; or what is wrong; or None where no store is. Asked once of the same bytes: most are as they were."""
        if not os.path.exists(store):
            return None
        if os.path.exists(store + "-wal") or os.path.exists(store + "-journal"):
            return self.state_of(store)
        with open(store, "rb") as f:
            key = hashlib.sha256(f.read()).digest()
        if key not in self.states:
            self.states[key] = self.state_of(store)
        return self.states[key]

    def state_of(self, store):
        try:
            with sqlite3.connect(store) as db:
                whole = db.execute("PRAGMA integrity_check").fetchall()
                loose = db.execute("PRAGMA foreign_key_check").fetchall()
                n = db.execute("SELECT count(*) FROM entry").fetchone()[0]
            db.close()
        except sqlite3.Error as e:
            return f"not readable: {e}"
        return n if whole == [("ok",)] and not loose else f"not whole: {whole[:2]} {loose[:2]}"

    def clear(self, lines):
        for name in os.listdir(self.folder):
            if name.startswith(("run.neap", "copy.neap", "mark")):
                os.remove(os.path.join(self.folder, name))
        if lines:
            shutil.copy(self.base(lines), self.folder + "/run.neap")

    def left(self):
        left = [n for n in os.listdir(self.folder) if ".part" in n or n.endswith("-journal")]
        return sorted(left) + self.kept_wrongly()

    def kept_wrongly(self):
        """The copy of an older store: whole where that was brought up to date, not there where it was not."""
        kept = glob.glob(self.folder + "/run.neap.version-*")
        if not kept:
            return []
        older = [self.version(name) for name in kept]
        if self.version(self.folder + "/run.neap") in older or len(kept) > 1:
            return kept
        return [name for name in kept if not isinstance(self.state(name), int)]

    def version(self, store):
        if not os.path.exists(store):
            return None
        with sqlite3.connect(store) as db:
            version = db.execute("PRAGMA user_version").fetchone()[0]
        db.close()
        return version

    def once(self, command, fail=None):
        """Runs it on a fresh store: exit status, states of store and copy, message."""
        lines, words = COMMANDS[command]
        self.clear(lines)
        done = self.run(words, self.folder + "/run.neap", fail)
        return done, self.state(self.folder + "/run.neap"), self.state(self.names["copy"])

    def try_all(self, command, what):
        lines, words = COMMANDS[command]
        before = self.state(self.base(lines)) if lines else None
        done, after, copy = self.once(command)
        if done.returncode or (after == before and copy is None):
            return self.fail(f"{words}: does not store: {done.stderr.decode()}")
        n, tried = 0, 0
        while True:
            n, tried = self.next(n, what), tried + 1
            done, now, made = self.once(command, f"{what}:{n}")
            met = os.path.exists(self.folder + "/mark")
            want = (after, copy) if done.returncode == 0 else (before, None)
            said = f"{what} {n} of {words}: exit {done.returncode}"
            if done.returncode not in (0, 1):
                self.fail(f"{said}: {done.stderr.decode()[:200]}")
            elif done.returncode == 1 and not done.stderr:
                self.fail(f"{said} without a message")
            elif (now, made) != want:
                self.fail(f"{said}: {now}, {made}; expected {want}: {done.stderr.decode()[:200]}")
            elif self.left():
                self.fail(f"{said}: left {self.left()}")
            if not met:
                break
        self.checks += tried
        print(f"{what}: {words}: {tried} up to {n}", flush=True)

    def next(self, n, what):
        short = self.mode == "short"
        if what == "alloc":
            return n * 2 + 1 if short else n + 1 if n < 200 else n + n // 20
        return n + 7 if short and what == "write" and n >= 40 else n + 1

    def listed(self):
        """The commands that store, by what the program says of itself."""
        help_all = subprocess.run([self.neap, "--help"], capture_output=True, text=True).stdout
        for name in re.findall(r"^  ([a-z]+)  ", help_all, re.M):
            page = subprocess.run([self.neap, "help", name], capture_output=True, text=True).stdout
            if "--dry-run" in page or name == "start":
                yield name


def main():
    only = sys.argv[3:] or list(COMMANDS)
    if len(sys.argv) < 3 or sys.argv[1] not in ("short", "long") or not set(only) <= set(COMMANDS):
        sys.exit(__doc__)
    with tempfile.TemporaryDirectory() as folder:
        faults = Faults(sys.argv[1], os.path.abspath(sys.argv[2]), folder)
        listed = list(faults.listed())
        for name in listed + ["upgrade"]:
            if name not in COMMANDS:
                faults.fail(f"{name} stores, and COMMANDS has no line for it")
                continue
            for what in ("write", "sync", "alloc"):
                if name in only:
                    faults.try_all(name, what)
        if "upgrade" in only and not glob.glob(folder + "/run.neap.version-*"):
            faults.fail("no copy was kept of the older store")
        if len(listed) < 15:
            faults.fail(f"only {listed} store, by the help")
    if faults.bad:
        print(f"{faults.bad} faults not met")
        return 1
    print(f"{faults.checks} checks passed")
    return 0


sys.exit(main())
