#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Stores damaged by chance: what the commands then say of them.

usage: damage.py [--count N] [--from N] [--seed N] NEAP

A store with a planned and partly logged round is damaged, in another way each time: bits flipped, bytes written over, letters
and digits changed, pages zeroed, swapped or doubled, the end cut off, the file's head or the head of a page written over. Then
it is read, audited, backed up, and an entry taken back. Held against the sound store:
  - no command dies or goes on for ever: exit 0, 1 or 2, and nothing that a sanitizer says (use its build);
  - where `dump` gives anything else than before, `audit` does not call the store sound;
  - where `backup` calls a copy sound, the copy gives what the sound store gave.
The same seed makes the same damage. Prints a table; exit 1 where one of these does not hold, and keeps those stores.
"""
import argparse, collections, os, random, shlex, shutil, subprocess, sys, tempfile

DAY = "2026-11-27"
PAGE = 4096
ENTRIES = [
    "start",
    "add system reef sump_volume_l=100",
    "add tank R1 system=reef shape=box length_cm=100 width_cm=60 water_cm=50 fish=yes",
    "add tank R2 system=reef shape=stated net_volume_l=250",
    "add colony R1-001 tank=R1 kind='branching euphylliids' count=3 heads=4",
    "add colony R2-001 tank=R2 kind='acans and micromussids' count=4 heads=6",
    "add lot L-1 food='live phytoplankton' amount_units=2000",
    "add lot P-1 food='phosphate-lowering powder' amount_units=100",
    "test reef no3=6 po4=0.05 --at 2026-11-20T08:00",
    "water reef 50L",
    "count R1-001 1 sold",
    "undo --yes",
    "plan --effort 0.1",
    "log 1 1-3",
    "test reef no3=6.5 po4=0.06",
    "set tank R1 water_cm=48",
]
READING = ["plan --effort 0.1 --dry-run", "sheet", "why 3", "trend", "stock", "history --all", "list colony", "log 1 --show"]
FOREVER_S = 300  # an end for what would have none; nothing is judged by how long it takes


class Damaged:
    def __init__(self, neap, folder):
        self.neap, self.folder = os.path.abspath(neap), folder
        self.sound = f"{folder}/sound.neap"
        for words in ENTRIES:
            done = self.run(words, self.sound)
            if done.returncode:
                sys.exit(f"damage.py: {words}: {done.stderr}")
        self.whole = self.run("dump", self.sound).stdout
        assert self.run("audit", self.sound).returncode == 0

    def run(self, words, store):
        env = {"LC_ALL": "C", "TZ": "UTC", "NEAP_DB": store, "HOME": self.folder, "ASAN_OPTIONS": "detect_leaks=0",
               "UBSAN_OPTIONS": "print_stacktrace=1"}
        try:
            return subprocess.run([self.neap, "--on", DAY, *shlex.split(words)], env=env, stdin=subprocess.DEVNULL,
                                  capture_output=True, text=True, errors="replace", timeout=FOREVER_S)
        except subprocess.TimeoutExpired:
            return subprocess.CompletedProcess(words, 124, "", "went on for ever")


def pages(b):
    return len(b) // PAGE


def flip(b, chance):
    for _ in range(chance.randrange(1, 9)):
        b[chance.randrange(len(b))] ^= 1 << chance.randrange(8)


def write_over(b, chance):
    at, n = chance.randrange(len(b)), chance.randrange(1, 200)
    b[at:at + n] = bytes(chance.randrange(256) for _ in range(len(b[at:at + n])))


def text_changed(b, chance):
    """A digit or letter where one was: what no form of the file notices."""
    for _ in range(2000):
        at = chance.randrange(len(b))
        if chr(b[at]).isalnum() and b[at] < 128:
            b[at] = ord("7" if chr(b[at]).isdigit() and b[at] != ord("7") else "3" if chr(b[at]).isdigit() else "q")
            return


def zero_page(b, chance):
    at = PAGE * chance.randrange(pages(b))
    b[at:at + PAGE] = bytes(PAGE)


def swap_pages(b, chance):
    p, q = (PAGE * chance.randrange(pages(b)) for _ in range(2))
    b[p:p + PAGE], b[q:q + PAGE] = b[q:q + PAGE], b[p:p + PAGE]


def double_page(b, chance):
    p, q = (PAGE * chance.randrange(pages(b)) for _ in range(2))
    b[p:p + PAGE] = b[q:q + PAGE]


def cut_off(b, chance):
    del b[chance.randrange(len(b)):]


def head(b, chance):
    for _ in range(chance.randrange(1, 4)):
        b[chance.randrange(100)] = chance.randrange(256)


def cell_pointers(b, chance):
    p = PAGE * chance.randrange(pages(b)) + (100 if chance.random() < 0.05 else 0)
    for _ in range(chance.randrange(1, 4)):
        b[p + chance.randrange(64)] = chance.randrange(256)


DAMAGES = [flip, write_over, text_changed, zero_page, swap_pages, double_page, cut_off, head, cell_pointers]


def try_one(d, n, damage, chance, counts):
    store, copy = f"{d.folder}/run.neap", f"{d.folder}/copy.neap"
    for name in os.listdir(d.folder):
        if name.startswith(("run.neap", "copy.neap")):
            os.remove(f"{d.folder}/{name}")
    b = bytearray(open(d.sound, "rb").read())
    damage(b, chance)
    with open(store, "wb") as f:
        f.write(b)
    shutil.copy(store, f"{d.folder}/run.neap.kept")
    wrong = []

    def told(words, at=store):
        done = d.run(words, at)
        if done.returncode not in (0, 1, 2) or "Sanitizer" in done.stderr or "runtime error" in done.stderr:
            wrong.append(f"{words}: exit {done.returncode}: {done.stderr[:3000]}")
        return done

    dumped, audit = told("dump"), told("audit")
    for words in READING:
        told(words)
    same = dumped.returncode == 0 and dumped.stdout == d.whole
    if not same and audit.returncode == 0:
        wrong.append(f"audit: {audit.stdout}, and dump differs")
    backup = told(f"backup {copy}")
    if backup.returncode == 0 and "sound copy" in backup.stdout and told("dump", copy).stdout != d.whole:
        wrong.append(f"backup: {backup.stdout}, and the copy differs")
    left = [name for name in os.listdir(d.folder) if ".part" in name]
    if left:
        wrong.append(f"backup left {left}")
    told("undo --yes")
    told("audit")
    counts["refused, or not to be read" if dumped.returncode else "read as before" if same else "read otherwise"] += 1
    counts["called sound" if audit.returncode == 0 else "not sound"] += 1
    if wrong:
        kept = f"damaged-{n}.neap"
        shutil.copy(f"{d.folder}/run.neap.kept", kept)
        print(f"not ok {n}, {damage.__name__} (kept as {kept}):", *wrong, sep="\n  ", flush=True)
    return not wrong


def main():
    p = argparse.ArgumentParser()
    p.add_argument("neap"), p.add_argument("--count", type=int, default=321), p.add_argument("--seed", type=int, default=1)
    p.add_argument("--from", type=int, default=0, dest="first")
    given = p.parse_args()
    table = collections.defaultdict(collections.Counter)
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        d = Damaged(given.neap, folder)
        for n in range(given.first, given.count):
            damage = DAMAGES[n % len(DAMAGES)]
            bad += not try_one(d, n, damage, random.Random(f"{given.seed} {n}"), table[damage.__name__])
    columns = ["read as before", "read otherwise", "refused, or not to be read", "called sound", "not sound"]
    print(f"{'damage':14}" + "".join(f"{c:>28}" for c in columns))
    for name, counts in table.items():
        print(f"{name:14}" + "".join(f"{counts[c]:28}" for c in columns))
    print(f"{given.count - given.first} stores, seed {given.seed}: {bad} with something wrong")
    print(f"{given.count - given.first - bad} checks passed")
    return bad > 0


sys.exit(main())
