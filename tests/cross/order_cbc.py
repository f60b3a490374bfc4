#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Compare the order's finish with the optimum of a time-indexed programme, solved by CBC, for two and three feeders.

The programme is written from the rules in docs/order.md, neither from the planner nor from the model for MiniZinc.
Time is cut into minutes. Feeders are a flow of people from one place and minute to another: someone waits, walks,
changes tools or does a task, which begins and ends at its tank. A task has a column per minute, 1 once it has begun;
windows compare such columns. CBC looks for the least finish that is no later than ours: where it finds none at all,
ours breaks a rule.

Where the planner says "proven", CBC must find the same finish; otherwise the finish must lie between the planner's
bound and its plan. What CBC has found when its time is out must not contradict us either.

usage: order_cbc.py PROGRAM [--rounds N] [--seconds N] [--long]      PROGRAM is tests/cross/order.c, built
Exit 0: all agree, and CBC has finished enough of them to say so; 1: not; 77: CBC is missing.
"""
import argparse
import collections
import concurrent.futures
import os
import random
import shutil
import subprocess
import sys
import tempfile

from lib.order_rounds import ceil_div, random_round, solve_ours

ENOUGH_SHORT = 0.9  # of the rounds, CBC must have proven its finish in so many
ENOUGH_LONG = 0.75

Task = collections.namedtuple("Task", "place minutes quarantine")
Window = collections.namedtuple("Window", "before after least most")  # minutes from start to start; most None: any


class Round:
    """The tasks that take hands, and the windows between their starts."""

    def __init__(self, p):
        self.tasks, self.windows = [], []
        for tank in p["tanks"]:
            if tank["feed_s"]:
                self.add_stops(p, tank)
            elif tank["broadcast"] + tank["fish"]:
                self.add_task(tank, tank["broadcast"] + tank["fish"])
        self.n = len(self.tasks)

    def add_task(self, tank, minutes):
        self.tasks.append(Task(tank["position"], minutes, bool(tank["quarantine"])))
        return len(self.tasks) - 1

    def add_stops(self, p, tank):
        switch, feed = p["switch"], ceil_div(tank["feed_s"], 60)
        passes = 1
        while switch + ceil_div(feed, passes) + tank["rest"] + switch > tank["limit"]:
            passes += 1
        wanted = ceil_div(min(tank["wanted"], tank["limit"]), passes)
        turned_on = None
        for i in range(passes):
            share = feed // passes + (1 if i < feed % passes else 0)
            off_at = 0 if i else tank["fish"]       # from the visit's start, as are the next three
            corals_at = off_at + switch
            corals_end = corals_at + share
            visit = self.add_task(tank, corals_end)
            if i == 0 and tank["broadcast"]:
                given = self.add_task(tank, tank["broadcast"])
                since = tank["broadcast"] - corals_at
                least = max(tank["broadcast"], since + p["lag_min"])
                self.windows.append(Window(given, visit, least, since + p["lag_max"]))
            if turned_on is not None:
                self.windows.append(Window(turned_on, visit, switch + p["gap"], None))
            turned_on = self.add_task(tank, switch)
            self.windows.append(Window(visit, turned_on, max(corals_end + tank["rest"], off_at + wanted - switch),
                                       off_at + tank["limit"] - switch))


class Programme:
    """Rows over named columns; a column's name may be a number instead, which is then its value."""

    def __init__(self):
        self.rows, self.whole, self.has_room = [], set(), True

    def at_most(self, left, right):
        """The sum of left <= the sum of right; both are lists of (factor, column)."""
        factors, constant = collections.Counter(), 0
        for sign, terms in ((1, left), (-1, right)):
            for factor, column in terms:
                if isinstance(column, int):
                    constant += sign * factor * column
                else:
                    factors[column] += sign * factor
        factors = {column: factor for column, factor in factors.items() if factor}
        if factors:
            self.rows.append((factors, -constant))
        elif constant > 0:
            self.has_room = False

    def text(self, objective):
        def total(factors):
            return "\n".join(f"{factor:+d} {column}" for column, factor in factors.items())

        lines = ["Minimize", "obj:", total(objective), "Subject To"]
        lines += [f"r{i}: {total(factors)} <= {limit}" for i, (factors, limit) in enumerate(self.rows)]
        return "\n".join(lines + ["Binaries"] + sorted(self.whole) + ["End", ""])


def spans_of(p, r, first, latest):
    """Earliest and latest start of each task, and the least time from its start to the round's end; None: no room."""
    tool = p["tool_change"]
    windows = list(r.windows)
    for i, a in enumerate(r.tasks):
        windows += [Window(i, j, a.minutes, None) for j, b in enumerate(r.tasks) if b.quarantine and not a.quarantine]
    low = [first + (tool if t.quarantine else 0) for t in r.tasks]
    tail = [t.minutes for t in r.tasks]
    for _ in range(r.n):
        for w in windows:
            low[w.after] = max(low[w.after], low[w.before] + w.least)
            tail[w.before] = max(tail[w.before], w.least + tail[w.after])
            if w.most is not None:
                low[w.before] = max(low[w.before], low[w.after] - w.most)
    high = [latest - minutes for minutes in tail]
    return (low, high, tail) if all(a <= b for a, b in zip(low, high)) else None


def programme_of(p, r, latest):
    """The programme for finishing by minute latest as an LP file's text; None where there is plainly no room."""
    first = min(p["ready"])
    spans = spans_of(p, r, first, latest)
    if not spans:
        return None
    low, high, tail = spans
    m = Programme()

    def column(name, t, begin, end):
        """Of a column that is 0 before begin and 1 from end on."""
        if t < begin or t >= end:
            return 0 if t < begin else 1
        name = f"{name}_{t - first}"
        m.whole.add(name)
        return name

    def begun(i, t):
        return column(f"b{i}", t, low[i], high[i])

    def over(t):
        return column("over", t, max(a + b for a, b in zip(low, tail)), latest)

    def turned(t):
        return column("turned", t, first, latest)

    for t in range(first, latest + 1):
        m.at_most([(1, over(t))], [(1, over(t + 1))])
        m.at_most([(1, turned(t))], [(1, turned(t + 1))])
        for i in range(r.n):
            m.at_most([(1, begun(i, t))], [(1, begun(i, t + 1))])
            m.at_most([(1, over(t))], [(1, begun(i, t - tail[i]))])
        for w in r.windows:
            m.at_most([(1, begun(w.after, t))], [(1, begun(w.before, t - w.least))])
            if w.most is not None:
                m.at_most([(1, begun(w.before, t))], [(1, begun(w.after, t + w.most))])
        # Quarantine after all others: no minute at which one has begun and one of the others is not over.
        for i, task in enumerate(r.tasks):
            if task.quarantine:
                m.at_most([(1, begun(i, t))], [(1, turned(t))])
            else:
                m.at_most([(1, turned(t))], [(1, begun(i, t - task.minutes))])
    add_people(p, r, m, begun, first, latest)
    objective = {over(t): -1 for t in range(first, latest) if over(t) != 0}
    return m.text(objective or {"none": 0}) if m.has_room else None


def add_people(p, r, m, begun, first, latest):
    """Nobody leaves a place and minute who has not come there. In quarantine a place is another one."""
    places = sorted({(t.quarantine, t.place) for t in r.tasks})
    coming, going = collections.defaultdict(list), collections.defaultdict(list)

    def move(name, here, t, there, minutes):
        if t + minutes <= latest:
            going[here, t].append((1, name))
            coming[there, t + minutes].append((1, name))

    for a, here in enumerate(places):
        for t in range(first, latest + 1):
            for b, there in enumerate(places):
                if there[0] < here[0]:
                    continue    # no going back from quarantine
                minutes = ceil_div(abs(here[1] - there[1]), p["speed"]) + p["tool_change"] * (there[0] - here[0])
                move(f"w{a}_{b}_{t - first}", here, t, there, minutes if a != b else 1)
    for ready, people in collections.Counter(p["ready"]).items():
        enter = []
        for b, there in enumerate(places):
            t = ready + p["tool_change"] * there[0]
            if t <= latest:
                coming[there, t].append((1, f"in{b}_{ready}"))
                enter.append((1, f"in{b}_{ready}"))
        m.at_most(enter, [(people, 1)])
    passing = []
    for i, task in enumerate(r.tasks):
        here = (task.quarantine, task.place)
        for t in range(first, latest + 1):
            starts = [(1, begun(i, t)), (-1, begun(i, t - 1))]
            if task.minutes:
                going[here, t] += starts
                coming[here, t + task.minutes] += starts
            else:
                passing.append((starts, (here, t)))
    for starts, node in passing:    # such a task takes no time, but somebody who is there
        m.at_most(starts, coming[node])
    for here in places:
        for t in range(first, latest + 1):
            m.at_most(going[here, t], coming[here, t])


def solve_cbc(job):
    """What CBC says of finishing by minute latest: optimum, none, time (with the best found, if any) or error."""
    folder, number, p, latest, limit_s = job
    text = programme_of(p, Round(p), latest)
    if text is None:
        return "none", None
    lp, out = os.path.join(folder, f"{number}.lp"), os.path.join(folder, f"{number}.out")
    with open(lp, "w", encoding="ascii") as f:
        f.write(text)
    command = ["cbc", lp, "-timeMode", "cpu", "-seconds", str(limit_s), "-solve", "-solution", out]
    log = subprocess.run(command, capture_output=True, text=True, check=False).stdout
    if not os.path.exists(out):
        return "error", log.strip()[-500:]
    with open(out, encoding="ascii") as f:
        head = f.readline()
    if "nfeasible" in head:
        return "none", None
    value = float(head.split()[-1])
    finish = round(latest + value)
    if "no integer solution" in head:
        finish = None   # the value is the relaxation's
    if head.startswith("Optimal"):
        return "optimum", finish
    return ("time", finish) if head.startswith("Stopped on time") else ("error", head.strip())


def report(answers, ours, enough):
    """Print what differs and a line with all counts; the exit status."""
    same = longer = timed_out = faults = proven = 0
    over_frac = [0]
    for (_, i, p, _, _), (kind, value) in answers:
        finish, bound, is_proven, is_valid = ours[i]
        proven += is_proven
        contradicts = value is not None and kind != "error" and (value < bound or (is_proven and value < finish))
        if not is_valid or kind in ("none", "error") or contradicts:
            faults += 1
            print(f"round {i}: {p}: ours (finish, bound, proven, valid) {ours[i]}; CBC: {kind} {value}")
        elif kind == "time":
            timed_out += 1
        elif value == finish:
            same += 1
        else:
            longer += 1
            over_frac.append(finish / value - 1)
    few = same + longer < enough * len(answers)
    print(f"order against CBC: {len(answers)} rounds of 2 or 3 feeders, {proven} proven by us, "
          f"{same} with the same finish, {longer} where ours is longer (by up to {max(over_frac):.0%}) "
          f"but not said to be proven, {timed_out} out of CBC's time, {faults} faults"
          + (f"; too few finished by CBC, {enough:.0%} wanted" if few else ""))
    return 1 if faults or few else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program", help="tests/cross/order.c, built")
    parser.add_argument("--rounds", type=int, help="30, or 60 with --long")
    parser.add_argument("--long", action="store_true", help="rounds of 4 to 8 tanks instead of 2 to 4, more time each")
    parser.add_argument("--seconds", type=int, help="CBC's time for a round: 20, or 300 with --long")
    args = parser.parse_args()
    if not shutil.which("cbc"):
        print("skipped: cbc not installed")
        sys.exit(77)
    rng = random.Random(577 if args.long else 1957)
    least, most = (4, 8) if args.long else (2, 4)
    n = args.rounds or (60 if args.long else 30)
    seconds = args.seconds or (300 if args.long else 20)
    rounds = [random_round(rng, rng.randint(least, most), 2 + i % 2) for i in range(n)]
    ours = solve_ours(args.program, rounds, 200000000 if args.long else 20000000)
    with tempfile.TemporaryDirectory() as folder:
        jobs = [(folder, i, p, ours[i][0], seconds) for i, p in enumerate(rounds) if Round(p).n]
        with concurrent.futures.ThreadPoolExecutor(2) as pool:
            answers = list(zip(jobs, pool.map(solve_cbc, jobs)))
    sys.exit(report(answers, ours, ENOUGH_LONG if args.long else ENOUGH_SHORT))


if __name__ == "__main__":
    main()
