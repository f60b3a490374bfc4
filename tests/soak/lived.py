# SPDX-License-Identifier: GPL-3.0-or-later
"""A facility that lives through the command line only: the program run, its rows read, its faults told, and what its water is made of."""
import datetime
import math
import random
import sqlite3
import subprocess
from collections import defaultdict

FIRST = datetime.date(2026, 11, 27)
NO3_OF_N, PO4_OF_P = 62.004 / 14.007, 94.970 / 30.974  # IUPAC abridged atomic weights


def day_of(text):
    return datetime.date.fromisoformat(text[:10])


def minutes(clock):
    return int(clock[:2]) * 60 + int(clock[3:5])


def net_volume_l(t):
    """The tank's water to the line, less what stands in it: from the geometry alone."""
    length, width, water = t["length_cm"] or 0, t["width_cm"] or 0, t["water_cm"] or 0
    radius = (t["diameter_cm"] or 0) / 2
    shape = t["shape"]
    if shape == "stated":
        return t["net_volume_l"]
    if shape == "box":
        area = length * width
    elif shape == "cylinder":
        area = math.pi * radius**2
    elif shape == "half cylinder":
        area = math.pi * radius**2 / 2
    elif shape == "quarter cylinder":
        area = math.pi * t["side_cm"] ** 2 / 4
    elif shape == "bow front":
        chord, bow = length, t["bow_cm"]
        r = (chord**2 / 4 + bow**2) / (2 * bow)
        half = math.asin(chord / 2 / r)
        area = length * width + r**2 * half - r**2 * math.sin(2 * half) / 2
    elif shape == "prism":
        area = t["n_sides"] * t["side_cm"] ** 2 / (4 * math.tan(math.pi / t["n_sides"]))
    else:  # cut corner
        area = length * width - t["cut_length_cm"] * t["cut_width_cm"] / 2
    return area * water / 1000 * (1 - (t["displacement_frac"] or 0))


class Lived:
    def __init__(self, neap, store, seed):
        self.neap, self.store, self.rng = neap, store, random.Random(seed)
        self.day, self.faults = FIRST, []

    def fault(self, text):
        self.faults.append(f"{self.day}: {text}")
        print(f"fault: {self.day}: {text}", flush=True)

    def run(self, *args, may_fail=False, at=None):
        """may_fail: a refusal is no fault; to die is one always."""
        done = subprocess.run([self.neap, "--db", self.store, "--on", at or self.day.isoformat(), *args],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True)
        if done.returncode not in ((0, 1, 2) if may_fail else (0,)):
            self.fault(f"{' '.join(args)[:200]}: exit {done.returncode}: {(done.stderr or done.stdout).strip()[:300]}")
        return done

    def rows(self, query, *values):
        db = sqlite3.connect(f"file:{self.store}?mode=ro", uri=True)
        db.row_factory = sqlite3.Row
        found = db.execute(query, values).fetchall()
        db.close()
        return found

    def volumes(self):
        """Litres of each water: its tanks and its sump."""
        volume = defaultdict(float)
        for t in self.rows("SELECT * FROM tank"):
            volume[t["system"]] += net_volume_l(t)
        for s in self.rows("SELECT * FROM system"):
            volume[s["name"]] += s["sump_volume_l"] or 0
        return volume

    def true_effects(self):
        """What a food truly does: its composition, times what the label gets wrong. (target, broadcast), mg a unit."""
        effect = {}
        for f in self.rows("SELECT * FROM food ORDER BY name"):
            wrong_n, wrong_p = self.rng.uniform(0.6, 1.4), self.rng.uniform(0.6, 1.4)
            n, p = (f["n_mg_per_unit"] or 0) * NO3_OF_N * wrong_n, (f["p_mg_per_unit"] or 0) * PO4_OF_P * wrong_p
            effect[f["name"], "no3"] = (n * 0.6, n * 0.8)
            effect[f["name"], "po4"] = (p * 0.5, p * 0.7)
        return effect
