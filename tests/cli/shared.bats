#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# A system that is broadcast to once for all its tanks: register, plan, sheet, working, a round that slips, holds.
load helper

casts="action = 'broadcast' AND tank IN ('D1', 'D2', 'D3')"

# The demo's display on one pump and one broadcast, given by the sump at 12 m; D1 and D2 fit one stop, D3 another.
share_display() {
    has demo
    for tank in D1 D2 D3; do neap set tank "$tank" pump="display return"; done
    neap plan
    neap set system display broadcast_once=yes broadcast_position_m=12
    neap plan
}

# bats test_tags=plain
@test "the tanks of a stop are broadcast to in one step; parts, lots and corals are those of a tank" {
    share_display
    [ "$(sql "SELECT count(DISTINCT start_min) FROM line WHERE revision = 2 AND action = 'broadcast' AND tank IN ('D1', 'D2')")" -eq 1 ]
    [ "$(sql "SELECT count(DISTINCT start_min || feeder) FROM line WHERE revision = 1 AND $casts")" -eq 3 ]
    [ "$(sql "SELECT count(DISTINCT start_min || feeder) FROM line WHERE revision = 2 AND $casts")" -eq 2 ]
    [ "$(sql "SELECT DISTINCT note FROM line WHERE revision = 2 AND $casts AND tank <> 'D3'")" = "into display's water, for D1, D2" ]
    [ "$(sql "SELECT count(*) FROM line a JOIN line b USING (tank, food, lot, amount)
        WHERE a.revision = 1 AND b.revision = 2 AND a.action = 'broadcast' AND b.action = 'broadcast'")" \
        -eq "$(sql "SELECT count(*) FROM line WHERE revision = 2 AND action = 'broadcast'")" ]
    neap list system display --wide | grep -q broadcast_once
    neap log 1 --all --revision 2
    neap audit
}

# bats test_tags=plain
@test "the sheet says what to measure once, and shows one step for all, in 80 columns" {
    share_display
    neap sheet --no-pages >sheet
    [ "$(awk '{ if (length($0) > w) w = length($0) } END { print w }' sheet)" -le 80 ]
    for food in "amino-acid liquid" "live phytoplankton"; do
        all=$(sql "SELECT CAST(sum(amount) AS INTEGER) FROM line WHERE revision = 2 AND $casts AND tank <> 'D3' AND food = '$food'")
        sed -n '/^BROADCAST INTO SHARED WATER/,/^FEEDER/p' sheet | grep "$food" | grep -q " $all mL ____"
    done
    grep -q "Into display's water, measured once, for D1, D2:" sheet
    grep -q "D1: its part, amino-acid liquid" sheet
    [ "$(sed -n '/MY LIST/,$p' sheet | grep -c "Into display's water, measured once")" -eq 2 ]
    line=$(sql "SELECT max(number) FROM line WHERE revision = 2 AND $casts AND tank = 'D2'")
    neap why "$line" | grep -q "of this food in all  *$all mL"
    neap why "$line" | grep -q "into display's water"
}

# bats test_tags=plain
@test "a shared broadcast that is logged at one tank was given to all, when a round slips" {
    share_display
    from=$(sql "SELECT start_min FROM line WHERE revision = 2 AND $casts AND tank = 'D1' LIMIT 1")
    now=$(date -u -d "2026-11-27 $from UTC +4 min" +%H:%M)
    neap log 1 --revision 2 $(sql "SELECT number FROM line WHERE revision = 2 AND end_min <= '$now' AND tank <> 'D2'") >/dev/null
    neap plan --from-now --now "$now" | grep -q "none late"
    neap sheet --no-pages | sed -n '/SHARED WATER/,/^FEEDER/p' | grep -c " mL *done" | grep -qx 0    # D2's are open
    [ "$(sql "SELECT DISTINCT start_min FROM line WHERE revision = 3 AND action = 'broadcast' AND tank IN ('D1', 'D2')")" = "$from" ]
    [ "$(sql "SELECT count(*) FROM line a JOIN line b USING (number) WHERE a.revision = 2 AND b.revision = 3
        AND a.tank = 'D2' AND a.action = 'target' AND a.start_min = b.start_min")" -gt 0 ]
    neap log 1 --revision 3 --all >/dev/null
    neap sheet --no-pages | sed -n '/SHARED WATER/,/^FEEDER/p' | grep -c " mL *done" | grep -qx 4
}

# bats test_tags=plain
@test "while a tank is on hold, what would reach it at once goes into the others one by one" {
    share_display
    neap hold tank D3 --reason "dip" --until 2026-11-28
    neap plan
    [ "$(sql "SELECT count(DISTINCT start_min || feeder) FROM line WHERE revision = 3 AND $casts")" -eq 2 ]
    [ "$(sql "SELECT count(*) FROM line WHERE revision = 3 AND action = 'broadcast' AND note <> ''")" -eq 0 ]
    neap sheet --no-pages >sheet
    grep -q "display: broadcast tank by tank today, at the tank. D3 is to get nothing" sheet
    never grep -q "SHARED WATER" sheet
}

# bats test_tags=plain
@test "what is no place and no answer is refused" {
    has demo
    refuses_and_keeps 1 "broadcast_position_m is" set system west broadcast_position_m=-1
    refuses_and_keeps 1 "expected yes or no" set system west broadcast_once=perhaps
}

# bats test_tags=plain
@test "names that would fill a note are counted, and the round is kept" {
    has demo
    neap set system west broadcast_once=yes
    for i in 1 2 3 4 5 6 7 8; do
        name=$(printf 'raceway %d in the long hall behind the second greenhouse door' $i)
        neap add tank "$name" system=west shape=stated net_volume_l=400 pump="hall" position_m=40
        # one is fed corals, the others live by the broadcast and ride along
        neap add colony "R$i" tank="$name" kind="$([ $i = 1 ] && echo blastomussa || echo leathers and soft corals)" count=2 heads=4
    done
    neap plan
    sql "SELECT note FROM line WHERE action = 'broadcast'" | grep -q "^into west's water, for .*raceway 1 .* and [1-9] more$"
    sql "SELECT note FROM line WHERE action = 'flow-on'" | grep -q "^one pump with raceway .* and [1-9] more$"
    [ "$(neap sheet --no-pages | awk '{ if (length($0) > w) w = length($0) } END { print w }')" -le 80 ]
}
