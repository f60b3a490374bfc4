# SPDX-License-Identifier: GPL-3.0-or-later
"""All that --json prints is as docs/schema says: runs commands on several stores and validates each answer; prints TAP.

usage: schema.py [rewrite]      rewrite: writes docs/schema from what is printed

Needs NEAP; works in the folder it is started in. A schema says which keys there are, which
are always there, and what each holds; units stand in the keys' names.
"""
import json
import os
import pathlib
import subprocess
import sys

import jsonschema

NEAP = os.environ["NEAP"]
TOP = pathlib.Path(__file__).resolve().parent.parent.parent
SCHEMAS = TOP / "docs" / "schema"
STORES = ("weeks.neap", "begun.neap", "shop.neap")
DAY = "2026-11-27"
# Objects whose keys are names of the question's own: every one of them is of one kind.
FREE = {("calc", "given"), ("calc", "answers"), ("history", "key")}


def run(store, *words, day=DAY, may_fail=False):
    done = subprocess.run([NEAP, "--db", store, "--on", day, *words], capture_output=True, text=True, stdin=subprocess.DEVNULL)
    if done.returncode and not may_fail:
        sys.exit(f"not ok {' '.join(words)}: {done.stderr}")
    return done.stdout


def listed(store, register):
    return json.loads(run(store, "--json", "list", register))[register]


def last_round(store):
    """The lines of the last round."""
    lines = listed(store, "line")
    return [r for r in lines if r["round"] == lines[-1]["round"]]


def stores():
    """Three shops on a feeding day: ten weeks old, begun today, and small; each before and after its round is logged."""
    run("weeks.neap", "start", "--demo")
    run("begun.neap", "start", "--demo", "--no-log")
    run("shop.neap", "start")
    run("shop.neap", "load", *[str(TOP / "tests" / "shop" / f"{t}.csv")
                               for t in ("setting", "system", "tank", "colony", "lot", "test")])
    run("empty.neap", "start", "--empty")
    for store in STORES:
        run(store, "plan", "--effort", "0.1")


def questions(store, begun):
    """Pairs of a schema's name and the words of a command."""
    system, tank = (listed(store, r)[0]["name"] for r in ("system", "tank"))
    colony, lot = (listed(store, r)[0]["code"] for r in ("colony", "lot"))
    last = last_round(store)
    if begun:  # before the log it is the same but for the ledgers
        yield "registers", ("dump",)
    yield "registers", ("list", "tank")
    yield "sheet", ("sheet",)
    yield "sheet", ("sheet", "--mixing")
    yield "sheet", ("sheet", "--units", "us", "--feeder", "1")
    if not begun:
        yield "plan", ("plan", "--dry-run", "--effort", "0.1")
        yield "plan", ("plan", "--dry-run", "--compare", "--strength", "0.5", "--effort", "0.1")
    yield "log", ("log", "--show")
    if begun or store != "weeks.neap":  # an old store takes long over each, and says the same of a round before its log
        one_of_each = {r["action"]: str(r["number"]) for r in last}.values()
        switches = [] if store == "shop.neap" else ["switch sw1"]
        subjects = (*one_of_each, "pot A", f"tank {tank}", f"system {system}", f"colony {colony}", "head", "totals", *switches)
        yield "why", ("why", *[word for of in subjects for word in of.split(" ", 1)])
    yield "why", ("why", "stock", listed(store, "food")[0]["name"])
    yield "trend", ("trend",)
    yield "trend", ("trend", "--system", system)
    yield "ahead", ("ahead", "--weeks", "2", "--runs", "200")
    yield "ahead", ("ahead", "--weeks", "2", "--runs", "200", "--strength", "0.5", "--change-water", "10%/week")
    yield "stock", ("stock",)
    yield "where", ("stock", "--lot", lot, "--where")
    yield "treat", ("treat",)
    yield "test", ("test",)
    yield "test", ("test", system, "no3=5", "po4=below0.02", "--at", f"{DAY}T07:00", "--dry-run")
    yield "water", ("water", system, "50L", "--dry-run")
    yield "history", ("history",)
    yield "audit", ("audit",)
    yield "labels", ("labels", "tank")
    if any(r["action"] == "target" for r in last):
        yield "labels", ("labels", "pot")


def logged(store):
    fed = [r["number"] for r in last_round(store) if r["action"] == "target"]
    system, tank = (listed(store, r)[0]["name"] for r in ("system", "tank"))
    run(store, "log", "--all", f"{fed[0]}=r:0", f"{fed[-1]}=:4", "--by", "1=JK", "--note", "all well")
    run(store, "test", system, "no3=5", "po4=0.05", "alk=8.1dKH", "temp=25.1C")
    run(store, "water", system, "50L")
    run(store, "treat", tank, "iodine dip", "--minutes", "10")


def thinned(answer):
    """A dump of ten weeks takes as long to validate as all else: of each register its first rows, and each seventh of the others."""
    return {k: v[:50] + v[50::7] if isinstance(v, list) else v for k, v in answer.items()}


def answers():
    stores()
    for store in STORES:
        for begun in (False, True):
            if begun:
                logged(store)
            for name, words in questions(store, begun):
                said = run(store, "--json", *words, may_fail=name == "audit")
                if not said.startswith("{"):
                    sys.exit(f"not ok {store}: {' '.join(words)} prints no data: {said[:200]}")
                whole = words != ("dump",) or "ROWS" in os.environ  # in a soak
                yield name, words, json.loads(said) if whole else thinned(json.loads(said))
        of_a_row = ("history", "system", listed(store, "system")[0]["name"])
        yield "history", of_a_row, json.loads(run(store, "--json", *of_a_row))
    for words in (("dump",), ("history",), ("audit",)):
        yield ("registers" if words == ("dump",) else words[0]), words, json.loads(run("empty.neap", "--json", *words))
    for what in [line.split()[0] for line in run("empty.neap", "calc").splitlines() if line.startswith("  ")]:
        example = run("empty.neap", "calc", what).strip().splitlines()[-1].split("neap ", 1)[1]
        done = subprocess.run(f"'{NEAP}' --json {example}", shell=True, capture_output=True, text=True, check=True)
        yield "calc", ("calc", what), json.loads(done.stdout)


# ---- a schema of answers ----------------------------------------------------------------------------------------------


def kind(value):
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "boolean"
    return {int: "number", float: "number", str: "string", list: "array", dict: "object"}[type(value)]


def shape(values, path):
    """The least schema that all values are of."""
    kinds = sorted({kind(v) for v in values})
    out = {"type": kinds if len(kinds) > 1 else kinds[0]}
    objects = [v for v in values if isinstance(v, dict)]
    items = [i for v in values if isinstance(v, list) for i in v]
    if objects and path[-2:] in FREE:
        out["additionalProperties"] = shape([x for o in objects for x in o.values()], path + ("*",))
    elif objects:
        names = list(dict.fromkeys(k for o in objects for k in o))
        out["properties"] = {k: shape([o[k] for o in objects if k in o], path + (k,)) for k in names}
        out["required"] = [k for k in names if all(k in o for o in objects)]
        out["additionalProperties"] = False
    if items:
        out["items"] = shape(items, path)
    return out


TITLES = {
    "ahead": "weeks ahead, as now and what if", "audit": "whether the store is whole", "calc": "a calculation of the desk",
    "history": "the journal, or what became of one row", "labels": "labels for tanks, colonies, racks or pots",
    "log": "what is logged so far of a round", "plan": "what a plan came to", "sheet": "the pages of a round, block by block",
    "stock": "what is on the shelf, what to order, what it cost", "test": "readings entered, or tests that are due",
    "treat": "treatments and quarantine", "trend": "the weekly report", "water": "a water change entered",
    "where": "which rounds, tanks and colonies got a lot", "why": "the working behind a number",
}


def rewrite(found):
    for name, values in found.items():
        schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": f"neap: {TITLES[name]}",
                  **shape(values, (name,))}
        schema["properties"]["schema"] = {"const": values[0]["schema"]}
        (SCHEMAS / f"{name}.json").write_text(json.dumps(schema, indent=1, ensure_ascii=False) + "\n")


def main():
    found, wrong, n = {}, 0, 0
    again = sys.argv[1:] == ["rewrite"]
    schemas = {} if again else {p.stem: jsonschema.Draft202012Validator(json.loads(p.read_text())) for p in SCHEMAS.glob("*.json")}
    registers = subprocess.run([NEAP, "help", "--schema"], check=True, capture_output=True, text=True).stdout
    schemas["registers"] = jsonschema.Draft202012Validator(json.loads(registers))  # written from the field table
    for schema in schemas.values():
        schema.check_schema(schema.schema)
    for name, words, answer in answers():
        n += 1
        found.setdefault(name, []).append(answer)
        for error in [] if again and name != "registers" else list(schemas[name].iter_errors(answer))[:3]:
            wrong += 1
            print(f"not ok {' '.join(words)}: /{'/'.join(str(p) for p in error.absolute_path)}: {error.message[:200]}")
    unused = set(schemas) - set(found)
    if unused:
        wrong += 1
        print(f"not ok nothing is printed by {sorted(unused)}")
    if again:
        found.pop("registers")
        rewrite(found)
    print(f"ok 1 {n} answers are as docs/schema says; again: tests/cli/schema.py, to take them: … rewrite" if not wrong else "")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
