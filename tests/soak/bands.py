#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A year of three facilities, fed by the advice and by the house blend: days on which nitrate and phosphate are in their bands.

usage: bands.py [--weeks N] [--seeds N,N…] [--only FACILITY] NEAP

Each facility lives the same year twice, with the same water, test errors, water changes and corals: once the tests are entered
as they are read, once a level in the middle of the band is entered whatever the water does, which is to feed the house blend at
house strength. All through the command line; all food that is planned is given. The water is the model below, which neap
does not know. Another seed is another year: other labels, other test errors. Prints the mean over the seeds, with the least and the most
where they differ. Exit 0: over all waters and years nitrate and phosphate are in their bands on more days by the advice; 1: they
are not, or a command failed; 2: misuse.
"""
import argparse
import datetime
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
from collections import defaultdict

from year import NO3_OF_N, PO4_OF_P, WATER, net_volume_l

FIRST = datetime.date(2026, 11, 27)
QUARTER_D = 91
LOSS = 1.05  # what is lost beside the mouths is in the water too

# dL/dt = source - uptake x L a day, plus what the food truly does; a water change thins. Per water: sources of nitrate and
# phosphate by quarter, mg/L a day; uptake of each, of the level a day; changed a week. All invented, before any result was seen.
SHOP = {
    "racks": ((0.55, 0.35, 0.20, 0.50), (0.0040, 0.0030, 0.0010, 0.0040), 0.030, 0.040, 0.10),  # crowded, turns with sales
    "tubs": ((0.10, 0.10, 0.10, 0.10), (0.0000, 0.0000, 0.0000, 0.0000), 0.020, 0.100, 0.05),  # takes up phosphate
}
DISPLAY = {
    "hall": ((0.30, 0.45, 0.30, 0.15), (0.0030, 0.0060, 0.0030, 0.0010), 0.025, 0.050, 0.05),  # turns with the season
}
NURSERY = {s: WATER[s] for s in ("north", "south")}  # the year's waters that drift out at the top, and that starve
START_LEVEL = {"racks": (12, 0.09), "tubs": (5, 0.04), "hall": (10, 0.06)}
SHOP_HOUSE = [
    ["add", "system", "racks", "test_every_d=4"], ["add", "system", "tubs", "test_every_d=4"],
    *[["add", "tank", f"R{i}", "system=racks", "shape=box", "length_cm=120", "width_cm=80", "water_cm=30"] for i in (1, 2, 3)],
    *[["add", "tank", f"T{i}", "system=tubs", "shape=box", "length_cm=100", "width_cm=60", "water_cm=30"] for i in (1, 2)],
    *[["add", "colony", f"R{i}-1", f"tank=R{i}", "kind=acans and micromussids", "count=16", "heads=5"] for i in (1, 2, 3)],
    *[["add", "colony", f"T{i}-1", f"tank=T{i}", "kind=zoanthids", "count=12", "heads=20"] for i in (1, 2)],
]
NURSERY_HOUSE = [
    ["add", "system", "north", "test_every_d=4"], ["add", "system", "south", "test_every_d=4"],
    *[["add", "tank", f"N{i}", "system=north", "shape=box", "length_cm=200", "width_cm=80", "water_cm=35"] for i in (1, 2)],
    *[["add", "tank", f"S{i}", "system=south", "shape=box", "length_cm=200", "width_cm=80", "water_cm=35"] for i in (1, 2)],
    *[["add", "colony", f"{t}-1", f"tank={t}", "kind=acans and micromussids", "count=30", "heads=5"] for t in ("N1", "N2")],
    *[["add", "colony", f"{t}-1", f"tank={t}", "kind=blastomussa", "count=30", "heads=6"] for t in ("S1", "S2")],
]
DISPLAY_HOUSE = [
    ["add", "system", "hall", "test_every_d=4"],
    ["add", "tank", "H", "system=hall", "shape=box", "length_cm=500", "width_cm=150", "water_cm=80", "fish=yes"],
    ["add", "colony", "H-1", "tank=H", "kind=acans and micromussids", "count=60", "heads=8"],
    ["add", "colony", "H-2", "tank=H", "kind=sun corals", "count=20", "heads=10"],
]
FACILITIES = {"nursery": (NURSERY, NURSERY_HOUSE), "shop": (SHOP, SHOP_HOUSE), "display": (DISPLAY, DISPLAY_HOUSE)}


class House:
    def __init__(self, neap, folder, name, follows, seed):
        self.neap, self.follows = neap, follows
        self.store = os.path.join(folder, f"{name}-{follows}.neap")
        self.water, self.house = FACILITIES[name]
        self.rng = random.Random(seed)
        self.day = FIRST - datetime.timedelta(days=1)
        self.in_band = defaultdict(int)
        self.days, self.strengths = 0, []
        self.build()

    def run(self, *args, at=None):
        done = subprocess.run([self.neap, "--db", self.store, "--on", at or self.day.isoformat(), *args],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True)
        if done.returncode != 0:
            sys.exit(f"{self.day}: {' '.join(args)[:200]}: {(done.stderr or done.stdout).strip()[:300]}")

    def rows(self, query, *values):
        db = sqlite3.connect(f"file:{self.store}?mode=ro", uri=True)
        db.row_factory = sqlite3.Row
        found = db.execute(query, values).fetchall()
        db.close()
        return found

    def build(self):
        self.run("start")
        for command in self.house:
            self.run(*command)
        self.food = {r["name"]: r for r in self.rows("SELECT * FROM food")}
        for i, f in enumerate(sorted(self.food)):  # a shelf that never runs out: stock is another matter
            self.run("add", "lot", f"ALL-{i}", f"food={f}", "amount_units=900000", f"received={self.day}", "use_by=2029-01-01")
            if self.food[f]["opened_life_d"]:
                self.run("set", "food", f, "opened_life_d=3000")
        self.tank = {r["name"]: r for r in self.rows("SELECT * FROM tank")}
        self.volume = defaultdict(float)
        for t in self.tank.values():
            self.volume[t["system"]] += net_volume_l(t)
        for s in self.rows("SELECT * FROM system"):
            self.volume[s["name"]] += s["sump_volume_l"] or 0
        self.band, self.level = {}, {}
        for s in self.water:
            for k, a in enumerate(("no3", "po4")):
                own = self.rows("SELECT low, high FROM band WHERE system = ? AND analyte = ?", s, a)
                self.band[s, a] = (own[0]["low"], own[0]["high"]) if own else ((2, 15), (0.03, 0.12))[k]
                last = self.rows("SELECT value, below FROM live_test WHERE system = ? AND analyte = ? ORDER BY taken DESC "
                                 "LIMIT 1", s, a)
                self.level[s, a] = (last[0]["value"] / (2 if last[0]["below"] else 1) if last
                                    else START_LEVEL.get(s, (8, 0.07))[k])
        for name in sorted(self.food):  # labels are wrong by up to 0.4
            f = self.food[name]
            n = (f["n_mg_per_unit"] or 0) * NO3_OF_N * self.rng.uniform(0.6, 1.4)
            p = (f["p_mg_per_unit"] or 0) * PO4_OF_P * self.rng.uniform(0.6, 1.4)
            self.food[name] = {"no3": (n * 0.6, n * 0.8), "po4": (p * 0.5, p * 0.7)}

    def test(self):
        said = []
        for s in sorted(self.water):
            no3 = max(0.1, self.rng.gauss(self.level[s, "no3"], 0.3))
            po4 = self.rng.gauss(self.level[s, "po4"], 0.004)
            if self.follows == "house":
                no3, po4 = (sum(self.band[s, a]) / 2 for a in ("no3", "po4"))
            said += [s, f"no3={no3:.1f}", f"po4=below0.02" if round(po4, 2) < 0.02 else f"po4={po4:.2f}"]
        self.run("test", *said, at=f"{self.day}T07:00")

    def feed(self):
        self.run("plan", "--effort", "0.1")
        number = self.rows("SELECT max(number) AS n FROM round")[0]["n"]
        if not self.rows("SELECT 1 FROM line WHERE round = ?", number):
            return
        self.run("log", str(number), "--all")
        for r in self.rows("SELECT u.*, tank.system FROM lot_use u JOIN tank ON tank.name = u.tank WHERE u.round = ?", number):
            units = r["units"] * (LOSS if r["action"] == "target" else 1)
            for a in ("no3", "po4"):
                self.level[r["system"], a] += units * self.food[r["food"]][a][r["action"] == "broadcast"] / self.volume[r["system"]]

    def live_a_day(self):
        quarter = min(3, (self.day - FIRST).days // QUARTER_D)
        self.days += 1
        for s, (no3, po4, no3_uptake, po4_uptake, _) in self.water.items():
            for a, source, uptake in (("no3", no3, no3_uptake), ("po4", po4, po4_uptake)):
                now = self.level[s, a]
                self.level[s, a] = max(0, now + source[quarter] - uptake * now)
                low, high = self.band[s, a]
                self.in_band[s, a] += low <= self.level[s, a] <= high
            self.in_band[s, "both"] += all(self.band[s, a][0] <= self.level[s, a] <= self.band[s, a][1] for a in ("no3", "po4"))

    def live(self, weeks):
        for n in range(weeks * 7):
            self.day = FIRST + datetime.timedelta(days=n)
            weekday = self.day.weekday()
            if weekday in (0, 3):
                self.test()
            if weekday in (0, 2, 4):
                self.feed()
            if weekday == 5:
                for s in sorted(self.water):
                    part = self.water[s][4]
                    self.run("water", s, f"{self.volume[s] * part:.0f}L", at=f"{self.day}T15:00")
                    for a in ("no3", "po4"):
                        self.level[s, a] *= 1 - part
            self.live_a_day()


def years_of(args, name):
    """One year for each seed, fed by the advice and by the house blend."""
    with tempfile.TemporaryDirectory() as folder:
        for seed in args.seeds:
            year = {}
            for follows in ("advice", "house"):
                year[follows] = House(args.neap, folder, name, follows, seed)
                year[follows].live(args.weeks)
                os.remove(year[follows].store)
            yield year


def told(days):
    mean = sum(days) / len(days)
    return f"{mean:.0f}" if min(days) == max(days) else f"{mean:.0f} ({min(days)}-{max(days)})"


def main(argv):
    parser = argparse.ArgumentParser(usage=__doc__)
    parser.add_argument("--weeks", type=int, default=52)
    parser.add_argument("--seeds", type=lambda text: [int(n) for n in text.split(",")], default=[1, 2])
    parser.add_argument("--only", choices=FACILITIES)
    parser.add_argument("neap")
    args = parser.parse_args(argv)
    total = defaultdict(int)
    print(f"days in the band of {args.weeks * 7}, advice / house blend, seeds {', '.join(map(str, args.seeds))}")
    print(f"{'facility':9} {'water':6} {'nitrate':33} {'phosphate':33} both")
    for name in [args.only] if args.only else FACILITIES:
        years = list(years_of(args, name))
        for s in sorted(FACILITIES[name][0]):
            cells = []
            for a in ("no3", "po4", "both"):
                by = {follows: [year[follows].in_band[s, a] for year in years] for follows in ("advice", "house")}
                cells.append(f"{told(by['advice'])} / {told(by['house'])}")
                for follows in by:
                    total[follows, a] += sum(by[follows])
            print(f"{name:9} {s:6} {cells[0]:33} {cells[1]:33} {cells[2]}", flush=True)
    cells = [f"{total['advice', a]} / {total['house', a]}" for a in ("no3", "po4", "both")]
    print(f"{'all':16} {cells[0]:33} {cells[1]:33} {cells[2]}")
    return 0 if all(total["advice", a] > total["house", a] for a in ("no3", "po4")) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
