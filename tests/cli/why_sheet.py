# SPDX-License-Identifier: GPL-3.0-or-later
"""Each number that a printed sheet and stock list show is answered by why, kind by kind; prints TAP.

usage: why_sheet.py     needs NEAP and NEAP_DB, with the day's round planned
"""
import json
import os
import re
import subprocess
import sys

NEAP = os.environ["NEAP"]
STOCK_ROW = r"(\S.*?) +([\d.]+) m?[gL](?: +([\d.]+))?(?: +(\d+))?(?: +(\d+) packs?)?$"
wrong = []
counted = {}


def run(*words):
    return subprocess.run([NEAP, "--on", "2026-11-27", *words], capture_output=True, text=True, check=True).stdout


def why(*subjects):
    """Of each subject its rows: what → the list of values, numbers or clocks, or of numbers in the words beside it."""
    answers = []
    for x in json.loads(run("--json", "why", *subjects))["why"]:
        rows = {"": [x.get("answer")]}
        for step in x["steps"]:
            for r in step["rows"]:
                value = r.get("clock", r.get("value"))
                rows.setdefault(r.get("what", ""), []).append(r.get("words") if value is None else value)
        answers.append(rows)
    return answers


def why_each(kind, names):
    """Of each name its rows, asked in one go: most of a command's time is reading the store."""
    names = list(dict.fromkeys(names))
    return dict(zip(names, why(*[word for name in names for word in (kind, name)]))) if names else {}


def same(printed, value):
    """As printed: a clock, or a number to the digits it has on paper."""
    if ":" in printed:
        return str(value)[:5] == printed
    if not isinstance(value, (int, float)):
        return False
    decimals = len(printed.partition(".")[2])
    return abs(float(printed) - value) <= 0.5 * 10 ** -decimals + 1e-9


def holds(kind, rows, what, printed):
    counted[kind] = counted.get(kind, 0) + 1
    if not any(same(printed, v) for v in rows.get(what, [])):
        wrong.append(f"{kind}: the sheet has {printed}; \"{what}\" has {rows.get(what)}")


def check_head(text):
    (rows,) = why("head")
    flat = " ".join(text.split("CAUTIONS")[0].split())
    m = re.search(r"(\d+) tanks?, (\d+) colon\w+, (\d+) pots?, (\d+) feeders?. First broadcast (\S+), all flows on by ([\d:]+)\. "
                  r"(\d+) min, (\d+) m to walk; no order is shorter than (\d+) min", flat)
    names = ("tanks", "colonies", "pots", None, "begins", "all flows on", "takes", "to walk", "no order is shorter than")
    for what, printed in zip(names, m.groups()):
        if what:
            holds("head", rows, what, printed)
    holds("head", rows, "", m[7])
    if sum(k.startswith("feeder ") for k in rows) != int(m[4]):
        wrong.append("head: not every feeder is in it")
    holds("head", rows, "not fed, and listed", re.search(r"NOT FED TODAY: (\d+)", text)[1])
    holds("head", rows, "flows to turn back on", re.search(r"ALL FLOWS ON: ____ of (\d+)", text)[1])
    holds("head", rows, "switches to turn back on", re.search(r"ALL SWITCHES ON: ____ of (\d+)", text)[1])


def check_totals(text):
    steps = {s["title"]: s["rows"][-1]["value"] for s in json.loads(run("--json", "why", "totals"))["why"][0]["steps"]}
    part = text.split("BEFORE THE ROUND")[1].split("in this order")[0]
    found = re.findall(r"^\[ \] (.+?), ([\d.]+) m?[gL]:", part, re.M)
    if {name for name, _ in found} != set(steps):
        wrong.append(f"totals: {sorted(steps)} beside {found}")
    for name, amount in found:
        holds("totals", {name: [steps.get(name)]}, name, amount)


def check_pots(text):
    mixing = text.split("in this order")[1].split("FEEDER 1")[0]
    parts = re.split(r"^POT ", mixing, flags=re.M)[1:]
    answers = why_each("pot", [part[0] for part in parts])
    for part in parts:
        rows, flat = answers[part[0]], " ".join(part.split())
        m = re.search(r"mixes it at (\S+), good until ([\d:]+) Make up to ([\d.]+) mL: ([\d.]+) mL for the corals, the rest is loss. "
                      r"([\d.]+) g (?:dry )?per 100 mL(?:, ([\d.]+) of house)?", flat)
        for what, printed in zip(("mixed from", "good until", "make up to", "for the corals", "dry food in it", "of the house strength"),
                                 m.groups()):
            if printed:
                holds("pot", rows, what, printed)
        holds("pot", rows, "water", re.search(r"clean salt water\s+([\d.]+) mL", part)[1])
        for food, amount, scoops, least, most in re.findall(
                r"^\[ \] (.+?) \(\S+\)\s+([\d.]+) m?[gL]\s+(?:([\d.]+)\s+)?(?:just )?([\d.]+)(?: to ([\d.]+))?  ____", part, re.M):
            holds("amount", rows, food, amount)
            if scoops:
                holds("scoops", rows, "scoops", scoops)
            holds("allowed", rows, "allowed, least" if most else "allowed, just", least)
            if most:
                holds("allowed", rows, "allowed, most", most)


def check_lists(text):
    """The lines: clock, amount, colonies and mouths, limits of flows; the switches; the heads of the tanks."""
    lists = text[text.index("FEEDER 1: MY LIST"):text.index("BEFORE YOU LEAVE")]
    clock, lines = None, []
    for line in lists.splitlines():
        m = re.match(r"(\d\d:\d\d|     ) +(\d+) (.*)", line)
        if m:
            clock = m[1].strip() or clock
            lines.append((clock, m[2], m[3]))
    for (clock, number, rest), rows in zip(lines, why(*[n for _, n, _ in lines])):
        holds("clock", rows, "switch it on" if "FLOW ON" in rest else "begins", clock)
        if m := re.search(r"([\d.]+) (?:[A-Z]|m?[gL]) \[ \]_____", rest):
            holds("line", rows, "this line", m[1])
        if m := re.search(r"(\d+) (?:cloud|x (\d+) m) ", rest):
            holds("line", rows, "colonies", m[1])
            if m[2]:
                holds("line", rows, "mouths of each", m[2])
        if m := re.search(r"FLOW OFF, (\d+) min at most", rest):
            holds("flow", rows, "at most", m[1])
        if m := re.search(r"look; by ([\d:]+)", rest):
            holds("flow", rows, "must run by", m[1])
    turns = [(clock, turn, number)
             for clock, turn, switches in re.findall(r"^(\d\d:\d\d) +\w+: SWITCH (OFF|ON): [^(]*\(([^)]*)\)", lists, re.M)
             for number in re.findall(r"sw\d+", switches)]
    answers = why_each("switch", [number for _, _, number in turns])
    for clock, turn, number in turns:
        holds("switch", answers[number], "first line of them begins" if turn == "OFF" else "on again", clock)
    heads = re.findall(r"^      (\w+) \(\w+, (\d+) L\)((?:,\s+pot \w [\d.]+ mL)+)", lists, re.M)
    answers = why_each("tank", [tank for tank, _, _ in heads])
    for tank, litres, pots in heads:
        holds("tank", answers[tank], "net", litres)
        for pot, ml in re.findall(r"pot (\w) ([\d.]+) mL", pots):
            holds("tank", answers[tank], f"pot {pot}", ml)


def check_flows(text):
    """The lead's table of flows, by the lines that turn them on."""
    on = {(clock, tank): n for clock, n, tank in re.findall(r"^(\d\d:\d\d) +(\d+) (\w+): FLOW ON", text, re.M)}
    flows = re.findall(r"^(\d\d:\d\d) +\d+ (\w+).*? (\d\d:\d\d) +\d+ +(\d\d:\d\d) \[ \] __:__$", text, re.M)
    answers = why_each("line", [on[switch, tank] for switch, tank, _, _ in flows])
    for switch, tank, off, by in flows:
        rows = answers[on[switch, tank]]
        for what, printed in (("switch it on", switch), ("flow goes off", off), ("must run by", by)):
            holds("flow table", rows, what, printed)


def check_stock():
    text = run("stock")
    table = text.split("---\n")[1].split("\n\n")[0]
    foods = [m[1] for m in (re.match(STOCK_ROW, line) for line in table.splitlines()) if m]
    rows, answers = None, why_each("stock", foods)
    for line in table.splitlines():
        if m := re.match(r"  (\S+) +([\d.]+) m?[gL]", line):
            holds("lot", rows, f"lot {m[1]}", m[2])
        elif m := re.match(STOCK_ROW, line):
            rows = answers[m[1]]
            holds("stock", rows, "left", m[2])
            if m[3]:
                holds("stock", rows, "a day", m[3])
            if m[4]:  # whole days
                holds("stock", {"days": [int(v) for v in rows["days"] if isinstance(v, (int, float))]}, "days", m[4])
            if m[5]:
                holds("stock", rows, "packs to order", m[5])


def main():
    text = run("sheet", "--no-pages")
    for check in (check_head, check_totals, check_pots, check_lists, check_flows):
        check(text)
    check_stock()
    least = {"head": 11, "totals": 9, "pot": 25, "amount": 12, "scoops": 5, "allowed": 20, "clock": 70, "line": 60, "flow": 18,
             "switch": 15, "tank": 15, "flow table": 27, "lot": 10, "stock": 10}
    wrong.extend(f"{kind}: only {counted.get(kind, 0)} numbers were found" for kind, n in least.items() if counted.get(kind, 0) < n)
    for text in wrong:
        print("not ok", text)
    print("" if wrong else f"ok 1 {sum(counted.values())} numbers are answered: {counted}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
