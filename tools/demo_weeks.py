#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Writes data/demo/weeks: ten weeks of the demo facility's book, up to the evening before its first morning.

usage: demo_weeks.py [--keep FILE] NEAP

The facility of data/demo lives them through the program's own commands: rounds on Monday, Wednesday and Friday, logged with
their exceptions, tests and water changes on the days that data/demo/begun has them, corals sold, lost and delivered, lots
bought as `neap stock` asks. The water is the model below, which neap does not know; water, shop and story are invented. What
the commands left in the ledgers is dumped as the registers' own files; cautions and switchings of past rounds are left out.
Same seed, same bytes. Exit 0: written; 1: a command failed, or the corals are not those of data/demo at the end.
"""
import argparse
import csv
import datetime
import json
import os
import pathlib
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(TOP / "tests" / "soak"))
from year import KEEPS_D, Year  # noqa: E402

SEED = 11
MORNING = datetime.date(2026, 11, 27)
FIRST = MORNING - datetime.timedelta(days=70)
DEMO = TOP / "data" / "demo"
KEPT = ["lot", "test", "water", "round", "pot", "pot_food", "line", "waiting", "given", "extra", "mixed", "crew", "remark",
        "treatment", "waste", "tally"]

# A water: nitrate and phosphate at the beginning and what comes into it a day beside the food, mg/L, before and after the
# change of the year's weather on day TURN; the part of the level that is taken up a day.
TURN = 40
WATER = {
    "north": (8.5, 0.070, (0.15, 0.52), (0.0004, 0.0048), 0.012, 0.020),
    "south": (5.5, 0.070, (0.08, 0.08), (-0.0010, -0.0120), 0.022, 0.110),
    "display": (5.5, 0.055, (0.06, 0.06), (0.0000, 0.0000), 0.024, 0.045),
    "west": (6.0, 0.075, (0.06, 0.06), (0.0006, 0.0006), 0.022, 0.035),
    "east": (6.0, 0.055, (0.12, 0.44), (0.0000, 0.0000), 0.014, 0.060),
    "quarantine": (7.0, 0.060, (0.28, 0.28), (0.0024, 0.0024), 0.025, 0.025),
}
# What a food truly leaves in the water, as a multiple of its label's word: the rich powder twice the phosphate. The story of
# these weeks is that the book finds it out, since there were weeks without it.
TRUE_TIMES = {("amino-acid liquid", "no3"): 1.2, ("rich powder", "no3"): 1.1, ("rich powder", "po4"): 2.0}
TRUE_PHYTO_PO4 = -0.02  # mg/mL

LOTS = """code,food,amount_units,received,opened,use_by,price_cents,note
AA-27,amino-acid liquid,6000,2026-09-08,2026-09-11,2027-04-30,22000,
AP-08,algal paste,250,2026-09-01,2026-09-21,2027-01-31,2900,
CP-19,copepods,600,2026-08-18,2026-09-02,2027-02-28,5400,"freezer 2, second drawer"
LP-0916,live phytoplankton,10000,2026-09-16,,2026-10-07,12000,
MK-16,minced krill,1500,2026-08-18,2026-09-04,2027-02-28,4600,"freezer 2, first drawer"
OE-22,oyster-egg liquid,250,2026-08-11,2026-09-03,2026-11-15,3600,
PL-58,phosphate-lowering powder,200,2026-09-01,2026-09-14,2027-08-31,4900,
RP-113,rich powder,30,2026-06-16,2026-07-06,2027-05-31,760,what was left when the book was begun
SA-07,strong amino-acid liquid,160,2026-05-19,2026-06-01,2027-03-31,4200,open for half a year
SP-12,soft pellet,300,2026-09-15,2026-09-17,2027-06-30,2500,
WM-39,whole mysid,2000,2026-09-01,2026-09-07,2027-04-30,6000,"freezer 2, first drawer"
"""
CODES = {"amino-acid liquid": "AA", "algal paste": "AP", "copepods": "CP", "live phytoplankton": "LP", "minced krill": "MK",
         "oyster-egg liquid": "OE", "phosphate-lowering powder": "PL", "rich powder": "RP", "strong amino-acid liquid": "SA",
         "soft pellet": "SP", "whole mysid": "WM", "brine shrimp nauplii": "BN", "rotifers": "RO"}
# Days from FIRST without deliveries: the grower of live phytoplankton had none, and rich powder was sold out. A tub of it fell
# into the sink on day TUB_LOST.
NOT_DELIVERED = {"live phytoplankton": ((47, 53),), "rich powder": ((8, 30), (43, 57))}
TUB_LOST = 42
MORE_TESTS = ("display", "east")  # on Mondays, too
NOT_BOUGHT = {"strong amino-acid liquid", "algal paste", "brine shrimp nauplii", "rotifers"}
HELD_ON = datetime.date(2026, 11, 23)
REMARKS = {5: "display: a parrot of a customer in the front shop; everything shut for ten minutes",
           12: "west: return pump stood from 06:30 to 07:10, breaker; all well",
           19: "north: skimmer cup overflowed in the night, emptied",
           26: "new feeder on list 2, shown round by JK"}


def table(path):
    with open(path, encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def write_table(path, names, rows):
    with open(path, "w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, names, extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


class Weeks(Year):
    def __init__(self, neap, store, folder):
        super().__init__(neap, store, SEED, constant=False)
        self.folder, self.day = folder, FIRST
        self.colonies = table(DEMO / "colony.csv")
        self.tests = table(DEMO / "begun" / "test.csv")
        self.changes = table(DEMO / "begun" / "water.csv")
        self.lots = list(csv.DictReader(LOTS.splitlines()))
        self.number_of = {lot["code"][:2]: int(lot["code"][3:]) for lot in self.lots}
        self.sales = self.story_of_corals()

    def load(self, name, rows):
        path = os.path.join(self.folder, name)
        write_table(path, rows[0].keys(), rows)
        self.run("load", path)

    def story_of_corals(self):
        """(day, code, how many, why): decided first, so that what is left at the end is what data/demo has."""
        story, rng = [], self.rng
        stay = [c for c in self.colonies if int(c["count"] or 1) >= 5 and (c["arrived"] or "") < "2026-09-01"]
        for n in range(1, 70):
            day = FIRST + datetime.timedelta(days=n)
            if day.weekday() in (3, 5):
                for c in rng.sample(stay, 5 if day.weekday() == 5 else 2):
                    story.append((day, c["code"], rng.randint(1, 4), "sold"))
            if n in (16, 33, 51, 64):
                story.append((day, rng.choice(stay)["code"], 1, "died"))
            if n in (24, 58):
                story.append((day, rng.choice(stay)["code"], 2, "divided"))
        return story

    def begin(self):
        self.run("start")
        for name in ("system", "band", "switch", "setting"):
            self.run("load", str(DEMO / f"{name}.csv"))
        self.load("tank.csv", [{**t, "hold_reason": "", "hold_until": ""} for t in table(DEMO / "tank.csv")])
        self.load("lot.csv", self.lots)
        here = []
        for c in self.colonies:
            if (c["arrived"] or "") > FIRST.isoformat():
                continue
            later = sum(-n if why == "divided" else n for _, code, n, why in self.sales if code == c["code"])
            before = (FIRST - datetime.timedelta(days=self.rng.randint(1, 4))).isoformat() if c["fed_before"] else ""
            here.append({**c, "count": int(c["count"] or 1) + later, "fed_before": before, "hold_reason": "",
                         "hold_until": ""})
        self.load("colony.csv", here)
        self.fill()
        for s, (no3, po4, *_) in WATER.items():
            self.level[s, "no3"], self.level[s, "po4"] = no3, po4
        for (food, a), times in TRUE_TIMES.items():
            f = self.food[food]
            full = (f["n_mg_per_unit"] * 4.427 if a == "no3" else f["p_mg_per_unit"] * 3.066) * times
            self.effect[food, a] = (full * 0.6, full * 0.8)
        self.effect["live phytoplankton", "po4"] = (TRUE_PHYTO_PO4, TRUE_PHYTO_PO4)

    def live_a_day(self):
        late = (self.day - FIRST).days >= TURN
        for s, (_, _, no3, po4, no3_uptake, po4_uptake) in WATER.items():
            for a, source, uptake in (("no3", no3, no3_uptake), ("po4", po4, po4_uptake)):
                now = self.level[s, a]
                self.level[s, a] = max(0.002, now + source[late] - uptake * now)

    # ---- a day -----------------------------------------------------------------------------------------------------

    def deliveries(self):
        new = [c for c in self.colonies if c["arrived"] == self.day.isoformat()]
        if new:
            self.load("colony.csv", [{**c, "hold_reason": "", "hold_until": ""} for c in new])
        for tank in sorted({c["tank"] for c in new} & {"Q1", "Q2"}):
            self.run("treat", tank, "iodine dip on arrival", "--minutes", "10", at=f"{self.day}T15:30")
        if self.day == HELD_ON:
            self.run("load", str(DEMO / "tank.csv"))
            self.load("colony.csv", [c for c in self.colonies if c["arrived"] <= self.day.isoformat()
                                     and c["hold_reason"]])

    def counts(self):
        for day, code, n, why in self.sales:
            if day == self.day:
                self.run("count", code, str(n), why, at=f"{day}T16:30")

    def readings(self):
        """The day's tests of data/demo/begun, with what this water has; what only a shop knows stays as it is."""
        today = [dict(t) for t in self.tests if t["taken"][:10] == self.day.isoformat()]
        if self.day.weekday() == 0:
            today += [{**t, "taken": f"{self.day}T07:{40 + n:02}", "value": "", "below": "", "note": "", "repeat": ""}
                      for n, t in enumerate(t for t in self.tests[:15] if t["analyte"] in ("no3", "po4")
                                            and t["system"] in MORE_TESTS)]
        for t in today:
            level = self.level.get((t["system"], t["analyte"]))
            if level is None:
                continue
            if t["analyte"] == "no3":
                value = max(0.5, self.rng.gauss(level, 0.25))
                t["value"] = f"{round(value * 2) / 2 if value < 10 else round(value):g}"
            else:
                value = round(self.rng.gauss(level, 0.002), 3)
                t["below"] = "yes" if value < 0.02 else ""
                t["value"] = f"{max(value, 0.02):g}"
        if today:
            self.load("test.csv", today)

    def change(self):
        today = [c for c in self.changes if c["exchanged"][:10] == self.day.isoformat()]
        for c in today:
            share = float(c["volume_l"]) / self.volume[c["system"]]
            for a, new in (("no3", 0.2), ("po4", 0.0)):
                self.level[c["system"], a] += share * (new - self.level[c["system"], a])
        if today:
            self.load("water.csv", today)

    def log(self, number, lines):
        rng, said = self.rng, {}
        target = [r for r in lines if r["action"] == "target"]
        broadcast = [r for r in lines if r["action"] == "broadcast"]
        for r in target:
            if rng.random() < 0.35:
                said[r["number"]] = ":" + rng.choice("23333444")
        for r in rng.sample(target, min(len(target), rng.randint(1, 4))):
            said[r["number"]] = rng.choice(("r:0", f"p{r['amount'] / 2:.2f}", "n", "l:3", "r:1"))
        if broadcast and rng.random() < 0.3:
            tank = rng.choice(broadcast)["tank"]  # the bottle was not carried there
            said.update({r["number"]: "n" for r in broadcast if r["tank"] == tank})
        more = []
        if target and rng.random() < 0.25:
            pot = rng.choice(target)["pot"]
            planned = self.rows("SELECT made_ml FROM pot WHERE round = ? AND pot = ? ORDER BY revision DESC LIMIT 1",
                                number, pot)[0]["made_ml"]
            more += ["--made", f"{pot}={planned + 5:g}mL"]
        if number in REMARKS:
            more += ["--note", REMARKS[number]]
        names = ("JK", "MB") if number % 3 else ("JK", "TS")
        more += [w for f in sorted({r["feeder"] for r in lines}) for w in ("--by", f"{f}={names[f - 1]}")]
        self.run("log", str(number), "--all", *[f"{n}={v}" for n, v in sorted(said.items())], *more,
                 at=f"{self.day}T10:45")

    def shelf(self):
        n = (self.day - FIRST).days
        for o in [o for o in self.due_lots if o[0] <= self.day]:
            _, food, packs = o
            if any(low <= n <= high for low, high in NOT_DELIVERED.get(food, ())):
                continue
            self.due_lots.remove(o)
            f, letters = self.food[food], CODES[food]
            self.number_of[letters] = self.number_of.get(letters, 0) + 1
            code = f"{letters}-{self.day:%m%d}" if f["form"] == "live" else f"{letters}-{self.number_of[letters]}"
            use_by = self.day + datetime.timedelta(days=KEEPS_D[f["form"]])
            self.run("add", "lot", code, f"food={food}", f"amount_units={packs * f['pack_units']:g}",
                     f"received={self.day}", f"use_by={use_by}", f"price_cents={packs * self.price(food):.0f}")
        for food, packs in self.wanted():
            if food not in NOT_BOUGHT and not any(o[1] == food for o in self.due_lots):
                arrives = self.day + datetime.timedelta(days=self.food[food]["lead_d"] or 0)
                self.due_lots.append((arrives, food, packs))
        left = self.left_now()
        for code in sorted(left):
            dropped = n == TUB_LOST and self.lot[code]["food"] == "rich powder"
            if left[code] > 0.02 and (dropped or (n < 60 and self.last_day_of(self.lot[code]) < self.day)):
                self.run("stock", "--waste", f"{code}={int(left[code] * 1000) / 1000:g}", "--reason",
                         "tub fell into the sink, wet" if dropped else "out of date", at=f"{self.day}T11:20")
                self.run("retire", "lot", code)

    def wanted(self):
        for f in json.loads(self.run("--json", "stock").stdout)["foods"]:
            if f["order_packs"] > 0:
                yield f["food"], f["order_packs"]

    def price(self, food):
        paid = [(r["price_cents"] / r["amount_units"]) for r in self.lot.values() if r["food"] == food]
        return paid[-1] * self.food[food]["pack_units"] if paid else 0

    def round(self):
        """Planned, its lots opened; that plans are right is proved elsewhere."""
        self.registers()
        if self.run("plan").returncode != 0:
            return None
        number = self.rows("SELECT max(number) AS n FROM round")[0]["n"]
        lines = self.rows("SELECT * FROM line WHERE round = ? ORDER BY number", number)
        self.open_lots(lines, self.rows("SELECT * FROM pot_food WHERE round = ?", number))
        return number, lines

    def ten_weeks(self):
        self.begin()
        while self.day < MORNING:
            self.deliveries()
            self.readings()
            if self.day.weekday() in (0, 2, 4):
                planned = self.round()
                if planned:
                    self.log(*planned)
                    self.feed(self.given_of(planned[0]))
            self.change()
            self.counts()
            self.registers()
            if self.day.weekday() in (1, 4) or (self.day - FIRST).days == TUB_LOST:
                self.shelf()
            self.live_a_day()
            print(self.day, " ".join(f"{s} {self.level[s, 'no3']:.1f}/{self.level[s, 'po4']:.3f}" for s in WATER))
            self.day += datetime.timedelta(days=1)

    def same_corals(self):
        wanted = {c["code"]: int(c["count"] or 1) for c in self.colonies}
        found = {r["code"]: r["count"] or 1 for r in self.rows("SELECT * FROM colony")}
        for code in sorted(wanted.keys() | found.keys()):
            if wanted.get(code) != found.get(code):
                self.fault(f"colony {code}: {found.get(code)} at the end; data/demo has {wanted.get(code)}")

    def keep(self):
        out = DEMO / "weeks"
        out.mkdir(exist_ok=True)
        for old in out.glob("*.csv"):
            old.unlink()
        for name in KEPT:
            rows = list(csv.DictReader(self.run("dump", name).stdout.splitlines()))
            if rows:
                write_short(out / f"{name}.csv", rows)


# Cells that say what an empty one means anyway.
PLAIN = {"voided": "no", "late": "no", "retired": "no", "due": "no", "below": "no", "repeat": "1", "pass": "1",
         "response": "-1", "at_min": "-1", "premix_units": "0", "premix_ml": "0", "premix_take_ml": "0", "sample": "before"}
ZEROS = {"line": ("count", "mouths")}


def write_short(path, rows):
    """The register's rows without what goes without saying, and without columns that then are empty."""
    zeros = ZEROS.get(path.stem, ())
    for row in rows:
        for name, cell in row.items():
            if PLAIN.get(name) == cell or (name in zeros and cell == "0"):
                row[name] = ""
    write_table(path, [n for n in rows[0] if any(r[n] for r in rows)], rows)


def main():
    parser = argparse.ArgumentParser(usage="demo_weeks.py [--keep FILE] NEAP")
    parser.add_argument("--keep", help="leave the store here")
    parser.add_argument("neap")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        weeks = Weeks(os.path.abspath(args.neap), args.keep or os.path.join(folder, "weeks.neap"), folder)
        weeks.ten_weeks()
        weeks.same_corals()
        if not weeks.faults:
            weeks.keep()
        return 1 if weeks.faults else 0


if __name__ == "__main__":
    sys.exit(main())
