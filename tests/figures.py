#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The counts that docs name are those that the tests draw: each is read from the test and looked for in the page.

usage: figures.py [rewrite]      rewrite puts the test's count into the page
Exit 0: all agree; 1: some do not.
"""
import pathlib
import re
import sys

TOP = pathlib.Path(__file__).resolve().parent.parent
COUNT = r"([0-9][0-9,]*)"

# The page, what stands around its count there (at COUNT), and the test with what stands around the count that it draws.
FIGURES = [
    ("docs/recipe.md", r"\| COUNT random rounds: ceilings", "tests/unit/test_recipe_random.c", r"ROUNDS = TRIALS\(COUNT\)"),
    ("docs/recipe.md", r"\| The printed sheets of COUNT random", "tests/unit/test_sheet_pots.c", r"ROUNDS = TRIALS_LEAST\(COUNT,"),
    ("docs/recipe.md", r"\| COUNT random rounds, one stage", "tests/cross/recipe_lp.py", r"1000 if thorough else COUNT"),
    ("docs/recipe.md", r"`--long` every stage of COUNT", "tests/cross/recipe_lp.py", r"COUNT if thorough else"),
    ("docs/trend.md", r"COUNT random series with ties", "tests/cross/trend_scipy.py", r"sys\.argv else COUNT"),
    ("docs/trend.md", r"COUNT series: slope", "tests/cross/trend_scipy.py", r"sys\.argv else COUNT"),
    ("docs/order.md", r"COUNT random rounds of every kind", "tests/unit/test_order.c", r"ROUNDS = TRIALS\(COUNT\)"),
    ("docs/order.md", r"COUNT rounds of up to\s+4 tanks", "tests/unit/test_order_optimum.c", r"ENUMERATED = TRIALS\(COUNT\)"),
    ("docs/order.md", r"COUNT random rounds, cut", "tests/unit/test_plan_replan.c", r"ROUNDS = TRIALS_LEAST\(COUNT,"),
    ("docs/order.md", r"Gecode, on COUNT rounds", "tests/cross/order_minizinc.py", r"n = args\.rounds or \(225 if args\.long else COUNT"),
    ("docs/order.md", r"`--long` takes COUNT rounds", "tests/cross/order_minizinc.py", r"n = args\.rounds or \(COUNT if args\.long else 80"),
    ("docs/order.md", r"feeders\. COUNT rounds of 2 to 4", "tests/cross/order_cbc.py", r"args\.rounds or \(60 if args\.long else COUNT\)"),
    ("docs/order.md", r"`--long`: COUNT of 4 to 8", "tests/cross/order_cbc.py", r"args\.rounds or \(COUNT if args\.long else 30\)"),
    ("docs/arithmetic.md", r"units\.csv`\s+\(COUNT rows\)", "tests/unit/test_units.c", r"functions\)\), COUNT\)"),
    ("docs/arithmetic.md", r"chemistry\.csv` \(COUNT rows\)", "tests/unit/test_chemistry.c", r"functions\)\), COUNT\)"),
    ("docs/arithmetic.md", r"volume\.csv` \(COUNT rows\)", "tests/unit/test_volume.c", r"functions\)\), COUNT\)"),
    ("docs/arithmetic.md", r"density\.csv` \(COUNT rows\)", "tests/unit/test_density.c", r"functions\)\), COUNT\)"),
    ("docs/arithmetic.md", r"dose\.csv` \(COUNT rows\)", "tests/unit/test_dose.c", r"\"dose\", functions, COUNT_OF\(functions\)\), COUNT\)"),
    ("docs/round-arithmetic.md", r"rows of COUNT random rounds", "tests/unit/test_plan_random.c",
     r"ROUNDS = TRIALS_LEAST\(COUNT,"),
    ("docs/trend.md", r"COUNT histories of a water", "tests/unit/test_advice.c", r"COUNT_OF\(histories\), COUNT\)"),
]


def found(path, pattern):
    text = (TOP / path).read_text()
    matches = list(re.finditer(re.sub(r"\bCOUNT\b(?!_)", lambda m: COUNT, pattern), text))
    if len(matches) != 1:
        sys.exit(f"{path}: \"{pattern}\" is there {len(matches)} times; expected once")
    return text, matches[0]


wrong = 0
for page, around, test, drawn in FIGURES:
    count = int(found(test, drawn)[1].group(1).replace(",", ""))
    text, told = found(page, around)
    if int(told.group(1).replace(",", "")) == count:
        continue
    if sys.argv[1:] == ["rewrite"]:
        (TOP / page).write_text(text[:told.start(1)] + f"{count:,}" + text[told.end(1):])
        continue
    wrong += 1
    print(f"not ok {page}: \"{told.group(0)}\", and {test} draws {count}; again: tests/figures.py, to take it: … rewrite")
if wrong == 0:
    print(f"ok 1 {len(FIGURES)} counts in docs are those of the tests")
sys.exit(1 if wrong else 0)
