# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# What is off while a system is fed: the demo has nine, three of them at the display.

# The lists' rows, each on one line: "09:23 display: SWITCH ON: skimmer (s1); behind the left door".
rows() {
    for n in 1 2; do neap sheet --feeder $n --json; done | jq -r '.blocks[] | select(.type == "table").rows[].cells |
        select(.[2] // "" | test("SWITCH O")) | .[0] + " " + .[2]'
}

@test "each switch has its minute off, its minute on, and who, and is counted at the end" {
    has round
    run neap sheet --no-pages
    [ "$status" -eq 0 ]
    [ "$(rows | grep "SWITCH OFF" | grep -oE "s[1-9][,)]" | sort -u | wc -l)" -eq 9 ]
    [ "$(rows | grep "SWITCH ON" | grep -oE "s[1-9][,)]" | sort -u | wc -l)" -eq 9 ]
    rows | grep -q "SWITCH OFF: skimmer.*; behind the left door$"
    [[ $output == *"ALL SWITCHES ON: ____ of 9, the last at "* ]]
    # off no later than the system's first food, on half an hour after its last flow
    first=$(sql "SELECT min(line.start_min) FROM line JOIN tank ON tank.name = tank WHERE system = 'east'")
    last=$(sql "SELECT max(line.end_min) FROM line JOIN tank ON tank.name = tank WHERE system = 'east'")
    on=$(date -u -d "$last today + 30 minutes" +%H:%M)
    # both stand in somebody's list, once, and who leaves last sees when it came on
    [ "$(grep -c "^$first  *east: SWITCH OFF: skimmer" <<<"$output")" -eq 1 ]
    [ "$(grep -c "^$on  *east: SWITCH ON: skimmer" <<<"$output")" -eq 1 ]
    tr -s '\n ' ' ' <<<"$output" | grep -q "east: skimmer $on;"
}

@test "a switch for the broadcast alone is on again while corals are still fed" {
    has round
    last=$(sql "SELECT max(line.end_min) FROM line JOIN tank ON tank.name = tank
        WHERE system = 'west' AND action = 'broadcast'")
    rows | grep "^$(date -u -d "$last today + 60 minutes" +%H:%M) west: SWITCH ON: carbon"
}

@test "a switch that would be off too long is a caution, and one that stays on is no line" {
    has demo
    neap set switch display uv off_limit_min=125
    neap set switch east skimmer off_for=nothing
    neap plan
    run neap sheet --no-pages
    [[ $(tr '\n' ' ' <<<"$output") == *"display: UV would be off for "*" min, 125 min at most: turn it on"* ]]
    [[ $output != *"east: skimmer"* ]]
    [[ $output == *"ALL SWITCHES ON: ____ of 8"* ]]
}

@test "a facility without switches is asked for what it turned off" {
    has demo
    sql "DELETE FROM switch"
    neap plan
    run neap sheet --no-pages
    [[ $output != *"SWITCHES"* && $output != *"SWITCH O"* ]]
    [[ $output == *"What was switched off for the round is on again"* ]]
}

@test "the clock of a begun round moves its switches along" {
    has morning
    was=$(rows | sed -n '/display: SWITCH ON: skimmer/s/ .*//p')
    neap log 1 1
    neap plan --from-now --now 09:40
    now=$(rows | sed -n '/display: SWITCH ON: skimmer/s/ .*//p')
    [[ $now > $was ]]
    run neap calendar
    [[ $output == *"DTSTART:20261127T${now/:/}00"$'\r\n'"SUMMARY:SWITCH ON skimmer of display"* ]]
}

@test "bad switches are refused with what was expected" {
    has demo
    refuses_and_keeps 1 "expected a longer limit" set switch display uv off_limit_min=60
    refuses_and_keeps 1 'device is "heater"; expected skimmer' add switch display heater
    refuses_and_keeps 1 "pond" add switch pond skimmer
    refuses_and_keeps 1 "is there already" add switch display uv
    refuses_and_keeps 1 "on_after_min" add switch west skimmer on_after_min=1000
    neap add switch west skimmer
    neap undo --yes
    [ "$(neap list switch | grep -c .)" -eq 11 ]
}
