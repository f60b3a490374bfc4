#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The sheet as paper: its parts, its pages, its ticks.
load helper

# Lines of each page of what is printed on stdin.
pages() { awk 'BEGIN { RS = "\f" } { print gsub(/\n/, "") }'; }

# A farm of so many tanks, each with one kind fed and one not, on five systems.
farm() {
    neap start
    for s in a b c d e; do neap add system $s >/dev/null; done
    { echo name,system,shape,length_cm,width_cm,water_cm,position_m
      for i in $(seq "$1"); do echo "T$i,$(printf 'abcde' | cut -c$((i % 5 + 1))),box,100,60,40,$((i * 2))"; done
    } >tank.csv
    { echo code,tank,kind,count,heads
      for i in $(seq "$1"); do echo "C$i,T$i,acans and micromussids,3,4"; done
    } >colony.csv
    neap load tank.csv colony.csv >/dev/null
    neap add lot RP-1 food="rich powder" amount_units=9000 received=2026-11-01 use_by=2027-06-01 >/dev/null
    neap set setting feeders=4 day_hands_min=600 >/dev/null
}

# bats test_tags=plain
@test "the demo's round fits eight pages of 80 columns, none but the last less than half full" {
    has round
    neap sheet >sheet
    [ "$(pages <sheet | wc -l)" -le 8 ]
    [ "$(pages <sheet | sed '$d' | sort -n | head -1)" -ge 32 ]
    [ "$(pages <sheet | sort -n | tail -1)" -le 64 ]
    never grep -nE '^.{81}' <(tr '\f' '\n' <sheet)
    # a feeder's list begins a page of its own, and its lines are numbered in the order of work
    [ "$(awk 'BEGIN { RS = "\f" } /MY LIST/ { print NR }' sheet | sort -u | wc -l)" -eq 2 ]
    sed -nE 's/^([0-9:]{5}|     ) +([0-9]+) .*\[ \]_.*/\2/p' sheet | diff - <(seq "$(sql "SELECT count(*) FROM line")")
}

# bats test_tags=plain
@test "a sheet of two hundred tanks has a tick for every line, in 80 columns" {
    farm 200
    neap plan >/dev/null
    [ "$(sql "SELECT count(DISTINCT tank) FROM line")" -eq 200 ]
    neap sheet >sheet
    never grep -nE '^.{81}' <(tr '\f' '\n' <sheet)
    neap sheet --pdf s.pdf >/dev/null
    qpdf --check s.pdf
    neap sheet --no-pages | /usr/bin/python3 "$BATS_TEST_DIRNAME/../page/words.py" s.pdf
    [ "$(sed -n '/MY LIST/,$p' sheet | grep -c '\[ \]_')" -eq "$(sql "SELECT count(*) FROM line")" ]
    [ "$(pages <sheet | sed '$d' | sort -n | head -1)" -ge 32 ]
}

# bats test_tags=plain
@test "the parts of a sheet print alone, and what is no part is told" {
    has round
    neap sheet --mixing >mixing
    grep -q "^BEFORE THE ROUND" mixing
    grep -q "^POT A" mixing
    never grep -q "MY LIST" mixing
    grep -q "round 1 rev 1" mixing
    neap sheet --feeder 2 >two
    grep -q "^FEEDER 2: MY LIST" two
    never grep -q "FEEDER 1" two
    neap sheet --tank D2 --no-pages >tank
    diff <(sed -nE 's/^([0-9:]{5})? +([0-9]+) .*\[ \].*/\2/p' tank) \
        <(sql "SELECT number FROM line WHERE tank = 'D2' ORDER BY start_min, end_min, number")
    refuses 2 "round 1 has 2 feeders" sheet --feeder 3
    local parts=("--mixing" "--clock" "--feeder 1" "--tank D2") one other
    for one in "${parts[@]}"; do
        for other in "${parts[@]}"; do
            [ "$one" = "$other" ] || eval "refuses 2 'sheets of their own; expected one' sheet $one $other"
        done
    done
    refuses 1 'did you mean "D2"' sheet --tank DD2
    refuses 1 "has no line at tank Q2" sheet --tank Q2
}

# bats test_tags=plain
@test "what was not fed stands by its reason, each colony once" {
    has round
    neap sheet --no-pages | sed -n '/^NOT FED TODAY/,/EVERY ROUND/p' | tr -s '\n ' ' ' >not
    for colony in $(sql "SELECT colony FROM waiting"); do
        [ "$(grep -o "$colony " not | wc -l)" -eq 1 ] # its code names the tank
    done
    grep -q "arrived 2 d ago: no target feed in the first 3 d: Q1-001 torch, gold, new; Q1-002" not
    neap add colony X9 tank=S1 kind=zoanthids count=2 heads=4 >/dev/null
    neap hold colony X9 --reason "melting" >/dev/null
    neap plan >/dev/null
    neap sheet --no-pages | grep -q "^- hold: melting, until released: X9 zoanthids (S1)\.$"
}
