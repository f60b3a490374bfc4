# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# What is off while a system is fed: the demo has nine, three of them at the display.

# The lists' rows, each on one line: "09:23 display: SWITCH ON: skimmer (sw1); behind the left door".
rows() {
    for n in 1 2; do neap sheet --feeder $n --json; done | jq -r '.blocks[] | select(.type == "table").rows[].cells |
        select(.[2] // "" | test("SWITCH O")) | .[0] + " " + .[2]'
}

# bats test_tags=plain
@test "each switch has its minute off, its minute on, and who, and is counted at the end" {
    has round
    run neap sheet --no-pages
    [ "$status" -eq 0 ]
    [ "$(rows | grep "SWITCH OFF" | grep -oE "sw[1-9][,)]" | sort -u | wc -l)" -eq 9 ]
    [ "$(rows | grep "SWITCH ON" | grep -oE "sw[1-9][,)]" | sort -u | wc -l)" -eq 9 ]
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

# bats test_tags=plain
@test "a switch for the broadcast alone is on again while corals are still fed" {
    has round
    last=$(sql "SELECT max(line.end_min) FROM line JOIN tank ON tank.name = tank
        WHERE system = 'west' AND action = 'broadcast'")
    rows | grep "^$(date -u -d "$last today + 60 minutes" +%H:%M) west: SWITCH ON: carbon"
}

# bats test_tags=plain
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

# bats test_tags=plain
@test "a facility without switches is asked for what it turned off" {
    has demo
    sql "DELETE FROM switch"
    neap plan
    run neap sheet --no-pages
    [[ $output != *"SWITCHES"* && $output != *"SWITCH O"* ]]
    [[ $output == *"What was switched off for the round is on again"* ]]
}

# bats test_tags=plain
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

# bats test_tags=plain
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

# ---- logged: in the round as planned display has the skimmer as sw1 and the UV as sw2 ----

# What is logged of a switch: "543|600"; the system's name and the device in front.
switched() { sql "SELECT off_min, on_min FROM live_switched WHERE system = '$1' AND device = '$2'"; }
planned() { sql "SELECT $3 FROM switching WHERE system = '$1' AND device = '$2' AND round = 1"; }
number() { echo "sw$(planned "$1" "$2" number)"; }

@test "log takes when a switch was off and on, and says what is off still until it is on" {
    has round
    sw=$(number display skimmer)
    run neap log "$sw=off@09:10"
    [ "$status" -eq 0 ]
    [[ $(flat) == *"display skimmer ($sw): off 09:10, not on again yet"* ]]
    [[ $(flat) == *"!! display: the skimmer was turned off at 09:10 and, by the log, not on again;"*"neap log 1 $sw=on."* ]]
    [ "$(switched display skimmer)" = "550|-1" ]
    run neap log D1
    [[ $(flat) == *"the skimmer was turned off at 09:10"*"switches not accounted for yet: "* ]]
    run neap log "display skimmer=on@11:40" # no --again: it completes what was said
    [[ $output != *"!!"* ]]
    [ "$(switched display skimmer)" = "550|700" ]
    neap log --show | grep -F -- "- display skimmer ($sw): off 09:10, on again 11:40"
    neap log --show --json | jq -e '[.switches[] | select(.logged)] | length == 1 and .[0].on_min == 700'
    refuses_and_keeps 1 "is logged already: off 09:10, on again 11:40; --again" log "$sw=on@11:50"
    neap log "$sw=-"
    [ -z "$(switched display skimmer)" ]
}

# bats test_tags=plain
@test "all as planned means the switches too, but those that are to be on later" {
    has round
    uv=$(number display uv)
    due=$(sql "SELECT printf('%02d:%02d', $(planned display uv "substr(on_min, 1, 2) * 60 + substr(on_min, 4, 2)") / 60 , 0)")
    neap --on "2026-11-27T$due" log --all >out
    grep "switches off and on again as planned" out
    grep "switches not accounted for yet: .*${uv#sw}" out
    neap log "$uv=n"
    neap log --show | grep -F "display UV ($uv): not turned off"
    run neap log --all
    [[ $output != *"switches not accounted"* ]]
    neap audit | grep sound
}

# bats test_tags=plain
@test "what a round left off heads the next sheet, is told by plan, and stands in the weekly report" {
    has round
    sw=$(number display skimmer)
    neap log --all "$sw=off@09:10"
    run neap --on 2026-11-28 plan
    [[ $(flat) == *"display: the skimmer was turned off on 2026-11-27 at 09:10 and is, by the log, not on again."* ]]
    run neap --on 2026-11-28 sheet --no-pages
    [[ $(flat) == *"LEFT OFF BY A ROUND BEFORE !! display: the skimmer was turned off on 2026-11-27 at 09:10"*"for round 1. CAUTIONS"* ]]
    neap trend | tr -s '\n ' ' ' | grep "! display, 2026-11-27: the skimmer was turned off at 09:10 and, by the log, not on again\."
    neap trend --json | jq -e '.life.switches_off | length == 1 and .[0].device == "skimmer" and .[0].off_for_min == null'
    neap log 1 "$sw=on@18:00" --on 2026-11-28
    neap --on 2026-11-28 sheet --no-pages | never grep "LEFT OFF"
    neap trend | tr -s '\n ' ' ' | never grep "the skimmer was turned off"
}

# bats test_tags=plain
@test "a switch that nobody accounted for is named on the next sheet, where the house logs its switches" {
    has round
    neap log --all "$(number display skimmer)=-" 2>out || true
    grep "nothing was logged of it that could be taken back" out
    neap log "$(sql "SELECT 'sw1-' || (max(number) - 1) FROM switching WHERE round = 1")"
    neap --on 2026-11-28 plan
    neap --on 2026-11-28 sheet --no-pages | grep "!! Nobody logged that the switches sw9 of round 1 are on again: look."
    neap trend | tr -s '\n ' ' ' | grep "Round 1 of 2026-11-27, never accounted for: [^.]*; switches sw9\."
}

@test "a switch that was off for longer than it may be is told by log and report" {
    has round
    neap set switch display uv off_limit_min=125
    run neap log "$(number display uv)=off@09:00" "$(number display uv)=on@12:00"
    [[ $(flat) == *"!! display: the UV was off for 180 min, 125 at most."* ]]
    neap trend | grep "! display, 2026-11-27: the UV was off for 180 min, 125 at most."
}

# bats test_tags=plain
@test "bad words of switches are refused with what was expected" {
    has round
    refuses_and_keeps 1 'has no switch "sw77"; its sheet has sw1 to sw9' log sw77
    refuses_and_keeps 2 'sw3=r" is not understood; expected a switch of the sheet' log sw3=r
    refuses_and_keeps 2 'is not understood' log sw3=on@25:00
    refuses_and_keeps 2 'is not understood' log sw3=1.5
    refuses_and_keeps 2 'is not understood' log sw3=@09:10
    refuses_and_keeps 1 'on again before it was turned off' log sw3=on@01:00
    refuses_and_keeps 1 'has no switch "pond heater=on"' log "pond heater=on"
}

# bats test_tags=plain
@test "a begun round that is set anew keeps the numbers of its switches" {
    has morning
    sql "SELECT system, device, number FROM switching WHERE revision = 1 ORDER BY 1, 2" >before
    neap log 1 15
    neap hold tank D1 --reason crashed
    neap plan --from-now --now 09:40
    sql "SELECT system, device, number FROM switching WHERE revision = 2 ORDER BY 1, 2" >after
    [ -s after ]
    [ -z "$(comm -13 before after)" ]
}
