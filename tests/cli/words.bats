#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Words as a keeper types them: names in any case, times with one digit, other words for a command, US units.
load helper

@test "names are taken in any case, and kept as they are" {
    has round
    [ "$(neap count d1-002 1 sold)" = "d1-002: 1 sold, 1 left" ]
    neap count D1-004 1 died
    neap count d1-004 1 sold
    [ "$(sql "SELECT group_concat(colony || ' ' || change || ' ' || repeat) FROM (SELECT * FROM live_tally ORDER BY colony, repeat)")" = \
        "D1-002 -1 1,D1-004 -1 1,D1-004 -1 2" ]
    neap move n3-005 to n1
    [ "$(sql "SELECT tank FROM colony WHERE code = 'N3-005'")" = N1 ]
    neap set colony d1-009 tank=d2 "kind=Sun Corals"
    [ "$(sql "SELECT code, tank, kind FROM colony WHERE code LIKE 'd1-009'")" = "D1-009|D2|sun corals" ]
    neap hold tank d3 --reason "treated"
    [ "$(sql "SELECT name FROM tank WHERE hold_reason = 'treated'")" = D3 ]
    refuses 1 'colony "D1-002" is there already' add colony d1-002 tank=D1 "kind=sun corals"
    neap list tank d1 | grep -q "^name  *D1 "
    neap history colony d1-002 | grep -q "count 2 -> 1"
    neap test NORTH NO3=8.5
    neap stock --opened aa-34 | grep -q "^lot AA-34 "
    neap why tank d1 | grep -q "^tank D1:"
    printf 'code,tank,kind\nD1-009,d2,SUN CORALS\n' >colony.csv
    [ "$(neap load colony.csv)" = "read 1, new 0, changed 0, same 1, refused 0" ]
}

# bats test_tags=plain
@test "where two names differ only in case, neither is guessed" {
    has demo
    printf 'name,system,shape,net_volume_l\nAb,display,stated,80\naB,display,stated,90\n' >tank.csv
    neap load tank.csv
    refuses 1 'did you mean "' hold tank ab --reason x
    neap hold tank aB --reason treated
    [ "$(sql "SELECT name FROM tank WHERE hold_reason = 'treated'")" = aB ]
}

# bats test_tags=plain
@test "log takes today's round where none is named, as sheet and why do" {
    has morning
    neap log 5=r:0 | grep -q "round 1 revision 1: logged 1 line: 1 refused"
    neap log --all | grep -q "all 137 lines are accounted for"
    neap log --show | grep -qi "round 1"
    run "$NEAP" --on 2026-11-28 log --all
    [ "$status" -eq 1 ]
}

# bats test_tags=plain
@test "times with one digit are taken" {
    has morning
    neap log 5=l@9:15
    [ "$(sql "SELECT at_min FROM live_given WHERE line = 5")" = 555 ]
    neap set setting start_min=8:05
    [ "$(sql "SELECT value FROM setting WHERE name = 'start_min'")" = 08:05 ]
    neap test north no3=8.5 --at "2026-11-27 9:15"
    [ "$(sql "SELECT max(taken) FROM test")" = 2026-11-27T09:15 ]
    has demo
    neap plan --start 9:00 | grep -q " 09:00 to "
}

# bats test_tags=plain
@test "other words for a command lead to it" {
    refuses 2 'there is no command "sold"; did you mean "count" (corals sold, died, divided or found)?' sold D1-002
    refuses 2 'did you mean "count"' died
    refuses 2 'did you mean "ahead"' forecast
    refuses 2 'did you mean "calc"' dose
    refuses 2 'did you mean "plan"' plna
}

# bats test_tags=plain
@test "every register lists its data" {
    has round
    neap log 1 --all --extra "D1:live phytoplankton=5mL" --made A=30mL
    neap stock --waste AA-31=5mL --reason spilt
    neap count D1-004 2 sold
    neap list tally | grep -q "^D1-004 .*2026-11-27T12:00 .*-2 sold "
    neap list extra | grep -q "^ *1 .*D1 .*live phytoplankton"
    neap list mixed | grep -q "^ *1 A "
    neap list waste | grep -q "^AA-31 "
    for r in $(neap list | sed -n '/^---/,$ s/^\([a-z_]*\) .*/\1/p'); do
        neap list "$r" >out
        grep -q "^no rows of $r$\|^[a-z_]\+  *[a-z]" out || { head out; return 1; }
    done
}

# bats test_tags=plain
@test "US units are shown everywhere, and can be typed back" {
    has demo
    neap set setting units=us
    neap list tank N1 >out
    grep -q "^length_in  *141.73 " out
    grep -q "^position_ft  *49.21 " out
    neap list system | grep -q "sump_volume_usgal"
    neap list test display 2026-09-17T07:06 | grep -q "temp  *78.1F"
    neap add band display temp low=23 high=27
    neap list band display temp >out
    grep -q "^low  *73.4F" out
    grep -q "^high  *80.6F" out
    neap test display temp=78F | grep -q "temperature 78.0 F, "
    neap trend --system display >out
    grep -Eq "^temperature F +78.0 +7[5-9].[0-9] +73.4-80.6 " out
    neap --units metric trend --system display | grep -Eq "^temperature C +25.6 +2[0-9].[0-9] +23-27 "
    neap --units metric list tank N1 | grep -q "^length_cm  *360 "
    neap plan >out
    neap sheet | grep -q "  N1 (north, 483 US gal)"
    neap why tank N1 >out
    grep -q "^= net  *482.7 US gal$" out
    grep -q "length x width x water / 1000 (worked in metric)" out
    neap add tank again system=north shape=stated "net_volume_l=482.7 US gal"
    [ "$(sql "SELECT round(net_volume_l) FROM tank WHERE name = 'again'")" = 1827.0 ]
    [ "$(neap dump tank | grep -c "^N1,north,box,360,")" = 1 ]
}

# bats test_tags=plain
@test "split, sheet --tank and card take a name in any case" {
    has morning
    neap split d1-005 1 --as D1-005/B --heal 3 >out
    grep "D1-005/B" out
    neap list colony --json >colonies
    jq -e '[.colony[] | select(.code == "D1-005" or .code == "D1-005/B")] | length == 2' colonies
    jq -e '.colony[] | select(.code == "D1-005/B") | .hold_until == "2026-11-30" and .fed_before != null' colonies
    neap sheet --tank d1 | cmp - <(neap sheet --tank D1)
    neap card --volume 100L "Branching Euphylliids=3" | cmp - <(neap card --volume 100L "branching euphylliids=3")
    refuses 2 "--made is a sheet of its own; expected no --mixing beside it" sheet --made A=100mL --mixing
}
