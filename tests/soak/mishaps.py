#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A year of ordinary days and of days on which things go wrong, through the command line only.

usage: mishaps.py [--days N] [--seed N] [--keep FILE] NEAP

A small house feeds in the morning, and on most days again at noon or after dark. A day is ordinary, or one or two mishaps are drawn:
a tank crashes after the plan, a tub is empty, a helper is ill, corals die, a lot is recalled, a reading is a spike, a slip is taken
back, an old sheet is logged, a begun round is to be planned anew, a pot comes out small. Each day the dump is read, with nothing of the
program's own working: no lot gave more than it held, no water got more than its ceilings, no coral more feeds than its kind's, counts
are what the tally makes of them, every line is accounted for or named, the audit is sound; and what was refused left the dump as it was.
Same seed, same year. Exit 0: no fault; 1: faults, each with its day; 2: misuse.
"""
import argparse
import datetime
import json
import os
import sys
import tempfile
from collections import defaultdict

from lived import FIRST, Lived, minutes

HOUSE = (
    ("add", "system", "reef", "sump_volume_l=200", "lights_on_min=09:00", "lights_off_min=21:00"),
    ("add", "system", "frags", "sump_volume_l=80", "lights_on_min=08:00", "lights_off_min=20:00"),
    ("add", "tank", "R1", "system=reef", "shape=stated", "net_volume_l=420", "fish=yes"),
    ("add", "tank", "R2", "system=reef", "shape=stated", "net_volume_l=380", "position_m=4"),
    ("add", "tank", "F1", "system=frags", "shape=stated", "net_volume_l=240", "position_m=9"),
    ("add", "tank", "F2", "system=frags", "shape=stated", "net_volume_l=240", "position_m=12"),
    ("add", "daily_round", "morning", "start_min=10:00", "feeders=2"),
    ("add", "daily_round", "noon", "start_min=14:00"),
    ("add", "daily_round", "evening", "start_min=22:00"),
    ("set", "kind", "acans and micromussids", "feeds_per_d=2"),
)
CORALS = (
    ("sun corals", 10, 1), ("acans and micromussids", 6, 8), ("small-polyp stony", 1, 12), ("large fleshy corals", 1, 4),
    ("branching euphylliids", 5, 6), ("goniopora and alveopora", 1, 3),
)
FOODS = ("amino-acid liquid", "live phytoplankton", "rich powder", "phosphate-lowering powder", "minced krill", "copepods",
         "whole mysid", "oyster-egg liquid", "soft pellet")
STARTS = {"morning": "10:00", "noon": "14:00", "evening": "22:00"}


class House(Lived):
    def __init__(self, neap, store, seed):
        super().__init__(neap, store, seed)
        self.n_lots = 0
        self.met = defaultdict(int)
        self.refusals = self.rounds = 0
        self.releases = []
        self.started = {}

    # ---- the program ---------------------------------------------------------------------------------------------

    def run(self, clock, *args, may_fail=False):
        return super().run(*args, may_fail=may_fail, at=f"{self.day}T{clock}")

    def dump(self):
        return self.run("23:59", "dump").stdout

    def read(self):
        """The live rows of each register."""
        rows = json.loads(self.dump())
        return defaultdict(list, {name: [r for r in part if not r.get("voided")] for name, part in rows.items()
                                  if isinstance(part, list)})

    def refused(self, clock, *args):
        """It must fail, say why, and change nothing."""
        before = self.dump()
        done = self.run(clock, *args, may_fail=True)
        self.refusals += 1
        if done.returncode == 0:
            self.fault(f"{' '.join(args)[:150]}: was not refused")
        elif not done.stderr.strip():
            self.fault(f"{' '.join(args)[:150]}: refused without a word")
        if self.dump() != before:
            self.fault(f"{' '.join(args)[:150]}: refused, and the dump is another")

    # ---- what a dump says ----------------------------------------------------------------------------------------

    def in_force(self, d):
        last = {}
        for r in d["round"]:
            if r["number"] not in last or r["revision"] > last[r["number"]]["revision"]:
                last[r["number"]] = r
        return last

    def parts(self, d, name, rounds):
        return [r for r in d[name] if r["round"] in rounds and r["revision"] == rounds[r["round"]]["revision"]]

    def left(self, d):
        rounds = self.in_force(d)
        left = {lot["code"]: lot["amount_units"] for lot in d["lot"]}
        given = {(g["round"], g["line"]): g for g in d["given"]}
        lines = self.parts(d, "line", rounds)
        for line in lines:
            g = given.get((line["round"], line["number"]))
            if g and line["lot"] and g["outcome"] != "not-given":
                left[line["lot"]] -= g["amount"] or 0
        mixed = {(m["round"], m["pot"]): m["made_ml"] for m in d["mixed"]}
        used = {(line["round"], line["pot"]) for line in lines
                if line["pot"] and given.get((line["round"], line["number"]), {"outcome": "not-given"})["outcome"] != "not-given"}
        made = {(p["round"], p["pot"]): p["made_ml"] for p in self.parts(d, "pot", rounds)}
        for f in self.parts(d, "pot_food", rounds):
            key = f["round"], f["pot"]
            if f["lot"] and (key in mixed or key in used):
                ratio = mixed.get(key, made[key]) / made[key]
                left[f["lot"]] -= (f["premix_units"] if ratio > 0 else 0) or f["amount_units"] * ratio
        for x in d["extra"]:
            if x["lot"]:
                left[x["lot"]] -= x["amount_units"]
        for w in d["waste"]:
            left[w["lot"]] -= w["amount_units"]
        return left

    def loads(self, d, planned):
        """Part of its ceilings that each water got on the day; planned: with what is not logged yet."""
        rounds = {n: r for n, r in self.in_force(d).items() if r["day"] == self.day.isoformat()}
        given = {(g["round"], g["line"]): g for g in d["given"]}
        kind = {k["name"]: k for k in d["kind"]}
        colony = {c["code"]: c for c in d["colony"]}
        food = {f["name"]: f for f in d["food"]}
        system = {t["name"]: t["system"] for t in d["tank"]}
        volume = defaultdict(float)
        for s in d["system"]:
            volume[s["name"]] += s["sump_volume_l"] or 0
        for t in d["tank"]:
            volume[t["system"]] += t["net_volume_l"]
        made = {(p["round"], p["pot"]): p["made_ml"] for p in self.parts(d, "pot", rounds)}
        foods = defaultdict(list)
        for f in self.parts(d, "pot_food", rounds):
            foods[f["round"], f["pot"]].append(f)
        load = defaultdict(float)
        for line in self.parts(d, "line", rounds):
            g = given.get((line["round"], line["number"]))
            if line["amount"] is None or (g is None and not planned) or (g and g["outcome"] == "not-given"):
                continue
            amount = g["amount"] if g else line["amount"]
            doses = [(line["food"], amount)] if line["food"] else []
            if line["action"] == "target":
                cloud = kind[colony[line["colony"]]["kind"]]["feeding"] == "cloud"
                fouls = (0.75 if cloud else 0.5) + 0.05  # docs/round-arithmetic.md: the rest is swallowed at once
                key = line["round"], line["pot"]
                doses = [(f["food"], fouls * amount * f["amount_units"] / made[key]) for f in foods[key]]
            for name, units in doses:
                water = system[line["tank"]]
                load[water] += units / (food[name]["ceiling_units_per_100l"] * volume[water] / 100)
        return load

    # ---- proofs --------------------------------------------------------------------------------------------------

    def prove_plan(self, name, clock):
        d = self.read()
        rounds = {n: r for n, r in self.in_force(d).items() if r["day"] == self.day.isoformat() and r["name"] == name}
        if len(rounds) != 1:
            self.fault(f"{name}: {len(rounds)} rounds of that name are kept for the day")
            return None
        for water, part in self.loads(d, True).items():
            if part > 1 + 1e-4:
                self.fault(f"{name}: {water} comes to {part:.5f} of its ceilings for the day")
        lines = self.parts(d, "line", rounds)
        kind = {k["name"]: k for k in d["kind"]}
        colony = {c["code"]: c for c in d["colony"]}
        tank = {t["name"]: t for t in d["tank"]}
        for line in lines:
            if line["action"] == "target":
                c = colony[line["colony"]]
                if kind[c["kind"]].get("fed_in") == "dark" and name != "evening":
                    self.fault(f"{name}: {c['code']} opens after dark")
                if c.get("retired") or c["tank"] != line["tank"] or c.get("hold_reason"):
                    self.fault(f"{name}: {c['code']} is gone, elsewhere or on hold")
            if line["action"] in ("target", "broadcast") and tank[line["tank"]].get("hold_reason"):
                self.fault(f"{name}: {line['tank']} is on hold and gets {line['action']}")
        off = {}
        for line in sorted(lines, key=lambda l: (minutes(l["start_min"]), l["number"])):
            if line["action"] == "flow-off":
                off[line["tank"]] = minutes(line["start_min"])
            elif line["action"] == "flow-on":
                lasted, most = minutes(line["start_min"]) - off.pop(line["tank"]), 10 if name == "evening" else 20
                if lasted > most:
                    self.fault(f"{name}: flow of {line['tank']} is off for {lasted} min, {most} at most")
        if off:
            self.fault(f"{name}: no flow on for {sorted(off)}")
        sheet = self.run(clock, "sheet", "--round", name, "--no-pages").stdout
        number, revision = next((r["number"], r["revision"]) for r in rounds.values())
        if not sheet.startswith(f"FEEDING ROUND {number}, revision {revision}: {name}"):
            self.fault(f"{name}: the sheet begins with {sheet[:60]!r}")
        if sheet.count("FLOW ON, look") != sum(line["action"] == "flow-on" for line in lines):
            self.fault(f"{name}: the sheet has other flows to turn on than the plan")
        return number, revision, lines

    def prove_day(self):
        d = self.read()
        for lot, units in self.left(d).items():
            if units < -1e-3:
                self.fault(f"lot {lot}: {-units:g} more was given than it held")
        for water, part in self.loads(d, False).items():
            if part > 1 + 1e-4:
                self.fault(f"{water} got {part:.5f} of its ceilings")
        rounds = {n: r for n, r in self.in_force(d).items() if r["day"] == self.day.isoformat()}
        lines = {(line["round"], line["number"]): line for line in self.parts(d, "line", rounds)}
        kind = {k["name"]: k for k in d["kind"]}
        colony = {c["code"]: c for c in d["colony"]}
        fed = defaultdict(set)
        for g in d["given"]:
            line = lines.get((g["round"], g["line"]))
            if line and line["colony"] and g["outcome"] in ("given", "part", "late"):
                fed[line["colony"]].add(g["round"])
        for code, which in fed.items():
            if len(which) > (kind[colony[code]["kind"]].get("feeds_per_d") or 1):
                self.fault(f"{code}: fed in {len(which)} rounds of the day")
        change = defaultdict(int)
        for t in d["tally"]:
            change[t["colony"]] += t["change"]
        for code, count in self.started.items():
            now = 0 if colony[code].get("retired") else colony[code]["count"] or 1
            if now != count + change[code]:
                self.fault(f"{code}: {now} corals; {count} at first and {change[code]:+d} by the tally")
        for number in rounds:
            told = json.loads(self.run("23:30", "log", str(number), "--show", "--json").stdout)
            n = sum(1 for key in lines if key[0] == number)
            logged = sum(1 for g in d["given"] if g["round"] == number)
            if told["n_lines"] != n or told["n_unaccounted"] != n - logged:
                self.fault(f"round {number}: {n} lines, {logged} logged; log says {told['n_lines']}, {told['n_unaccounted']} open")
        if "sound" not in self.run("23:40", "audit").stdout:
            self.fault("audit: not sound")

    # ---- mishaps: after the plan, before its first line (begun False) or after some lines ----------------------------

    def again(self, name, clock, begun):
        self.run(clock, "plan", "--from-now", "--round", name) if begun else self.run(clock, "plan", "--round", name, "--yes")

    def crash(self, name, clock, begun):
        tank = self.rng.choice(("R2", "F1", "F2"))
        if any(tank == t for _, t in self.releases):
            return
        self.run(clock, "hold", "tank", tank, "--reason", "crashed")
        self.releases.append((self.day + datetime.timedelta(days=self.rng.randint(1, 5)), tank))
        self.again(name, clock, begun)

    def empty_tub(self, name, clock, begun):
        left = self.left(self.read())
        lots = sorted(code for code, units in left.items() if units > 1)
        lot = self.rng.choice(lots)
        mixed = self.rng.random() < 0.5  # then what is in the pots has left the tub, and the rest was spilt
        self.run(clock, "stock", "--waste", f"{lot}=rest", "--reason", "the tub is empty", *([] if mixed else ["--unmixed"]),
                 may_fail=mixed)
        if not mixed:
            self.again(name, clock, begun)

    def recalled(self, name, clock, begun):
        lots = sorted(lot["code"] for lot in self.read()["lot"] if not lot.get("retired"))
        self.run(clock, "retire", "lot", self.rng.choice(lots))
        self.again(name, clock, begun)

    def ill_helper(self, name, clock, begun):
        if begun:
            self.refused(clock, "plan", "--round", name, "--feeders", "1", "--start", "16:00", "--yes")
        else:
            self.run(clock, "plan", "--round", name, "--feeders", "1", "--yes")

    def deaths(self, name, clock, begun):
        some = sorted(c["code"] for c in self.read()["colony"] if not c.get("retired") and (c["count"] or 1) > 1)
        self.run(clock, "count", self.rng.choice(some), "1", "died")
        self.again(name, clock, begun)

    def spike(self, name, clock, begun):
        before = self.dump()
        done = self.run(clock, "test", self.rng.choice(("reef", "frags")), f"no3={self.rng.randint(40, 90)}", may_fail=True)
        if done.returncode != 0 and self.dump() != before:
            self.fault("test: a spike was refused, and the dump is another")

    def typo(self, name, clock, begun):
        before = self.dump()
        slips = (("water", "reef", "55L"), ("set", "tank", "R1", "position_m=7"), ("hold", "tank", "R1", "--reason", "slip"),
                 ("add", "tank", "X9", "system=reef", "shape=stated", "net_volume_l=50"), ("set", "setting", "feeders=3"))
        self.run(clock, *self.rng.choice(slips))
        if self.dump() == before:
            self.fault("a slip changed nothing")
        self.run(clock, "undo", "--yes")
        if self.dump() != before:
            self.fault("a slip and undo: another dump than before")

    def old_sheet(self, name, clock, begun):
        d = self.read()
        mine = [r for r in self.in_force(d).values() if r["day"] == self.day.isoformat() and r["name"] == name][0]
        if not begun:
            self.run(clock, "plan", "--round", name, "--feeders", "3", "--yes")
            self.refused(clock, "log", "--round", name, "--all", "--revision", str(mine["revision"]))
        self.refused(clock, "log", "--round", name, "--all", "--revision", str(mine["revision"] + 7))

    def slips(self, name, clock, begun):
        line = next(l for l in self.parts(self.read(), "line", self.in_force(self.read())) if l["action"] == "broadcast" or l["amount"])
        self.refused(clock, "log", str(line["round"]), f"{line['number']}={line['amount'] * 4:.2f}", "--again")
        self.refused(clock, "log", "--round", name, "9999=n")
        self.refused(clock, "log", "--round", "midnight", "--all")
        self.refused(clock, "plan", "--round", "midnight")
        self.refused(clock, "add", "daily_round", "late", "start_min=25:00")
        self.refused(clock, "set", "daily_round", "noon", "days=mon frday")

    MISHAPS = (crash, empty_tub, recalled, ill_helper, deaths, spike, typo, old_sheet, slips)

    # ---- a day ---------------------------------------------------------------------------------------------------

    def shelf(self):
        for f in json.loads(self.run("07:30", "--json", "stock").stdout)["foods"]:
            usable = sum(lot["left_units"] for lot in f["lots"] if not lot["discard"])
            for lot in f["lots"]:
                if lot["discard"] and lot["left_units"] > 1e-6:
                    self.run("07:31", "stock", "--waste", f"{lot['lot']}={lot['left_units']}", "--reason", "out of date")
            if f["food"] in FOODS and (f["order_packs"] > 0 or usable < 20) and self.rng.random() < 0.8:
                self.n_lots += 1
                use_by = self.day + datetime.timedelta(days=120)
                self.run("07:32", "add", "lot", f"B-{self.n_lots:03}", f"food={f['food']}", "amount_units=200",
                         f"received={self.day}", f"use_by={use_by}")

    def round(self, name, mishaps):
        hour = STARTS[name]
        before = f"{int(hour[:2]) - 1:02}:30"
        within = f"{hour[:2]}:20"
        self.run(before, "plan", "--round", name)
        planned = self.prove_plan(name, before)
        for m in mishaps[:1]:
            self.met[m.__name__] += 1
            m(self, name, before, False)
            planned = self.prove_plan(name, before)
        if not planned or not planned[2]:
            return
        self.rounds += 1
        _, revision, lines = planned
        first = [str(line["number"]) for line in lines[:self.rng.randint(1, 4)]]
        self.run(within, "log", "--round", name, "--revision", str(revision), *first)
        if self.rng.random() < 0.2:
            self.refused(within, "plan", "--round", name, "--skip", "R1", "--yes")
        for m in mishaps[1:] if len(first) < len(lines) else ():  # a round that is all logged is over
            self.met[m.__name__] += 1
            m(self, name, within, True)
        revision = max(r["revision"] for r in self.read()["round"] if r["number"] == planned[0])
        said = []
        target = [line for line in lines[len(first):] if line["action"] == "target"]
        for line in self.rng.sample(target, min(len(target), self.rng.randint(0, 2))):
            said.append(f"{line['number']}=" + self.rng.choice(("r:0", f"p{line['amount'] / 2:.2f}", "n", "l", ":3")))
        at = f"{int(hour[:2]) + 1:02}:30"
        # what a mishap made impossible is refused as it should be; then all that stays open is not given
        done = self.run(at, "log", "--round", name, "--revision", str(revision), "--all", *said, "--again", may_fail=True)
        if done.returncode != 0:
            self.met["log refused"] += 1
            for tank in ("R1", "R2", "F1", "F2"):
                self.run(at, "log", "--round", name, "--revision", str(revision), f"{tank}=n", may_fail=True)

    def live(self, days):
        self.run("07:00", "start")
        for args in HOUSE:
            self.run("07:00", *args)
        for tank in ("R1", "R2", "F1", "F2"):
            for i, (kind, heads, count) in enumerate(CORALS):
                code = f"{tank}-{i + 1:02}"
                self.started[code] = count
                self.run("07:00", "add", "colony", code, f"tank={tank}", f"kind={kind}", f"count={count}", f"heads={heads}")
        for food in FOODS:
            self.n_lots += 1
            self.run("07:00", "add", "lot", f"B-{self.n_lots:03}", f"food={food}", "amount_units=300", "use_by=2027-03-01")
        for n in range(days):
            self.day = FIRST + datetime.timedelta(days=n)
            for due in [r for r in self.releases if r[0] <= self.day]:
                self.releases.remove(due)
                self.run("07:10", "release", "tank", due[1])
            if n % 3 == 0:
                for system in ("reef", "frags"):
                    self.run("07:20", "test", system, f"no3={self.rng.gauss(7, 1):.1f}", f"po4={self.rng.uniform(0.04, 0.09):.3f}",
                             may_fail=True)
            self.shelf()
            names = ["morning"] + [r for r in ("noon", "evening") if self.rng.random() < 0.6]
            mishaps = self.rng.sample(self.MISHAPS, self.rng.choice((0, 0, 0, 1, 1, 1, 1, 2, 2, 2)))
            hit = self.rng.choice(names)
            for name in names:
                self.round(name, mishaps if name == hit else [])
            self.prove_day()
            if n % 28 == 27 or n == days - 1:
                self.run("23:50", "trend")
                print(f"{self.day}: {self.rounds} rounds, {self.refusals} refusals, {len(self.faults)} faults", flush=True)
        print("mishaps met: " + ", ".join(f"{n} {name}" for name, n in sorted(self.met.items())))


def main():
    parser = argparse.ArgumentParser(usage="mishaps.py [--days N] [--seed N] [--keep FILE] NEAP")
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", help="leave the store here")
    parser.add_argument("neap")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = args.keep or os.path.join(folder, "mishaps.neap")
        if os.path.exists(store):
            parser.error(f"{store} exists")
        house = House(os.path.abspath(args.neap), store, args.seed)
        house.live(args.days)
        return 1 if house.faults else 0


if __name__ == "__main__":
    sys.exit(main())
