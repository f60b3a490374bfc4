#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Solve the recipe's programmes again with two other solvers and compare.

usage: recipe_lp.py PROGRAM [--long] [--from ROUND] [--rounds N]

PROGRAM is tests/cross/recipe_lp.c, built. It plans random rounds and writes each stage of each as an LP file. Every
file taken is solved by glpsol (from the text, with its own reader) and by esolver, whose answer is an exact fraction;
values must agree to 2e-5: most do to 1e-9, but steep prices magnify what a stage before is held within. glpsol lets a limit be passed by 1e-7, which a stage with steep prices can magnify: where it
disagrees, the exact answer decides. In the last stage, which leaves one answer, the exact amounts must be ours as well.

A plain run takes one stage of each of four hundred rounds to glpsol and of every fifth round to esolver; --long takes
every stage of a thousand rounds to both. Exit 0: all agree; 1: not; 77: a solver is missing (the last line says which).
"""
import fractions
import pathlib
import shutil
import subprocess
import sys
import tempfile

STAGES = 10
BATCH = 50
WITHIN = 2e-5
AMOUNT_WITHIN = 5e-3  # the file holds earlier stages with room for their last digits, which amounts can magnify


def solve_glpsol(lp, folder):
    """The value glpsol finds, with 15 digits; None where it finds none."""
    out = folder / "glpsol.txt"
    subprocess.run(["glpsol", "--lp", str(lp), "-w", str(out)], stdout=subprocess.DEVNULL, check=True)
    for line in out.read_text().splitlines():
        fields = line.split()
        if fields[0] == "s" and fields[4:6] == ["f", "f"]:
            return float(fields[6])
    return None


def solve_esolver(lp, folder):
    """The exact value and the exact columns that are not zero; None where there is no optimum."""
    out = folder / "exact.sol"
    out.unlink(missing_ok=True)
    subprocess.run(["esolver", "-O", str(out), "-L", str(lp)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                   check=True)
    lines = out.read_text().splitlines()
    if "OPTIMAL" not in lines[0]:
        return None, {}
    value, columns, section = None, {}, ""
    for line in lines[1:]:
        name, equals, number = (part.strip() for part in line.partition("="))
        if not equals:
            section = name.rstrip(":")
        elif name == "Value":
            value = fractions.Fraction(number)
        elif section == "VARS":
            columns[name] = fractions.Fraction(number)
    return value, columns


def near(theirs, ours, within=WITHIN):
    return theirs is not None and abs(float(theirs) - ours) <= within * max(1.0, abs(ours))


def read_batch(program, start, end, folder):
    """Our values by (round, stage) and our amounts by round."""
    values, amounts = {}, {}
    told = subprocess.run([program, str(start), str(end), str(folder)], capture_output=True, text=True, check=True)
    for line in told.stdout.splitlines():
        fields = line.split()
        if fields[1] == "amount":
            amounts.setdefault(int(fields[0]), {})[fields[2]] = float(fields[3])
        else:
            values[int(fields[0]), int(fields[1])] = float(fields[2])
    return values, amounts


def amounts_differ(ours, exact):
    names = set(ours) | {name for name in exact if name[:2] in ("x_", "b_")}
    return [name for name in sorted(names) if not near(exact.get(name, 0), ours.get(name, 0), AMOUNT_WITHIN)]


class Tally:
    def __init__(self):
        self.faults, self.glpsol, self.settled, self.exact, self.amounts, self.worst = 0, 0, 0, 0, 0, 0.0

    def fault(self, where, text):
        self.faults += 1
        print(f"round {where[0]} stage {where[1]}: {text}")

    def check(self, where, theirs, ours):
        if theirs is None or not near(theirs, ours):
            self.fault(where, f"the exact value is {theirs if theirs is None else float(theirs)!r}, ours {ours!r}")
        else:
            self.worst = max(self.worst, abs(float(theirs) - ours) / max(1.0, abs(ours)))


def check_file(tally, where, ours, amounts, folder, exactly):
    lp = folder / f"{where[0]}-{where[1]}.lp"
    tally.glpsol += 1
    agreed = near(solve_glpsol(lp, folder), ours)
    tally.settled += not agreed
    if agreed and not exactly:
        return
    value, columns = solve_esolver(lp, folder)
    tally.exact += 1
    tally.check(where, value, ours)
    if where[1] == STAGES - 1:
        tally.amounts += 1
        for name in amounts_differ(amounts, columns):
            tally.fault(where, f"{name} is exactly {float(columns.get(name, 0))!r}, ours {amounts.get(name, 0)!r}")


def option(args, name, fallback):
    return int(args[args.index(name) + 1]) if name in args else fallback


def main(args):
    if not args or args[0].startswith("-"):
        print(__doc__)
        return 2
    missing = [name for name in ("glpsol", "esolver") if not shutil.which(name)]
    if missing:
        print(f"recipe_lp: skipped, {' and '.join(missing)} not installed")
        return 77
    program, thorough = str(pathlib.Path(args[0]).resolve()), "--long" in args
    start, rounds, tally = option(args, "--from", 0), option(args, "--rounds", 1000 if thorough else 200), Tally()
    for first in range(start, start + rounds, BATCH):
        with tempfile.TemporaryDirectory() as name:
            folder = pathlib.Path(name)
            values, amounts = read_batch(program, first, min(first + BATCH, start + rounds), folder)
            for where, ours in sorted(values.items()):
                if thorough or where[0] % STAGES == where[1]:
                    exactly = thorough or where[0] % 5 == 0
                    check_file(tally, where, ours, amounts.get(where[0], {}), folder, exactly)
    print(f"recipe_lp: {rounds} rounds; {tally.glpsol} programmes by glpsol ({tally.settled} settled exactly), "
          f"{tally.exact} exactly, {tally.amounts} exact sets of amounts; largest exact difference {tally.worst:.1e}; "
          f"{tally.faults} faults")
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
