#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A year with the demo facility, through the command line only.

usage: year.py [--weeks N] [--seed N] [--constant] [--keep FILE] NEAP

Rounds on Monday, Wednesday and Friday, tests twice a week, water changed weekly, lots bought as `neap stock` asks, corals
sold, moved, held and released, now and then something taken back. The water is the model below, which neap does not
know. Each plan is proved again from its rows, read only, with nothing of the program's own working; each month the
store is audited, reported on, and dumped into an empty store and out again. Same seed, same year.
Exit 0: no fault; 1: faults, each named with the store's day; 2: misuse.
"""
import argparse
import datetime
import json
import os
import sys
import tempfile
import time
from collections import defaultdict

from lived import FIRST, Lived, day_of, minutes

DETECTION = 0.02  # mg/L phosphate
EASE = 1e-6

# The water: dL/dt = source - uptake x L, a day, plus true effect x units ÷ volume of what was given; a water change
# thins. A source for each quarter of the year, so that levels turn: nitrate mg/L, phosphate mg/L. Uptake: part of the
# level a day. All invented. --constant: the first quarter's source less a constant uptake.
WATER = {
    #              no3 by quarter              po4 by quarter                     uptake no3, po4  changed weekly
    "north": ((0.45, 0.20, 0.35, 0.10), (0.0050, 0.0020, 0.0045, 0.0010), 0.012, 0.012, 0.08),  # drifts up and down
    "south": ((0.12, 0.12, 0.12, 0.12), (0.0000, 0.0000, 0.0060, 0.0000), 0.015, 0.200, 0.03),  # starves of phosphate
    "east": ((0.40, 0.25, 0.15, 0.40), (0.0020, 0.0020, 0.0020, 0.0040), 0.010, 0.020, 0.05),
    "west": ((0.10, 0.10, 0.02, 0.10), (0.0030, 0.0010, 0.0005, 0.0030), 0.010, 0.020, 0.05),
    "display": ((0.12, 0.12, 0.12, 0.12), (0.0017, 0.0017, 0.0017, 0.0017), 0.012, 0.015, 0.05),  # steady
    "quarantine": ((0.15, 0.15, 0.15, 0.15), (0.0020, 0.0020, 0.0020, 0.0020), 0.010, 0.015, 0.10),
}
KEEPS_D = {"powder": 300, "pellet": 240, "frozen": 180, "live": 21, "liquid": 180}  # use-by of what is bought, invented


class Year(Lived):
    def __init__(self, neap, store, seed, constant):
        super().__init__(neap, store, seed)
        self.constant = constant
        self.times = defaultdict(list)
        self.pots, self.late_pots, self.waters = [], [], []
        self.strength = defaultdict(list)
        self.since, self.waited = {}, defaultdict(list)
        self.due_lots, self.counter, self.undone, self.trips = [], 0, 0, 0
        self.held = []
        self.claims = {}
        self.levels = defaultdict(list)
        self.minutes_long = []
        self.off_longest = 0.0

    # ---- the program, and its rows -------------------------------------------------------------------------------

    def run(self, *args, **how):
        begun = time.monotonic()
        done = super().run(*args, **how)
        name = next(a for a in args if not a.startswith("--"))
        self.times[name].append(time.monotonic() - begun)
        return done

    def registers(self):
        self.tank = {r["name"]: r for r in self.rows("SELECT * FROM tank")}
        self.kind = {r["name"]: r for r in self.rows("SELECT * FROM kind")}
        self.food = {r["name"]: r for r in self.rows("SELECT * FROM food")}
        self.lot = {r["code"]: r for r in self.rows("SELECT * FROM lot")}
        self.colony = {r["code"]: r for r in self.rows("SELECT * FROM colony")}

    # ---- the water -----------------------------------------------------------------------------------------------

    def fill(self):
        self.registers()
        self.volume = self.volumes()
        self.level = {}
        for s in self.volume:
            for a in ("no3", "po4"):
                last = self.rows("SELECT value, below FROM live_test WHERE system = ? AND analyte = ? "
                                 "ORDER BY taken DESC LIMIT 1", s, a)
                self.level[s, a] = last[0]["value"] / (2 if last[0]["below"] else 1) if last else 0.05
        self.first = dict(self.level)
        self.effect = self.true_effects()

    def feed(self, given):
        for (s, food, broadcast), units in sorted(given.items()):
            for a in ("no3", "po4"):
                self.level[s, a] += units * self.effect[food, a][broadcast] / self.volume[s]

    def live_a_day(self):
        quarter = 0 if self.constant else min(3, (self.day - FIRST).days // 91)
        for s, (no3, po4, no3_uptake, po4_uptake, _) in WATER.items():
            for a, source, uptake in (("no3", no3, no3_uptake), ("po4", po4, po4_uptake)):
                now = self.level[s, a]
                taken = uptake * (self.first[s, a] if self.constant else now)
                self.level[s, a] = max(0, now + source[quarter] - taken)
                self.levels[s, a].append(self.level[s, a])

    def given_of(self, number):
        """What reached which water of a round: (system, food, broadcast) -> units, from what was logged, lost beside or not."""
        out = defaultdict(float)
        content = defaultdict(list)
        for r in self.rows("SELECT pf.*, p.made_ml FROM pot_food pf JOIN pot p USING (round, revision, pot) "
                           "WHERE pf.round = ? AND pf.revision = (SELECT max(revision) FROM round WHERE number = ?)",
                           number, number):
            content[r["pot"]].append((r["food"], r["amount_units"] / r["made_ml"]))
        for r in self.rows("SELECT l.*, g.outcome, g.amount AS got FROM live_given g JOIN line l ON l.round = g.round AND "
                           "l.number = g.line AND l.revision = (SELECT max(revision) FROM round WHERE number = g.round) "
                           "WHERE g.round = ?", number):
            system = self.tank[r["tank"]]["system"]
            if r["food"]:
                out[system, r["food"], r["action"] == "broadcast"] += r["got"] or 0
            elif r["action"] == "target":
                for food, per_ml in content[r["pot"]]:
                    out[system, food, False] += (r["got"] or 0) * per_ml * 1.05
        return out

    # ---- a round, and its proof ----------------------------------------------------------------------------------

    def left(self):
        """What is in each lot, from what was bought, drawn by logged rounds, and thrown away."""
        left = {c: r["amount_units"] for c, r in self.lot.items()}
        for r in self.rows("SELECT l.lot, sum(g.amount) AS units FROM live_given g JOIN line l ON l.round = g.round AND "
                           "l.number = g.line AND l.revision = (SELECT max(revision) FROM round WHERE number = g.round) "
                           "WHERE l.lot IS NOT NULL GROUP BY 1"):
            left[r["lot"]] -= r["units"] or 0
        for r in self.rows(
                "SELECT pf.lot, pf.amount_units, pf.premix_units, p.made_ml, m.made_ml AS mixed_ml FROM pot_food pf "
                "JOIN pot p USING (round, revision, pot) LEFT JOIN live_mixed m ON m.round = pf.round AND m.pot = pf.pot "
                "WHERE pf.revision = (SELECT max(revision) FROM round WHERE number = pf.round) AND (m.made_ml IS NOT "
                "NULL OR EXISTS (SELECT 1 FROM live_given g JOIN line l ON l.round = g.round AND l.number = g.line AND "
                "l.revision = pf.revision "
                "WHERE g.round = pf.round AND l.pot = pf.pot AND g.outcome <> 'not-given'))"):
            ratio = (r["mixed_ml"] if r["mixed_ml"] is not None else r["made_ml"]) / r["made_ml"]
            left[r["lot"]] -= r["premix_units"] or r["amount_units"] * ratio  # a premix is weighed whole
        for r in self.rows("SELECT lot, sum(amount_units) AS units FROM live_waste GROUP BY 1"):
            left[r["lot"]] -= r["units"]
        return left

    def last_day_of(self, lot):
        days = [day_of(lot["use_by"])] if lot["use_by"] else []
        life = self.food[lot["food"]]["opened_life_d"]
        if lot["opened"] and life:
            days.append(day_of(lot["opened"]) + datetime.timedelta(days=life))
        return min(days) if days else datetime.date.max

    def on_hold(self, row):
        if row["hold_until"]:
            return day_of(row["hold_until"]) >= self.day
        return bool(row["hold_reason"])

    def round(self):
        self.registers()
        if self.run("plan").returncode != 0:
            return
        found = self.rows("SELECT * FROM round WHERE day = ? ORDER BY number DESC, revision DESC LIMIT 1",
                          self.day.isoformat())
        if not found:
            self.fault("plan said done, and no round of the day is kept")
            return
        number, revision = found[0]["number"], found[0]["revision"]
        lines = self.rows("SELECT * FROM line WHERE round = ? AND revision = ? ORDER BY number", number, revision)
        pots = self.rows("SELECT * FROM pot WHERE round = ? AND revision = ?", number, revision)
        foods = self.rows("SELECT * FROM pot_food WHERE round = ? AND revision = ?", number, revision)
        self.minutes_long.append(minutes(found[0]["finish_min"]) - minutes(found[0]["start_min"]))
        self.prove_ceilings(lines, pots, foods)
        self.prove_lots(lines, foods)
        self.prove_corals(lines, foods)
        self.prove_flow(lines)
        self.count_pots(pots)
        if not self.run("sheet", "--no-pages").stdout.startswith("FEEDING ROUND"):
            self.fault("sheet: no sheet")
        self.open_lots(lines, foods)
        return number, lines

    def prove_ceilings(self, lines, pots, foods):
        """Each water's whole: what one tank gets too much of, its water shares out within the hour."""
        made = {p["pot"]: p["made_ml"] for p in pots}
        used = defaultdict(float)
        for r in lines:
            doses = [(r["food"], r["amount"])] if r["food"] else []
            if r["action"] == "target":
                cloud = self.kind[self.colony[r["colony"]]["kind"]]["feeding"] == "cloud"
                fouls = (0.75 if cloud else 0.5) + 0.05  # docs/round-arithmetic.md: the rest is swallowed at once
                doses = [(f["food"], fouls * r["amount"] * f["amount_units"] / made[r["pot"]]) for f in foods
                         if f["pot"] == r["pot"]]
            for food, units in doses:
                system = self.tank[r["tank"]]["system"]
                used[system] += units / (self.food[food]["ceiling_units_per_100l"] * self.volume[system] / 100)
        for system, part in used.items():
            if part > 1 + EASE:
                self.fault(f"system {system}: {part:.6f} of its ceilings planned; at most 1")
        for p in pots:
            slurry = sum(r["amount"] for r in lines if r["pot"] == p["pot"] and r["action"] == "target")
            liquid = sum(f["amount_units"] for f in foods if f["pot"] == p["pot"]
                         and self.food[f["food"]]["form"] in ("liquid", "live"))
            if slurry > p["made_ml"] + EASE:
                self.fault(f"pot {p['pot']}: {slurry:g} mL to give of {p['made_ml']:g} mL")
            if p["water_ml"] < -EASE or liquid > p["made_ml"] + EASE:
                self.fault(f"pot {p['pot']}: {liquid:g} mL of liquids in {p['made_ml']:g} mL")

    def prove_lots(self, lines, foods):
        wanted = defaultdict(float)
        for r in lines:
            if r["lot"]:
                wanted[r["lot"]] += r["amount"]
        for f in foods:
            if f["lot"]:
                wanted[f["lot"]] += (f["premix_units"] or 0) or f["amount_units"]
        left = self.left()
        for code, units in wanted.items():
            lot = self.lot[code]
            if self.last_day_of(lot) < self.day:
                self.fault(f"lot {code} is used after its last day {self.last_day_of(lot)}")
            if lot["retired"] or (lot["received"] and day_of(lot["received"]) > self.day):
                self.fault(f"lot {code} is used, and is not on the shelf")
            if units > left[code] + EASE:
                self.fault(f"lot {code}: {units:g} planned of {left[code]:g} left")

    def prove_corals(self, lines, foods):
        for r in lines:
            if r["action"] in ("broadcast", "fish", "target") and self.on_hold(self.tank[r["tank"]]):
                self.fault(f"line {r['number']}: tank {r['tank']} is on hold")
            if r["action"] != "target":
                continue
            c = self.colony[r["colony"]]
            k = self.kind[c["kind"]]
            if self.on_hold(c) or c["retired"] or c["tank"] != r["tank"]:
                self.fault(f"line {r['number']}: colony {c['code']} is on hold, gone, or elsewhere")
            if k["feeding"] not in ("target", "cloud"):
                self.fault(f"line {r['number']}: colony {c['code']}, a kind that is not target-fed")
            for f in foods:
                food = self.food[f["food"]]
                takes = {"powder": k["takes_powder"], "pellet": k["takes_pellet"], "frozen": k["takes_frozen"]}
                if f["pot"] != r["pot"]:
                    continue
                if food["max_particle_um"] > k["max_particle_um"] or not takes.get(food["form"], 1):
                    self.fault(f"line {r['number']}: {f['food']} is not for {c['kind']}")

    def prove_flow(self, lines):
        """Tanks on one pump stop together, for the strictest of them. A kept time is cut to the minute."""
        circuit = {t["name"]: (t["system"], t["pump"] or t["name"]) for t in self.tank.values()}
        limit = {c: min(t["flow_off_limit_min"] or 15 for t in self.tank.values() if circuit[t["name"]] == c)
                 for c in circuit.values()}
        off, turn = {}, {"flow-off": 0, "target": 1, "flow-on": 2}
        for r in sorted((r for r in lines if r["action"] in turn),
                        key=lambda r: (minutes(r["start_min"]), turn[r["action"]], r["number"])):
            c = circuit[r["tank"]]
            if r["action"] == "flow-off":
                if c in off:
                    self.fault(f"line {r['number']}: flow off at {r['tank']}, and it is off already")
                off[c] = minutes(r["start_min"])
            elif c not in off:
                self.fault(f"line {r['number']}: {r['action']} at {r['tank']}, and its flow is not off")
            elif r["action"] == "flow-on":
                lasted = minutes(r["start_min"]) - off.pop(c)
                self.off_longest = max(self.off_longest, lasted / limit[c])
                if lasted > limit[c]:
                    self.fault(f"line {r['number']}: flow of {r['tank']} off for {lasted} min; at most {limit[c]:g}")
        for c in off:
            self.fault(f"the flow of {' '.join(c)} is never on again")

    def count_pots(self, pots):
        quarantine = {r["name"] for r in self.rows("SELECT name FROM system WHERE quarantine = 1")}
        ordinary = [p for p in pots if not p["late"] and not set((p["systems"] or "").split(", ")) <= quarantine]
        self.pots.append(len(ordinary))
        self.waters.append(len({s for p in ordinary for s in p["systems"].split(", ")}))
        self.late_pots.append(sum(1 for p in pots if p["late"]))
        for p in pots:
            if not p["late"]:
                for s in (p["systems"] or "").split(", "):
                    self.strength[s].append(p["factor"])

    def open_lots(self, lines, foods):
        for code in sorted({r["lot"] for r in [*lines, *foods] if r["lot"]}):
            if not self.lot[code]["opened"]:
                self.run("stock", "--opened", code)

    def log(self, number, lines):
        target = [r for r in lines if r["action"] == "target"]
        other = [r for r in lines if r["food"]]
        said, rng = {}, self.rng
        for r in rng.sample(target, min(len(target), rng.randint(0, 4))):
            said[r["number"]] = rng.choice(("r:0", f"p{r['amount'] / 2:.2f}", "n", "l", ":4", ":2"))
        if other and rng.random() < 0.2:
            said[rng.choice(other)["number"]] = "n"
        made = []
        if target and rng.random() < 0.15:
            pot = rng.choice(target)["pot"]
            planned = self.rows("SELECT made_ml FROM pot WHERE round = ? AND pot = ? ORDER BY revision DESC LIMIT 1",
                                number, pot)[0]["made_ml"]
            made = ["--made", f"{pot}={planned + 5:g}mL"]
        self.run("log", str(number), "--all", *[f"{n}={v}" for n, v in sorted(said.items())], *made)
        open_lines = self.rows("SELECT count(*) AS n FROM line WHERE round = ? AND revision = (SELECT max(revision) FROM "
                               "round WHERE number = ?) AND number NOT IN (SELECT line FROM live_given WHERE round = ? "
                               "AND coalesce(voided, 0) = 0)", number, number, number)[0]["n"]
        if open_lines:
            self.fault(f"round {number}: {open_lines} lines open after log --all")
        for r in self.rows("SELECT l.colony FROM live_given g JOIN line l ON l.round = g.round AND l.number = g.line AND "
                           "l.revision = (SELECT max(revision) FROM round WHERE number = g.round) WHERE g.round = ? AND "
                           "l.action = 'target' AND g.outcome IN ('given', 'part', 'late')", number):
            self.since[r["colony"]] = self.day

    def count_waiting(self):
        """Days since the last feed of all that might be fed, counted from the end of a hold or of the days of arrival."""
        for code, c in self.colony.items():
            k = self.kind[c["kind"]]
            if k["feeding"] not in ("target", "cloud") or c["retired"]:
                continue
            if code not in self.since:
                self.since[code] = day_of(c["fed_before"]) if c["fed_before"] else self.day
            arrived = day_of(c["arrived"]) + datetime.timedelta(days=3) if c["arrived"] else datetime.date.min
            if self.on_hold(c) or self.on_hold(self.tank[c["tank"]]):
                self.since[code] = max(self.since[code], self.day)
            self.since[code] = max(self.since[code], arrived)
            self.waited[c["kind"]].append(((self.day - self.since[code]).days, code, self.day.isoformat()))

    # ---- the rest of a week --------------------------------------------------------------------------------------

    def test(self):
        said = []
        for s in sorted(WATER):
            no3 = max(0.1, self.rng.gauss(self.level[s, "no3"], 0.3))
            po4 = self.rng.gauss(self.level[s, "po4"], 0.004)
            below = round(po4, 2) < DETECTION
            said += [s, f"no3={no3:.1f}", f"po4=below{DETECTION}" if below else f"po4={po4:.2f}"]
        self.run("test", *said, at=f"{self.day}T07:00")

    def change_water(self):
        for s in sorted(WATER):
            part = WATER[s][4]
            self.run("water", s, f"{self.volume[s] * part:.0f}L", at=f"{self.day}T15:00")
            for a in ("no3", "po4"):
                self.level[s, a] *= 1 - round(self.volume[s] * part) / self.volume[s]

    def shelf(self):
        for o in [o for o in self.due_lots if o[0] <= self.day]:
            self.due_lots.remove(o)
            _, food, packs = o
            f, self.counter = self.food[food], self.counter + 1
            use_by = self.day + datetime.timedelta(days=KEEPS_D[f["form"]])
            self.run("add", "lot", f"B-{self.counter:03}", f"food={food}", f"amount_units={packs * f['pack_units']:g}",
                     f"received={self.day}", f"use_by={use_by}", f"price_cents={packs * (f['price_cents'] or 0):.0f}")
        said = self.run("--json", "stock")
        if said.returncode != 0:
            return
        shelf = json.loads(said.stdout)
        left = self.left_now()
        for f in shelf["foods"]:
            for lot in f["lots"]:
                if lot["left_units"] < -EASE:
                    self.fault(f"stock: lot {lot['lot']} has {lot['left_units']:g} left")
                if abs(lot["left_units"] - left[lot["lot"]]) > 1e-3:
                    self.fault(f"stock: lot {lot['lot']} has {lot['left_units']:g} left; by its rows {left[lot['lot']]:g}")
                if lot["discard"] and lot["left_units"] > 1e-6:
                    self.run("stock", "--waste", f"{lot['lot']}={lot['left_units']}", "--reason", "out of date")
            if f["order_packs"] > 0 and not any(o[1] == f["food"] for o in self.due_lots):
                arrives = self.day + datetime.timedelta(days=self.food[f["food"]]["lead_d"] or 0)
                self.due_lots.append((arrives, f["food"], f["order_packs"]))

    def left_now(self):
        self.registers()
        return self.left()

    def dump(self):
        return self.run("dump").stdout

    def corals(self):
        self.registers()
        for o in [o for o in self.held if o[0] <= self.day]:
            self.held.remove(o)
            if not self.colony[o[1]]["retired"]:
                self.run("release", "colony", o[1])
        alive = sorted(c for c, r in self.colony.items() if not r["retired"] and not self.on_hold(r))
        some = [c for c in alive if (self.colony[c]["count"] or 1) > 3]
        what = self.rng.choice(("sold", "sold", "moved", "held", "divided"))
        if what == "sold":
            self.run("count", self.rng.choice(some), "2", "sold")
        elif what == "divided":
            self.run("count", self.rng.choice(some), "3", "divided")
        elif what == "moved":
            code = self.rng.choice(some)
            quarantine = {"Q1", "Q2"}
            tanks = sorted(set(self.tank) - quarantine - {self.colony[code]["tank"]})
            if self.colony[code]["tank"] not in quarantine:
                before = set(self.colony)
                self.run("move", code, "1", "to", self.rng.choice(tanks))
                self.registers()
                for new in set(self.colony) - before:
                    if code in self.since:
                        self.since[new] = self.since[code]
        else:
            code = self.rng.choice(alive)
            self.run("hold", "colony", code, "--reason", "looks unwell")
            self.held.append((self.day + datetime.timedelta(days=self.rng.choice((7, 14, 21))), code))

    def take_back(self):
        """A slip, and undo: the store gives out the same as before it."""
        self.registers()
        some = sorted(c for c, r in self.colony.items() if not r["retired"] and (r["count"] or 1) > 3)
        slips = (("water", "north", "123L"), ("test", "east", "no3=44", "po4=0.5"), ("set", "tank", "N1", "position_m=99"),
                 ("count", self.rng.choice(some), "3", "died"), ("hold", "tank", "D1", "--reason", "a slip"),
                 ("set", "feeders=3"), ("move", self.rng.choice(some), "2", "to", "W1"),
                 ("stock", "--waste", "LP-1125=1mL", "--reason", "a slip"))
        before = self.dump()
        slip = self.rng.choice(slips)
        if self.run(*slip, may_fail=True).returncode == 0:
            if self.dump() == before:
                self.fault(f"{' '.join(slip)}: done, and nothing changed")
            self.run("undo", "--yes")
            self.undone += 1
        if self.dump() != before:
            self.fault(f"{' '.join(slip)}, and undo: another dump than before")

    def month(self, folder):
        self.run("audit")
        self.run("trend")
        self.run("ahead")
        report = json.loads(self.run("--json", "trend").stdout or "{}")
        for e in report.get("effects", []):
            if e["claimed"]:
                true = self.effect[e["food"], e["analyte"]]
                self.claims[self.day, e["food"], e["analyte"]] = (
                    e["declared_mg_per_unit"], e["by_log_low"], e["by_log_mg_per_unit"], e["by_log_high"],
                    true[0])
        self.last_effects = report.get("effects", [])
        first = os.path.join(folder, "dump.json")
        with open(first, "w", encoding="utf-8") as out:
            out.write(self.dump())
        copy = os.path.join(folder, "copy.neap")
        for name in (copy, copy + "-wal", copy + "-shm"):
            if os.path.exists(name):
                os.remove(name)
        mine, self.store = self.store, copy
        self.run("start", "--empty")
        self.run("load", first)
        again = self.dump()
        self.store = mine
        with open(first, encoding="utf-8") as text:
            if text.read() != again:
                self.fault("dump, load into an empty store, dump: other bytes")
        self.trips += 1

    def live(self, weeks, folder):
        self.run("start", "--demo", "--no-log")
        self.fill()
        for n in range(weeks * 7):
            self.day = FIRST + datetime.timedelta(days=n)
            weekday = self.day.weekday()
            if weekday in (1, 4):
                self.test()
            if weekday in (0, 2, 4):
                self.registers()
                self.count_waiting()
                planned = self.round()
                if planned:
                    self.log(*planned)
                    self.feed(self.given_of(planned[0]))
            if weekday == 2:
                self.change_water()
            if weekday == 3:
                self.corals()
            if weekday in (1, 4):
                self.shelf()
            if n % 14 == 12:
                self.take_back()
            self.live_a_day()
            if n % 28 == 27 or n == weeks * 7 - 1:
                self.month(folder)
                print(f"{self.day}: {len(self.pots)} rounds, {len(self.faults)} faults", flush=True)

    # ---- what it was like ----------------------------------------------------------------------------------------

    def cost_cents(self):
        self.registers()
        left = self.left()
        wasted = {r["lot"]: r["u"] for r in self.rows("SELECT lot, sum(amount_units) AS u FROM live_waste GROUP BY 1")}
        fed = thrown = 0.0
        for code, r in self.lot.items():
            price = (r["price_cents"] or 0) / r["amount_units"] if r["amount_units"] else 0
            thrown += wasted.get(code, 0) * price
            fed += (r["amount_units"] - left[code] - wasted.get(code, 0)) * price
        return fed, thrown

    def report(self):
        def spread(v):
            v = sorted(v)
            return f"{v[0]:.3g} / {v[len(v) // 2]:.3g} / {v[-1]:.3g}" if v else "none"

        n = len(self.pots)
        print(f"\nrounds: {n}; min / median / max, here and below: {spread(self.minutes_long)} min long")
        print("ordinary pots a round, quarantine's apart: "
              + ", ".join(f"{k} pots in {self.pots.count(k)}" for k in sorted(set(self.pots))))
        print(f"waters fed from them {spread(self.waters)}; longest flow off {self.off_longest:.2f} of its limit")
        print(f"one pot sufficed for all but quarantine in {sum(p <= 1 for p in self.pots)} of {n}; "
              f"late pots a round {spread(self.late_pots)}")
        print("strength of ordinary pots, of the house's:")
        for s in sorted(self.strength):
            print(f"  {s:12} {spread(self.strength[s])}   true nitrate {spread(self.levels[s, 'no3'])}, "
                  f"phosphate {spread(self.levels[s, 'po4'])} mg/L")
        held = wrong = 0
        for (day, food, a), (declared, low, mean, high, target) in sorted(self.claims.items()):
            # The claim is that of target food; a food that is only broadcast is put on that footing by the ratio of the
            # released fractions, as the truth is here.
            held += low <= target <= high
            wrong += mean * target < 0
            print(f"  {day} {food}, {a}: {mean:.4g} ({low:.4g} to {high:.4g}) mg a unit; declared {declared:.4g}, "
                  f"true {target:.4g}")
        print(f"learned effects claimed at {self.trips} month's ends: {len(self.claims)}; their 90 % limits hold the truth in "
              f"{held}; of the wrong sign: {wrong}")
        within = [e["by_log_low"] <= self.effect[e["food"], e["analyte"]][0] <= e["by_log_high"]
                  for e in self.last_effects]
        print(f"all effects of the last report, claimed or not: {sum(within)} of {len(within)} limits hold the truth")
        print("days since fed, kinds with a line of their own, on feeding mornings: interval; median, longest, and whose")
        for k in sorted(self.waited):
            v = sorted(self.waited[k])
            longest, code, day = v[-1]
            why = self.rows("SELECT w.reason, count(*) AS n FROM waiting w JOIN round r ON r.number = w.round AND "
                            "r.revision = w.revision WHERE w.colony = ? AND r.day BETWEEN date(?, ?) AND ? "
                            "GROUP BY 1 ORDER BY 2 DESC LIMIT 1", code, day, f"-{longest} days", day)
            print(f"  {k:32} {self.kind[k]['interval_d']:g}; {v[len(v) // 2][0]}, {longest} ({code} on {day}"
                  + (f": {why[0]['n']} x {why[0]['reason']})" if why else ")"))
        fed, thrown = self.cost_cents()
        print(f"food drawn {fed / 100:.2f}, thrown away {thrown / 100:.2f} of money; {self.counter} lots bought, "
              f"{self.undone} commands taken back, {self.trips} dumps loaded and dumped again")
        print("command: runs; median, longest (s)")
        for c in sorted(self.times):
            v = sorted(self.times[c])
            print(f"  {c:8} {len(v):5}; {v[len(v) // 2]:.2f}, {v[-1]:.2f}")
        print(f"store: {os.path.getsize(self.store) / 1e6:.1f} MB; faults: {len(self.faults)}")
        for f in self.faults[:40]:
            print(f"  {f}")


def main():
    parser = argparse.ArgumentParser(usage="year.py [--weeks N] [--seed N] [--constant] [--keep FILE] NEAP")
    parser.add_argument("--weeks", type=int, default=52)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--constant", action="store_true", help="a constant background of each water")
    parser.add_argument("--keep", help="leave the store here")
    parser.add_argument("neap")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        store = args.keep or os.path.join(folder, "year.neap")
        if os.path.exists(store):
            parser.error(f"{store} exists")
        year = Year(os.path.abspath(args.neap), store, args.seed, args.constant)
        begun = time.monotonic()
        year.live(args.weeks, folder)
        year.report()
        print(f"{args.weeks} weeks in {time.monotonic() - begun:.0f} s")
        return 1 if year.faults else 0


if __name__ == "__main__":
    sys.exit(main())
