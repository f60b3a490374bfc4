# SPDX-License-Identifier: GPL-3.0-or-later
"""The prompt of log at a real terminal: typed keys, stopped, killed, resumed; prints TAP.

Needs NEAP, NEAP_DB (the store it writes) and MORNING (the store that each case begins with a copy of).
"""
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time

import pexpect

NEAP, DB = os.environ["NEAP"], os.environ["NEAP_DB"]


def neap(*words):
    return subprocess.run([NEAP, "--on", "2026-11-27", *words], check=True, capture_output=True, text=True).stdout


def fresh():
    for tail in ("", "-wal", "-shm"):
        if os.path.exists(DB + tail):
            os.remove(DB + tail)
    shutil.copy(os.environ["MORNING"], DB)


def logged():
    con = sqlite3.connect(DB)
    rows = con.execute("SELECT line, outcome, amount, response FROM live_given ORDER BY line").fetchall()
    con.close()
    return rows


def entries():
    con = sqlite3.connect(DB)
    rows = [r[0] for r in con.execute("SELECT command FROM entry WHERE command LIKE 'neap log%' ORDER BY id")]
    con.close()
    return rows


def tanks():
    """The prompts of the sheet: whole tanks, ten lines or more of one feeder: "D1 1-14> ", "D3, E1 30-47> "."""
    con = sqlite3.connect(DB)
    rows = con.execute("SELECT number, tank, feeder FROM line ORDER BY number").fetchall()
    con.close()
    groups = []
    for number, tank, feeder in rows:
        if groups and (tank == last[0] or (len(groups[-1]) < 10 and feeder == last[1])):
            groups[-1].append((number, tank))
        else:
            groups.append([(number, tank)])
        last = tank, feeder
    return [f"{', '.join(dict.fromkeys(tank for _, tank in g))} {g[0][0]}-{g[-1][0]}> " for g in groups]


def as_from_a_shell():
    """A background job of a shell ignores Ctrl-C and hands that on; the prompt of a person at a terminal does not."""
    for sig in (signal.SIGINT, signal.SIGQUIT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(sig, signal.SIG_DFL)


def begin(*words):
    env = dict(os.environ, TERM="xterm")
    child = pexpect.spawn(NEAP, ["--on", "2026-11-27", *(words or ("log", "1"))], encoding="utf-8", timeout=60, dimensions=(50, 100), env=env,
                          preexec_fn=as_from_a_shell)
    child.delaybeforesend = None  # keys are taken as soon as the question is seen
    return child


def end(child):
    """Until it ended by itself: close() alone kills after a tenth of a second, which a busy machine may need to exit."""
    child.expect(pexpect.EOF)
    child.wait()
    child.close()


def enter_is_as_planned_and_only_exceptions_are_typed():
    p = begin()
    p.expect_exact("D1 1-14> ")
    p.sendline("5=r:0 6=p0.2")
    p.expect_exact("5 D1-002 torch, green with purple tips: refused, 0 nothing taken")
    p.expect_exact("D1 1-4,7-14> ")
    p.sendline("")
    p.expect_exact(tanks()[1])
    p.sendline("s")
    end(p)
    rows = logged()
    assert [r[0] for r in rows] == list(range(1, 15)), rows
    assert rows[4] == (5, "refused", 2.0, 0) and rows[5] == (6, "part", 0.2, -1), rows
    assert entries() == ["neap log 1 5=r:0 6=p0.2", "neap log 1 1-4,7-14"], entries()


def a_whole_round_is_an_enter_for_each_question_and_one_for_each_pot():
    p = begin()
    keys = 0
    n_pots = int(sqlite3.connect(DB).execute("SELECT count(*) FROM pot").fetchone()[0])
    while True:
        at = p.expect([r"\d+> ", r"pot \w \d+ mL> ", r"nothing more\)> ", r"switches sw1-9> ", pexpect.EOF])
        if at == 4:
            break
        p.sendline("")
        keys += 1
    p.close()
    assert len(logged()) == 137 and all(r[1] == "given" for r in logged())
    assert keys == len(tanks()) + n_pots + 2 <= 13 + n_pots + 2, keys
    db = sqlite3.connect(DB)
    assert db.execute("SELECT count(*) FROM live_switched WHERE on_min > off_min").fetchone()[0] == 9


def ctrl_c_stops_and_keeps():
    p = begin()
    p.expect_exact("D1 1-14> ")
    p.sendline("5=r")
    p.expect_exact("D1 1-4,6-14> ")
    p.send("6=p0")  # typed and not entered: not kept
    p.send("\x03")
    end(p)
    assert p.exitstatus == 0, p.exitstatus
    assert "Stopped; what was entered is kept. 1 of 137" in p.before, p.before
    assert [r[0] for r in logged()] == [5]


def a_killed_prompt_keeps_and_the_next_goes_on():
    for sig in (signal.SIGKILL, signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        fresh()
        p = begin()
        p.expect_exact("D1 1-14> ")
        p.sendline("")
        p.expect_exact(tanks()[1])
        p.kill(sig)
        end(p)
        assert p.signalstatus == sig, (sig, p.signalstatus, p.exitstatus)
        assert len(logged()) == 14
        q = begin()
        q.expect_exact("14 of 137 lines are logged")
        q.expect_exact(tanks()[1])
        q.send("\x04")
        end(q)


def a_closed_terminal_loses_nothing():
    p = begin()
    p.expect_exact("D1 1-14> ")
    p.sendline("")
    p.expect_exact(tanks()[1])
    p.ptyproc.fileobj.close()
    deadline = time.time() + 60
    while p.isalive() and time.time() < deadline:
        time.sleep(0.05)
    assert not p.isalive()
    assert len(logged()) == 14


def a_wrong_word_is_said_and_asked_again():
    p = begin()
    p.expect_exact("D1 1-14> ")
    p.sendline("5=r 6=x")
    p.expect_exact('"6=x" is not understood')
    p.expect_exact("D1 1-14> ")
    p.sendline("4=2")
    p.expect_exact("line 4: flow is off or on")
    p.expect_exact("D1 1-14> ")
    p.sendline("s")
    end(p)
    assert logged() == []


def a_line_of_this_sitting_may_be_typed_again():
    p = begin()
    p.expect_exact("D1 1-14> ")
    p.sendline("5=r")
    p.expect_exact("D1 1-4,6-14> ")
    p.sendline("5=:3")
    p.expect_exact("line 5: was refused, 0 nothing taken; now as planned, 3 most")
    p.sendline("s")
    end(p)
    assert logged() == [(5, "given", 2.0, 3)], logged()


def what_another_logged_meanwhile_is_not_overwritten():
    p = begin()
    p.expect_exact("D1 1-14> ")
    neap("log", "1", "5=r:1", "6=n")
    p.sendline("5=:4")
    p.expect_exact("line 5 is logged already: refused, 1 a little")
    p.expect_exact("D1 1-4,7-14> ")
    p.sendline("")
    p.expect_exact(tanks()[1])
    p.sendline("s")
    end(p)
    assert logged()[4] == (5, "refused", 2.0, 1) and logged()[5] == (6, "not-given", 0.0, -1)


def later_leaves_a_tank_open():
    p = begin()
    p.expect_exact("D1 1-14> ")
    p.sendline("l")
    p.expect_exact(tanks()[1])
    p.sendline("")
    p.expect_exact(tanks()[2])
    p.sendline("s")
    end(p)
    assert "not yet: D1 1-14; " in p.before and tanks()[1].split()[0] + " 15" not in p.before, p.before
    first, last = tanks()[1].split()[1].rstrip("> ").split("-")
    assert [r[0] for r in logged()] == list(range(int(first), int(last) + 1))


def tab_completes_foods_and_shows_codes():
    neap("log", "1", "--all")
    p = begin()
    (n_pots, made_a) = sqlite3.connect(DB).execute("SELECT count(*), min(made_ml) FILTER (WHERE pot = 'A') FROM pot").fetchone()
    for pot in range(n_pots):
        p.expect(r"pot \w \d+ mL> ")
        p.sendline("12" if pot == 0 else "30/2" if pot == 1 else "")
    p.expect_exact("Enter: nothing more)> ")
    p.send("D1:live\t")
    p.expect_exact("phytoplankton=")
    p.sendline("20mL")
    p.expect_exact("extra: D1, live phytoplankton 20 mL from LP-1117")
    p.sendline("")
    end(p)
    con = sqlite3.connect(DB)
    assert con.execute("SELECT pot, made_ml, left_ml FROM live_mixed").fetchall() == [("A", made_a, 12.0), ("B", 30.0, 2.0)]
    assert con.execute("SELECT tank, food, amount_units FROM live_extra").fetchall() == [("D1", "live phytoplankton", 20.0)]


def rounds():
    con = sqlite3.connect(DB)
    rows = con.execute("SELECT revision, finish_min FROM round ORDER BY revision").fetchall()
    con.close()
    return rows


def a_plan_looks_for_a_shorter_order_until_a_key_is_pressed():
    (first,) = rounds()
    p = begin("plan")
    p.expect(r"(\d) h (\d\d) min so far; looking for a shorter order. Any key keeps it. ")
    longest = int(p.match[1]) * 60 + int(p.match[2])
    p.send("\x1b[A")  # an arrow key is one key, and nothing of it is left for the shell
    p.expect(r"round 1 revision 2: 137 lines, 771 colonies, 7 pots, 08:00 to (\d\d):(\d\d)")
    kept = (int(p.match[1]) - 8) * 60 + int(p.match[2])
    end(p)
    assert p.exitstatus == 0 and kept <= longest, (kept, longest)
    assert len(rounds()) == 2 and rounds()[0] == first, rounds()


def a_plan_broken_off_keeps_nothing():
    before = rounds()
    p = begin("plan")
    p.expect_exact("Any key keeps it. ")
    p.send("\x03")
    p.expect_exact("neap: broken off; no round was kept")
    end(p)
    assert p.exitstatus == 1 and rounds() == before, (p.exitstatus, rounds())


CASES = [
    a_plan_looks_for_a_shorter_order_until_a_key_is_pressed,
    a_plan_broken_off_keeps_nothing,
    enter_is_as_planned_and_only_exceptions_are_typed,
    a_whole_round_is_an_enter_for_each_question_and_one_for_each_pot,
    ctrl_c_stops_and_keeps,
    a_killed_prompt_keeps_and_the_next_goes_on,
    a_closed_terminal_loses_nothing,
    a_wrong_word_is_said_and_asked_again,
    a_line_of_this_sitting_may_be_typed_again,
    what_another_logged_meanwhile_is_not_overwritten,
    later_leaves_a_tank_open,
    tab_completes_foods_and_shows_codes,
]

failed = 0
print(f"1..{len(CASES)}")
for n, case in enumerate(CASES, 1):
    fresh()
    try:
        case()
        print(f"ok {n} {case.__name__}")
    except Exception as why:  # a case that dies in any way has failed
        failed += 1
        print(f"not ok {n} {case.__name__}\n# {type(why).__name__}: {str(why)[:1500]}".replace("\n", "\n# "))
sys.exit(1 if failed else 0)
