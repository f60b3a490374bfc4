#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The clock end to end: its options, a round that slips, the strip, the calendar.
load helper

# Logs all that is over by a minute of the plan, and every flow that went off before it.
log_until() {
    neap log 1 $(sql "SELECT number FROM line WHERE round = 1 AND revision = 1 AND number NOT IN (SELECT line FROM live_given)
        AND ((end_min <= '$1' AND start_min < '$1') OR (action = 'flow-off' AND start_min < '$1')) ORDER BY number") >/dev/null
}

# bats test_tags=plain
@test "a round ends by the minute that was asked for, and the wish is kept" {
    has demo
    neap plan --done-by 10:45
    [ "$(sql "SELECT max(end_min) FROM line")" = 10:45 ]
    [ "$(sql "SELECT group_concat(what || ' ' || at_min, ', ') FROM asked")" = "done-by 645, effort -1" ]
    neap plan --done-by 10:45 | grep -q "as kept before"
    refuses_and_keeps 1 "cannot be done by 05:00 from 04:00 on" plan --done-by 05:00
    refuses_and_keeps 1 "cannot be done by 05:00 from 04:00 on" plan --done-by 05:00 --late 2=04:30
    refuses_and_keeps 2 "--start and --done-by are both given" plan --start 08:00 --done-by 11:00
}

# bats test_tags=plain
@test "a tank is first, a feeder comes late, and what is no such thing is refused" {
    has demo
    neap plan --first S1 --first E2 --late 2=08:40
    [ "$(sql "SELECT tank FROM line WHERE action = 'target' ORDER BY start_min LIMIT 1")" = S1 ]
    [ "$(sql "SELECT count(*) FROM line WHERE feeder = 2 AND start_min < '08:40'")" -eq 0 ]
    [ "$(sql "SELECT count(*) FROM line WHERE feeder = 2")" -gt 0 ]
    [ "$(sql "SELECT group_concat(what || ' ' || coalesce(tank, '') || feeder || ' ' || at_min, ', ') FROM asked")" = "late 2 520, effort 0 -1, first S10 -1, first E20 -1" ]
    [[ $(neap why 5) != *"no longer works out"* ]]
    refuses_and_keeps 1 "no tank \"S9\" to be first" plan --first S9
    refuses_and_keeps 1 "feeder 4 is late, but the round has 2 feeders" plan --late 4=08:40
    refuses_and_keeps 2 "expected a feeder and a time, such as 2=09:15" plan --late 08:40
}

# bats test_tags=plain
@test "a round that slips is set anew: what is done stands, flows come on by their limit" {
    has round
    log_until 08:50
    neap plan --from-now --now 08:58 | grep -q "^clock set anew from 08:58: "
    sql "SELECT revision FROM round WHERE number = 1" | paste -sd' ' | grep -qx "1 2"
    # logged lines as they were; the others from now on, with the same numbers, tanks, amounts and lots
    [ "$(sql "SELECT count(*) FROM line a JOIN line b USING (round, number) WHERE a.revision = 1 AND b.revision = 2
        AND (a.tank, a.action, a.pass, a.count, a.mouths) IS (b.tank, b.action, b.pass, b.count, b.mouths)
        AND a.colony IS b.colony AND a.food IS b.food AND a.lot IS b.lot AND a.pot IS b.pot AND a.amount IS b.amount")" \
        -eq "$(sql "SELECT max(number) FROM line")" ]
    [ "$(sql "SELECT count(*) FROM line a JOIN line b USING (round, number) WHERE a.revision = 1 AND b.revision = 2
        AND number IN (SELECT line FROM live_given)
        AND (a.start_min, a.end_min, a.feeder) IS NOT (b.start_min, b.end_min, b.feeder)")" -eq 0 ]
    [ "$(sql "SELECT count(*) FROM line WHERE revision = 2 AND start_min < '08:58' AND number NOT IN (SELECT line FROM live_given)")" -eq 0 ]
    # the sheet says so, and marks what is done
    neap sheet >sheet
    grep -q "The clock was set anew at 08:58" sheet
    grep -Eq "FLOW ON, look; by .* done +____$" sheet
    neap why 5 A | grep -q "The clock was set anew since"
    never grep -q "no longer works out" <<<"$(neap why 5 A)"
    # the sheet of the first plan is still in hand somewhere: its lines are the same
    log_until 09:20
    neap plan --from-now --now 09:25
    neap log 1 --all
    refuses_and_keeps 1 "nothing is left to set anew" plan --from-now --now 10:00
    neap audit
    neap undo --yes
    neap undo --yes
    [ "$(sql "SELECT max(revision) FROM round")" -eq 2 ]
}

# bats test_tags=plain
@test "a logged round takes no other plan, and --from-now no other wish" {
    has demo
    refuses_and_keeps 1 "no round is planned" plan --from-now --now 09:00
    neap plan
    refuses_and_keeps 1 "begins at 08:00 and nothing of it is logged" plan --from-now --now 07:30
    log_until 08:10
    refuses_and_keeps 2 "its plan stands; plan --from-now goes on from there" plan --start 09:00
    refuses_and_keeps 2 "expected no --feeders beside it" plan --from-now --feeders 3
    refuses_and_keeps 2 "expected both" plan --now 09:00
    neap plan --from-now --now 08:20 --dry-run | grep -q "^(dry run: nothing stored)$"
    [ "$(sql "SELECT max(revision) FROM round")" -eq 1 ]
    neap plan --from-now --now 08:20 --json | jq -e '.revision == 2 and .lines_left > 100 and .late_min >= 0'
}

@test "the sheet has a strip, the flows to turn on, and a list per feeder, in 80 columns" {
    has round
    neap sheet --no-pages >sheet
    [ "$(awk '{ if (length($0) > w) w = length($0) } END { print w }' sheet)" -le 80 ]
    # each tank's row ends with its last flow on; each feeder has a row and a list
    neap sheet --clock >clock
    [ "$(sed -n '/THE CLOCK/,/^---/p' clock | grep -c '|$')" -ge "$(sql "SELECT count(DISTINCT tank) FROM line WHERE action = 'flow-on'")" ]
    # and waits, its flow on, between its broadcast and what comes first of its corals
    [ "$(sed -n '/THE CLOCK/,/^---/p' clock | grep -cE '^[A-Z][0-9] .* b\.+[fr]')" -eq \
        "$(sql "SELECT count(DISTINCT tank) FROM line WHERE action = 'broadcast' AND tank IN (SELECT tank FROM line WHERE action = 'target')")" ]
    grep -q "^feeder 1 " clock
    never grep -nE '^.{81}' clock
    grep -q "FEEDER 2: MY LIST" sheet
    # every line has its tick, once, and a feeder's numbers rise as the morning goes on
    for feeder in 1 2; do
        neap sheet --feeder $feeder --no-pages | sed -nE 's/^([0-9:]{5})? +([0-9]+) .*\[ \].*/\2/p' >numbers
        diff numbers <(sql "SELECT number FROM line WHERE feeder = $feeder ORDER BY number")
        diff numbers <(sql "SELECT number FROM line WHERE feeder = $feeder ORDER BY start_min, end_min, number")
    done
    [ "$(grep -c "FLOW ON, look; by" sheet)" -eq "$(sql "SELECT count(*) FROM line WHERE action = 'flow-on'")" ]
    [ "$(sed -n '/FLOWS TO TURN BACK ON/,/NOT FED/p' sheet | grep -c '\[ \] __:__')" -eq "$(sql "SELECT count(*) FROM line WHERE action = 'flow-on'")" ]
}

@test "the calendar has an alarm for each flow on, in a file that is written whole or not at all" {
    has round
    neap calendar >a.ics
    [ "$(grep -c '^BEGIN:VALARM' a.ics)" -eq \
        "$(sql "SELECT (SELECT count(*) FROM line WHERE action = 'flow-on') + (SELECT count(*) FROM switching)")" ]
    [ "$(grep -c $'\r$' a.ics)" -eq "$(wc -l <a.ics)" ]
    neap calendar 1 --into b.ics | grep -q "b.ics: written"
    cmp a.ics b.ics
    grep -q "^DTSTAMP:20261127T120000Z" a.ics
    TZ=UTC-2 "$NEAP" --on 2026-11-27T01:30 calendar | grep -q "^DTSTAMP:20261126T233000Z"
    refuses_and_keeps 1 "no/such/folder/c.ics" calendar --into no/such/folder/c.ics
    refuses_and_keeps 1 "there is no round 9" calendar 9
    refuses_and_keeps 2 "is no round" calendar first
}
