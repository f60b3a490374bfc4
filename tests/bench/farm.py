#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A large farm out of the demo: its systems, tanks, tests and colonies so many times over, each copy under names of its own.

Usage: tests/bench/farm.py DUMP INTO COPIES COLONIES FEEDERS

DUMP is a folder that `neap dump --into` wrote of the demo; INTO gets the CSV files of the farm, to be loaded into an empty store.
COLONIES is how many lots a copy has: the demo's, again and again. Copies differ in their tests by up to a tenth, so that not
all waters are alike. Stock is bought for all copies; a round has hands for all of them, as far as the settings go.
"""
import csv
import os
import sys

PER_COPY = ("system", "tank", "colony", "test", "water", "switch", "band")
NAMES = {"system", "tank", "from_system", "to_system"}


def read(folder, register):
    path = f"{folder}/{register}.csv"
    if not os.path.exists(path):
        return [], []
    with open(path, newline="") as f:
        rows = csv.DictReader(f)
        return rows.fieldnames, list(rows)


def write(folder, register, fields, rows):
    with open(f"{folder}/{register}.csv", "w", newline="") as f:
        out = csv.DictWriter(f, fields, lineterminator="\n")
        out.writeheader()
        out.writerows(rows)


FARTHEST_M = 10000  # as far as a position may be


def renamed(register, row, copy, copies):
    row = dict(row)
    keys = {"name"} if register in ("system", "tank") else {"code"} if register == "colony" else set()
    for key in (NAMES | keys) & row.keys():
        if row[key]:
            row[key] = f"{row[key]}.{copy}"
    if row.get("pump"):
        row["pump"] += f".{copy}"
    if row.get("value") and register == "test":
        row["value"] = f"{float(row['value']) * (1 + (copy * 37 % 21 - 10) / 100):.3g}"
    if row.get("position_m"):
        row["position_m"] = f"{float(row['position_m']) + min(60, (FARTHEST_M - 60) / copies) * copy:.10g}"
    return row


def colonies(rows, copy, copies, wanted):
    for i in range(wanted):
        row = renamed("colony", rows[i % len(rows)], copy, copies)
        if i >= len(rows):
            row["code"] += f"-{i // len(rows)}"
        yield row


def main():
    dump, into, copies, wanted, feeders = sys.argv[1], sys.argv[2], *map(int, sys.argv[3:])
    os.makedirs(into, exist_ok=True)
    for register in sorted(name[:-4] for name in os.listdir(dump) if name.endswith(".csv")):
        fields, rows = read(dump, register)
        if register == "colony":
            rows = [c for copy in range(copies) for c in colonies(rows, copy, copies, wanted)]
        elif register in PER_COPY:
            rows = [renamed(register, row, copy, copies) for copy in range(copies) for row in rows]
        elif register == "lot":
            for row in rows:
                row["amount_units"] = f"{min(1e7, float(row['amount_units']) * copies * max(1, wanted // 137)):g}"
        elif register == "setting":
            rows = [r for r in rows if r["name"] not in ("feeders", "day_hands_min")]
            rows += [{"name": "feeders", "value": feeders}, {"name": "day_hands_min", "value": 600}]
        elif register in ("given", "mix", "round", "move", "tally", "response"):
            continue
        write(into, register, fields, rows)


main()
