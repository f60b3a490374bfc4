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
import sys
import tempfile
from collections import defaultdict

from lived import FIRST, Lived
from year import WATER

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
START_LEVEL = {"racks": (12, 0.09), "tubs": (5, 0.04), "hall": (10, 0.06), "north": (8, 0.07), "south": (8, 0.07)}
BAND = {"no3": (2, 15), "po4": (0.03, 0.12)}
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


class House(Lived):
    def __init__(self, neap, folder, name, follows, seed):
        super().__init__(neap, os.path.join(folder, f"{name}-{follows}.neap"), seed)
        self.follows = follows
        self.water, self.house = FACILITIES[name]
        self.day = FIRST - datetime.timedelta(days=1)
        self.in_band = defaultdict(int)
        self.build()

    def fault(self, text):
        sys.exit(f"{self.day}: {text}")

    def build(self):
        self.run("start")
        for command in self.house:
            self.run(*command)
        for i, f in enumerate(self.rows("SELECT * FROM food ORDER BY name")):  # a shelf that never runs out: stock is another matter
            self.run("add", "lot", f"ALL-{i}", f"food={f['name']}", "amount_units=900000", f"received={self.day}", "use_by=2029-01-01")
            if f["opened_life_d"]:
                self.run("set", "food", f["name"], "opened_life_d=3000")
        self.volume = self.volumes()
        self.level = {(s, a): START_LEVEL[s][k] for s in self.water for k, a in enumerate(BAND)}
        self.effect = self.true_effects()

    def test(self):
        said = []
        for s in sorted(self.water):
            no3 = max(0.1, self.rng.gauss(self.level[s, "no3"], 0.3))
            po4 = self.rng.gauss(self.level[s, "po4"], 0.004)
            if self.follows == "house":
                no3, po4 = (sum(band) / 2 for band in BAND.values())
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
            for a in BAND:
                self.level[r["system"], a] += units * self.effect[r["food"], a][r["action"] == "broadcast"] / self.volume[r["system"]]

    def live_a_day(self):
        quarter = min(3, (self.day - FIRST).days // QUARTER_D)
        for s, (no3, po4, no3_uptake, po4_uptake, _) in self.water.items():
            for a, source, uptake in (("no3", no3, no3_uptake), ("po4", po4, po4_uptake)):
                now = self.level[s, a]
                self.level[s, a] = max(0, now + source[quarter] - uptake * now)
            within = {a: low <= self.level[s, a] <= high for a, (low, high) in BAND.items()}
            for a in BAND:
                self.in_band[s, a] += within[a]
            self.in_band[s, "both"] += all(within.values())

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
    parser.add_argument("--seeds", type=lambda text: [int(n) for n in text.split(",")], default=[1, 2, 3, 4, 5])
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
