#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Several rounds a day: who is fed in which, and what the rounds of a day have between them.

load helper

at() { neap --on "2026-11-25T$1" "${@:2}"; } # time, command

# A reef of two tanks, lit from nine to nine; the 25th is a Wednesday.
farm() {
    at 07:00 start
    at 07:00 add system reef sump_volume_l=200 lights_on_min=09:00 lights_off_min=21:00
    at 07:00 add tank R1 system=reef shape=box length_cm=150 width_cm=60 water_cm=50
    at 07:00 add tank R2 system=reef shape=box length_cm=150 width_cm=60 water_cm=50 position_m=4
    at 07:00 add colony R1-01 tank=R1 kind='sun corals' heads=12 fed_before=2026-11-24
    at 07:00 add colony R1-02 tank=R1 kind='acans and micromussids' count=4 heads=6 fed_before=2026-11-20
    at 07:00 add colony R2-01 tank=R2 kind='small-polyp stony' count=6 fed_before=2026-11-20
    local food
    for food in 'amino-acid liquid' 'live phytoplankton' 'rich powder' 'minced krill' 'copepods'; do
        at 07:00 add lot "L-${food%% *}" food="$food" amount_units=500
    done
    at 07:00 test reef no3=6 po4=0.06
    at 07:00 add daily_round morning start_min=10:00
    at 07:00 add daily_round noon start_min=14:00
    at 07:00 add daily_round evening start_min=21:30
    at 07:00 set kind 'acans and micromussids' feeds_per_d=2
} >/dev/null

lines() { # ROUND SQL-condition: how many lines of the plan in force
    sql "SELECT count(*) FROM line JOIN round_in_force AS r ON r.number = round AND r.revision = line.revision
        WHERE r.name = '$1' AND ($2)"
}

# bats test_tags=plain
@test "what opens after dark is planned in the evening, and the morning says that it waits" {
    farm
    at 09:30 plan | grep -q '^round 1 revision 1, morning: .* 10:00 to '
    at 09:30 sheet --no-pages >morning.txt
    grep -q '^FEEDING ROUND 1, revision 1: morning$' morning.txt
    grep -q '^- opens after dark: waits for the evening round, 21:30: R1-01 sun corals' morning.txt
    never grep -q '^DUE, AND NOT FED' morning.txt
    [ "$(lines morning "colony = 'R1-01'")" = 0 ]
    at 21:00 plan | grep -q '^round 2 revision 1, evening: '
    [ "$(lines evening "colony = 'R1-01'")" = 1 ]
    [ "$(lines evening "colony IS NOT NULL AND colony <> 'R1-01'")" = 1 ] # the other dose of the acans, for noon was left out
    at 21:00 sheet --no-pages | grep -q '^FEEDING ROUND 2, revision 1: evening$'
}

# bats test_tags=plain
@test "a portion shared among rounds is as much as a whole one, and nobody is fed more often than that" {
    farm
    at 09:30 plan --dry-run >/dev/null
    at 09:30 set kind 'acans and micromussids' feeds_per_d=1 >/dev/null
    at 09:30 plan >/dev/null
    whole=$(sql "SELECT amount FROM line WHERE colony = 'R1-02'")
    at 09:31 undo --yes >/dev/null
    at 09:31 undo --yes >/dev/null
    at 09:32 plan >/dev/null
    at 13:30 plan >/dev/null
    at 21:00 plan >/dev/null
    [ "$(lines morning "colony = 'R1-02'") $(lines noon "colony = 'R1-02'") $(lines evening "colony = 'R1-02'")" = "1 1 0" ]
    [ "$(sql "SELECT abs(sum(amount) - $whole) < 1e-9 FROM line WHERE colony = 'R1-02'")" = 1 ]
    [ "$(lines noon "colony = 'R2-01'") $(lines evening "colony = 'R2-01'")" = "0 0" ] # planned in the morning, logged or not
}

# bats test_tags=plain
@test "the flow is off in the dark for half as long, and by day as long as ever" {
    farm
    at 09:30 plan >/dev/null
    at 09:30 sheet --no-pages >day.txt
    at 21:00 plan >/dev/null
    at 21:00 sheet --no-pages >night.txt
    grep -q 'FLOW OFF, 20 min at most' day.txt
    never grep -q 'in the dark' day.txt
    grep -q 'FLOW OFF, 10 min at most' night.txt
    grep -q '^! Flow off in the dark: corals use up oxygen and make none' night.txt
    [ "$(sql "SELECT max(o.end_min > time(f.start_min, '+10 minutes')) FROM line AS f JOIN line AS o
        ON o.round = f.round AND o.tank = f.tank AND o.action = 'flow-on' WHERE f.action = 'flow-off' AND f.round = 2")" = 0 ]
    at 21:00 log --round evening --all >/dev/null
    # 15 minutes are too long then
    on=$(sql "SELECT number FROM line WHERE round = 2 AND action = 'flow-on' LIMIT 1")
    at 22:00 log --round evening "$on=@21:47" --again | tr '\n' ' ' | grep -q 'off for [0-9]* min, 10 at most'
}

# bats test_tags=plain
@test "each command means the round that the clock says, and another by its name" {
    farm
    at 09:30 plan >/dev/null
    at 13:30 plan >/dev/null
    at 09:30 sheet | grep -q '^FEEDING ROUND 1, revision 1: morning$'
    at 12:59 sheet | grep -q '^FEEDING ROUND 1, revision 1: morning$'
    at 13:10 sheet | grep -q '^FEEDING ROUND 2, revision 1: noon$'
    at 22:00 sheet | grep -q '^FEEDING ROUND 2, revision 1: noon$'
    neap --on 2026-11-25 sheet | grep -q '^FEEDING ROUND 1, revision 1: morning$'
    at 09:30 sheet --round noon | grep -q '^FEEDING ROUND 2, revision 1: noon$'
    at 09:30 sheet --round 2 | grep -q '^FEEDING ROUND 2, revision 1: noon$'
    at 14:20 log --round Morning --all | grep -q '^round 1 revision 1, morning: logged'
    at 14:19 log --round noon 1 2 | grep -q '^round 2 revision 1, noon: logged 2 lines'
    at 14:20 log --show --json | grep -q '"name": "noon"'
    at 14:20 log --all | grep -q '^round 2 revision 1, noon: logged'
    at 14:20 why R1-02 --round morning | grep -q R1-02
    at 14:20 calendar --round noon | grep -q 'SUMMARY:Feeding round 2\\, noon'
    refuses 1 'no evening round is planned for 2026-11-25' --on 2026-11-25 sheet --round evening
    refuses 1 'did you mean "evening"' --on 2026-11-25 sheet --round evenin
    refuses 2 'round 1 and --round are both given' --on 2026-11-25 sheet 1 --round noon
    refuses 1 'did you mean "noon"' --on 2026-11-25 plan --round none
}

# bats test_tags=plain
@test "a round that is all logged is past: the next is planned and printed, and each page has its date" {
    farm
    at 07:30 plan
    at 11:00 log --all
    run at 11:00 plan
    [[ $output == "round 2 revision 1, noon: "* ]]
    run at 11:00 sheet
    [[ $output == *"  round 2 noon rev 1  "*"2026-11-25 "*"page 1 of "* ]]
    at 07:00 set setting facility="A House With A Name Of Thirty-Six Letters"
    run at 11:00 sheet
    [[ $output == *"  round 2 noon rev 1  2026-11-25 "*"page 1 of "* || $output == "round 2 noon rev 1  2026-11-25 "* ]]
}

# bats test_tags=plain
@test "a broadcast plan gives its part on its days, in its rounds" {
    farm
    at 08:00 plan >/dev/null
    whole=$(sql "SELECT sum(amount) FROM line WHERE action = 'broadcast' AND food = 'live phytoplankton'")
    at 08:00 undo --yes >/dev/null
    at 08:00 add broadcast_day reef wed morning part_frac=0.25 >/dev/null
    at 08:00 add broadcast_day reef every evening part_frac=0.5 >/dev/null
    at 08:00 plan --round morning >/dev/null
    at 13:30 plan >/dev/null
    at 21:00 plan >/dev/null
    part() {
        sql "SELECT coalesce(round(sum(amount) / $whole, 1), 0) FROM line JOIN round_in_force AS r
            ON r.number = round AND r.revision = line.revision
            WHERE r.name = '$1' AND action = 'broadcast' AND food = 'live phytoplankton'"
    }
    [ "$(part noon) $(part evening)" = "0 0.5" ] || [ "$(part noon) $(part evening)" = "0.0 0.5" ]
    [[ $(part morning) == 0.2 || $(part morning) == 0.3 ]]
    # on a Thursday the morning has none: its row is Wednesday's
    neap --on 2026-11-26T08:00 plan --round morning >/dev/null
    [ "$(sql "SELECT count(*) FROM line JOIN round AS r ON r.number = round
        WHERE r.day = '2026-11-26' AND action = 'broadcast'")" = 0 ]
}

# Σ dose ÷ ceiling of the reef on the day, all rounds, as if everything was in the water.
day_load() {
    sql "SELECT sum(units / ceiling_units_per_100l / 11) FROM day_use JOIN food ON food.name = day_use.food
        WHERE day = '2026-11-25' AND action = 'broadcast'"
}

# What why lists of the day's ceiling is all that its sum holds.
ceilings_add_up() {
    at "$1" --json why "${@:2}" system reef | jq -e '[.. | objects | select(.title? == "Ceilings")][0].rows |
        ([.[] | select(.part == "number" and (.origin | startswith("setting ") | not)).value] | add) as $sum |
        .[-1] | .part == "result" and .value > 0.1 and (.value - $sum | fabs) < 1e-9'
}

# bats test_tags=plain
@test "the ceilings of a water are those of the day, and the evening's corals have their part kept" {
    farm
    at 08:00 set food 'live phytoplankton' ceiling_units_per_100l=6.7 >/dev/null # its broadcast alone fills the day
    at 08:00 set food 'minced krill' ceiling_units_per_100l=0.02 >/dev/null
    at 08:00 set food 'copepods' ceiling_units_per_100l=0.02 >/dev/null
    at 09:30 plan >/dev/null
    at 09:30 why system reef | grep -q 'kept for later rounds .* of this; not planned yet'
    ceilings_add_up 09:30
    at 21:00 plan --round evening >/dev/null
    [ "$(lines evening "colony = 'R1-01'")" = 1 ]
    at 21:00 why --round evening system reef | grep -q 'other rounds of the day'
    ceilings_add_up 21:00 --round evening
    # given in the morning, a second broadcast would pass the ceiling: log says so of either round
    at 21:40 log --round morning --all >/dev/null
    at 21:45 log --round evening --extra 'R1:live phytoplankton=60mL' --more 2>&1 | tr '\n' ' ' |
        grep -q 'reef has got .* % of its ceilings for the day\|reef would come to .* % of its ceilings'
}

# bats test_tags=plain
@test "what one round is to take from a lot is not there for another" {
    farm
    at 08:00 set lot L-amino-acid amount_units=50 >/dev/null
    at 09:30 plan >/dev/null # broadcasts 44 mL of it
    at 09:30 add broadcast_day reef every noon >/dev/null
    at 13:30 plan >/dev/null
    [ "$(sql "SELECT sum(amount) <= 50 FROM line WHERE food = 'amino-acid liquid'")" = 1 ]
}

# bats test_tags=plain
@test "planning one round again leaves the others alone, and undo takes back that one" {
    farm
    at 09:30 plan >/dev/null
    at 13:30 plan >/dev/null
    at 13:35 plan --feeders 2 | grep -q '^round 2 revision 2, noon'
    [ "$(sql "SELECT group_concat(name || revision) FROM (SELECT * FROM round_in_force ORDER BY number)")" = morning1,noon2 ]
    at 13:36 undo --yes >/dev/null
    [ "$(sql "SELECT group_concat(name || revision) FROM (SELECT * FROM round_in_force ORDER BY number)")" = morning1,noon1 ]
    at 13:37 hold tank R1 --reason leak 2>&1 | grep -c 'of today no longer fits' | grep -qx 2
    refuses 0 sound audit
}

@test "rounds are held on their weekdays, and one out of turn must be named" {
    farm
    at 08:00 set daily_round evening days='mon, Thursday' >/dev/null
    at 09:30 plan >/dev/null
    at 09:30 sheet --no-pages | grep -q 'waits for the evening round of Thursday, 21:30'
    refuses 1 'begin at 14:00, and it is 20:55' --on 2026-11-25T20:55 plan
    at 20:55 plan --round evening | grep -q ', evening: '
    refuses 1 '"frday" is no weekday' set daily_round noon days='mon frday'
    for round in morning noon evening; do at 20:55 set daily_round $round days=mon >/dev/null; done
    refuses 1 'no daily round is held on a Wednesday' --on 2026-11-25 plan
}

# bats test_tags=plain
@test "lights that are half known, or no night round for what opens at night, are said" {
    farm
    refuses 1 'only one of lights_on_min and lights_off_min' set tank R1 lights_on_min=10:00
    at 08:00 set daily_round evening retired=yes >/dev/null
    at 09:30 plan >/dev/null
    at 09:30 sheet | tr '\n' ' ' | tr -s ' ' | grep -q 'No round is held while the lights of reef are off: its sun corals are fed now'
    [ "$(lines morning "colony = 'R1-01'")" = 1 ]
}

# bats test_tags=plain
@test "a house without daily rounds has its one round, whatever its corals open in" {
    farm
    for round in morning noon evening; do at 08:00 set daily_round $round retired=yes >/dev/null; done
    at 09:30 plan --start 10:00 | grep -q '^round 1 revision 1: '
    [ "$(lines '' 1 || true)" = 0 ] # its name is empty, not a name
    [ "$(sql "SELECT count(*) FROM line WHERE colony = 'R1-01'")" = 1 ]
    at 09:30 sheet | grep -q '^FEEDING ROUND 1, revision 1$'
    at 20:00 plan --start 20:30 | grep -q '^round 1 revision 2: '
}

# bats test_tags=plain
@test "a dump of a day of several rounds comes back as it was" {
    farm
    at 09:30 plan >/dev/null
    at 13:30 plan >/dev/null
    at 14:30 log --all >/dev/null
    neap dump >all.json
    NEAP_DB=other.neap neap start --empty >/dev/null
    NEAP_DB=other.neap neap load all.json >/dev/null
    NEAP_DB=other.neap neap dump | cmp - <(neap dump)
}

# bats test_tags=plain
@test "the hands of a day are shared by its rounds, and kept for who lives by food alone" {
    farm # 300 s in all: 12 s for each of the acans, 18 s for the other tank, 29 s for the sun coral of the evening
    at 07:00 set setting day_hands_min=5 >/dev/null
    at 07:00 set colony R1-02 count=23 >/dev/null
    at 09:30 plan >/dev/null
    [ "$(lines morning "colony = 'R1-02'")" = 0 ]
    at 09:30 set colony R1-02 count=20 >/dev/null
    at 09:30 plan >/dev/null
    [ "$(lines morning "colony = 'R1-02'")" = 1 ]
    at 21:00 plan >/dev/null
    [ "$(lines evening "colony = 'R1-01'")" = 1 ]
    [ "$(lines evening "colony = 'R1-02'")" = 0 ]
    at 21:00 sheet --no-pages | tr -s '\n ' ' ' | grep "the day's hands are full: [^:]*: R1-02"
    at 21:01 set daily_round morning feeders=9 >/dev/null # each of them had a ninth of it
    at 21:02 plan >/dev/null
    [ "$(lines evening "colony = 'R1-02'")" -ge 1 ] # in passes
}

# bats test_tags=plain
@test "a coral's history names the round of the day, and a minute past midnight is one" {
    farm
    at 21:00 set daily_round evening start_min=23:50 >/dev/null
    at 21:00 plan --round evening >/dev/null
    on=$(sql "SELECT number FROM line WHERE action = 'flow-on' AND tank = 'R1'")
    off=$(sql "SELECT number FROM line WHERE action = 'flow-off' AND tank = 'R1'")
    run neap --on 2026-11-26T00:50 log 1 --all "$off=@23:55" "$on=@00:40"
    [[ $(flat) == *"R1: the flow was off for 45 min, 10 at most."* ]]
    neap --on 2026-11-26T08:00 history colony R1-01 | grep "^2026-11-25 1 evening "
    neap --on 2026-11-26T08:00 history colony R1-01 --json | jq -e '.fed[0].name == "evening"'
}
