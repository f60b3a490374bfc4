# SPDX-License-Identifier: GPL-3.0-or-later
"""What start and add food ask at a real terminal; prints TAP. Needs NEAP; works in the folder it is started in."""
import os
import signal
import sqlite3
import subprocess
import sys

import pexpect

NEAP = os.environ["NEAP"]
DB = os.path.abspath("guided.neap")


def neap(*words):
    return subprocess.run([NEAP, "--db", DB, "--on", "2026-11-24", *words], check=True, capture_output=True, text=True).stdout


def fresh():
    for name in os.listdir("."):
        if name.startswith("guided.neap"):
            os.remove(name)


def as_from_a_shell():
    for sig in (signal.SIGINT, signal.SIGQUIT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(sig, signal.SIG_DFL)


def begin(*words):
    child = pexpect.spawn(NEAP, ["--db", DB, "--on", "2026-11-24", *words], encoding="utf-8", timeout=60, dimensions=(60, 90),
                          env=dict(os.environ, TERM="xterm"), preexec_fn=as_from_a_shell)
    child.delaybeforesend = None
    return child


def end(child, status=0):
    child.expect(pexpect.EOF)
    child.wait()
    child.close()
    assert child.exitstatus == status, (child.exitstatus, child.before)


def answer(child, *pairs):
    for question, typed in pairs:
        child.expect_exact(question)
        child.sendline(typed)


HOUSE = [("tanks now, y or n? [y]", ""), ("metric or us? [metric]", "us"), ("name, for the paper?", "Withy Lane"),
         ("How many people feed? [1]", "2"), ("What prices are in", "USD"), ("call the first one? [main]", "racks"),
         ("Water in its sump, usgal? [0]", "50")]
TANK = [("written on the tank? [T1]", ""), ("stated for a volume you know? [box]", ""), ("Inside length, in?", ""), ("expected a measure", ""), ("expected a measure", "48"),
        ("front to back, in?", "24"), ("Height of the water, in?", "16"), ("racks take up? [10%]", "10"), ("or a percentage: 10%", "10%"),
        ("through the room, ft? [10]", ""), ("must be fed first, yes or no? [no]", "")]
CORALS = [("A kind of corals in T1, by number or name? [no more]", "branching"), ("or its rack? [T1-01]", ""),
          ("the sheet should call it? [branching euphylliids]", "torch, gold"), ("How many of them? [1]", "4"),
          ("of each that eat? [1]", "3"), ("A kind of corals in T1, by number or name? [no more]", "no"),
          ("Another tank of this water, y or n? [n]", "")]
FOOD = [("Which are on your shelf, by number, as 1 4 9? [none]", "9"), ("How much of it is there, in g?", "100"),
        ("The number on the pack? [RP-1]", ""), ("Use by, as 2027-01-31", "2027-03-01"),
        ("or as printed: 5 mL per 50 US gal? [0.08]", "0.1 g per 50 US gal")]


def start_leads_from_nothing_to_the_first_sheet():
    p = begin("start")
    answer(p, *HOUSE, *TANK)
    p.expect_exact("That is 272 L (72 US gal) of water.")  # 48 x 24 x 16 in, less a tenth: 302.1 L, 271.8 L
    p.expect_exact("16 xeniids\r\n  17 zoanthids\r\n")  # two in a row of the list, and the last alone
    answer(p, *CORALS, *FOOD, ("Work out today's round now? [y/N]", "y"))
    p.expect_exact("round 1 revision 1: 3 lines, 4 colonies, 1 pot")
    end(p)
    assert "torch, gold" in neap("sheet")
    con = sqlite3.connect(DB)
    assert con.execute("SELECT name, system, fish FROM tank").fetchall() == [("T1", "racks", 0)]
    assert abs(con.execute("SELECT length_cm FROM tank").fetchone()[0] - 121.92) < 1e-9
    assert abs(con.execute("SELECT sump_volume_l FROM system").fetchone()[0] - 50 * 3.785411784) < 1e-6
    ceiling = con.execute("SELECT ceiling_units_per_100l FROM food WHERE name = 'rich powder'").fetchone()[0]
    assert abs(ceiling - 0.1 / (50 * 3.785411784) * 100) < 1e-6
    assert con.execute("SELECT count(*) FROM entry").fetchone()[0] == 2
    con.close()
    assert "currency" in neap("dump", "setting") and "USD" in neap("dump", "setting")


def it_can_be_left_at_any_question_and_nothing_is_made():
    script = HOUSE + TANK + CORALS + FOOD
    for n in (0, 1, 6, 8, 14, 17, 21, 22, 23, len(script) - 1):
        for way in ("q", None):
            p = begin("start")
            answer(p, *script[:n])
            p.expect_exact(script[n][0])
            if way:
                p.sendline(way)
            else:
                p.sendeof()
            p.expect_exact("nothing was made")
            end(p)
            assert os.listdir(".") == [], os.listdir(".")
    p = begin("start")
    answer(p, *script[:9])
    p.expect_exact(script[9][0])
    p.sendintr()
    p.expect(pexpect.EOF)
    p.close()
    assert os.listdir(".") == []


def a_wrong_answer_is_told_and_asked_again():
    p = begin("start")
    answer(p, *HOUSE[:3], ("How many people feed? [1]", "none"))
    p.expect_exact('feeders is "none"')
    answer(p, *HOUSE[3:], TANK[0], ("[box]", "cut corner"), ("Inside length, in?", "48"), ("front to back, in?", "24"),
           ("takes of the length, in?", "60"), ("takes of the width, in?", "5"), ("Height of the water, in?", "16"), *TANK[7:])
    p.expect_exact("That cannot be:")
    answer(p, *TANK, ("A kind of corals in T1", "foo"))
    p.expect_exact('"foo" is not of the list; expected a number from 1 to 17')
    answer(p, ("A kind of corals in T1", "s"))
    p.expect_exact("expected a number of the list")
    answer(p, *CORALS[:6], ("Another tank of this water, y or n? [n]", "perhaps"))
    p.expect_exact("expected y or n")
    answer(p, ("Another tank of this water, y or n? [n]", "y"), ("written on the tank? [T2]", "t1"))
    p.expect_exact('tank "t1" is there already; expected another name')
    p.sendeof()
    end(p)
    assert os.listdir(".") == []


def only_the_stock_is_made_where_that_is_wanted():
    p = begin("start")
    answer(p, ("tanks now, y or n? [y]", "n"))
    p.expect_exact("new 30")
    end(p)
    assert neap("dump", "tank") == ""
    p = begin("start")  # a store is there: said before any question
    p.expect_exact("guided.neap")
    end(p, 1)


def add_food_asks_for_what_a_label_prints():
    neap("start")
    p = begin("add", "food", "broth")
    answer(p, ("pellet or frozen? [powder]", "liquid"), ("in g or in ml? [ml]", ""), ("Grams of one mL", "1.05"),
           ("Protein, percent", "8%"), ("Moisture, percent?", ""), ("Phosphorus, percent?", "130"))
    p.expect_exact("not within 0 and 100 %")
    answer(p, ("Phosphorus, percent?", "1"), ("The most a day, as printed", ""))
    p.expect_exact("expected the label's figure")
    answer(p, ("The most a day, as printed", "5 mL per 50 US gal"), ("The usual broadcast", ""), ("Its share of the dry", ""),
           ("coarsest particle", "0.5mm"), ("A pack holds", "250"), ("Price of a pack", "12.50"), ("Days it keeps", "60"))
    p.expect_exact("n_mg_per_unit 13.44 of nitrogen")
    end(p)
    con = sqlite3.connect(DB)
    row = con.execute("SELECT form, unit, n_mg_per_unit, p_mg_per_unit, max_particle_um, pack_units, price_cents, opened_life_d "
                      "FROM food WHERE name = 'broth'").fetchone()
    con.close()
    assert row == ("liquid", "ml", 13.44, 10.5, 500, 250, 1250, 60), row
    p = begin("add", "food", "other")
    answer(p, ("pellet or frozen? [powder]", ""), ("in g or in ml? [g]", "q"))
    p.expect_exact("nothing was stored")
    end(p)
    assert "other" not in neap("dump", "food")


CASES = [start_leads_from_nothing_to_the_first_sheet, it_can_be_left_at_any_question_and_nothing_is_made,
         a_wrong_answer_is_told_and_asked_again, only_the_stock_is_made_where_that_is_wanted,
         add_food_asks_for_what_a_label_prints]
failed = 0
print(f"1..{len(CASES)}")
for number, case in enumerate(CASES, 1):
    fresh()
    try:
        case()
        print(f"ok {number} {case.__name__}", flush=True)
    except Exception as why:  # noqa: BLE001
        failed += 1
        print(f"not ok {number} {case.__name__}: {why!r}"[:1500], flush=True)
fresh()
sys.exit(1 if failed else 0)
