#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Kendall's S, its variance, p and tau-b, the Theil-Sen line, and Pettitt's K, against scipy on random series with ties.

usage: trend_scipy.py PROGRAM [--long]      PROGRAM is tests/cross/trend_scipy.c, built
Exit 0: all agree; 1: some do not; 77: scipy is missing.
"""
import math
import random
import subprocess
import sys

try:
    from scipy import stats
except ImportError:
    print("skipped: python3-scipy is not installed")
    sys.exit(77)

SERIES = 4000 if "--long" in sys.argv else 500
SEED = 20240229


def series_random(rng):
    n = rng.choice([4, 5, 6, 7, 8, 9, 10, 12, 15, 30, 60])
    tied_times, tied_values = rng.random() < 0.4, rng.random() < 0.6
    t = [rng.randrange(n) if tied_times else i + rng.random() / 2 for i in range(n)]
    slope = rng.choice([0, 0.1, -0.5])
    y = [slope * ti + rng.gauss(0, 1) for ti in t]
    if tied_values:
        y = [round(v, rng.choice([0, 1])) for v in y]
    return t, y


def pairs_of(t):
    return sum(t[i] != t[j] for i in range(len(t)) for j in range(i))


def expected(t, y, rank):
    slopes = sorted((y[j] - y[i]) / (t[j] - t[i]) for i in range(len(t)) for j in range(len(t)) if t[j] > t[i])
    sen = stats.theilslopes(y, t, method="separate")
    joint = stats.theilslopes(y, t, method="joint")
    free = stats.kendalltau(t, y, method="asymptotic")
    no_ties = len(set(t)) == len(t) and len(set(y)) == len(y)
    exact = stats.kendalltau(t, y, method="exact").pvalue if no_ties and len(t) <= 10 else None
    return sen.slope, sen.intercept, joint.intercept, free.correlation, free.pvalue, exact, slopes[rank - 1]


def pettitt(t, y):
    """max |2 U - n1 n2| over the splits, by Mann and Whitney's U: where and how much."""
    y = [v for _, v in sorted(zip(t, y))]
    sizes = [(abs(2 * stats.mannwhitneyu(y[:i], y[i:], method="asymptotic").statistic - i * (len(y) - i)), -i)
             for i in range(1, len(y))]
    k, i = max(sizes)
    return k, -i


def near(a, b, tolerance=1e-9):
    return abs(a - b) <= tolerance * max(1, abs(a), abs(b))


def faults(t, y, rank, line):
    s, var, p, exact, tau, slope, joint, separate, at, k, split = (float(v) for v in line.split())
    e_slope, e_separate, e_joint, e_tau, e_p, e_exact, e_at = expected(t, y, rank)
    checks = [("slope", slope, e_slope), ("intercept of medians", separate, e_separate), ("intercept", joint, e_joint),
              ("slope at rank", at, e_at)]
    if not math.isnan(e_tau):
        checks.append(("tau-b", tau, e_tau))
        # scipy's p has no continuity correction, ours has: S and Var are compared through it
        checks.append(("p of S and Var", math.erfc(abs(s) / math.sqrt(2 * var)), e_p))
    if len(set(t)) == len(t) <= 8 and len(set(y)) > 1:
        e_k, e_split = pettitt(t, y)
        checks += [("Pettitt's K", k, e_k), ("its place", split, e_split)]
    if e_exact is not None:
        checks.append(("exact p", p, e_exact))
        checks.append(("exact", exact, 1))
    elif not math.isnan(e_tau):
        checks.append(("p", p, math.erfc(max(0, abs(s) - 1) / math.sqrt(2 * var))))
    return [f"{name}: {got!r}, scipy has {want!r}" for name, got, want in checks if not near(got, want)]


def main():
    rng = random.Random(SEED)
    cases = []
    while len(cases) < SERIES:
        t, y = series_random(rng)
        if len(set(t)) > 1:
            cases.append((t, y, rng.randint(1, pairs_of(t))))
    text = "\n".join(f"{len(t)} {r} " + " ".join(f"{a!r} {b!r}" for a, b in zip(t, y)) for t, y, r in cases)
    lines = subprocess.run([sys.argv[1]], input=text, text=True, capture_output=True, check=True).stdout.splitlines()
    if len(lines) != len(cases):
        print(f"{len(lines)} answers to {len(cases)} series")
        return 1
    wrong = 0
    for (t, y, rank), line in zip(cases, lines):
        for fault in faults(t, y, rank, line):
            print(f"t = {t}\ny = {y}\n  {fault}")
            wrong += 1
    print(f"{len(cases)} series against scipy: {wrong} differ")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
