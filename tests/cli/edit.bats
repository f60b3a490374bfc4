# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# bats test_tags=plain
@test "numbers take units, and the row is kept in the field's own" {
    has demo
    neap add tank rack system=north shape=box length_cm=48in width_cm=2ft water_cm=0.25m displacement_frac=20%
    neap dump tank | grep -q "^rack,north,box,121.92,60.96,25,.*,0.2,"
    neap set tank rack water_cm=10in
    neap list tank rack --json | jq -e '.tank[0].water_cm == 25.4'
    neap add tank vat system=north shape=stated net_volume_l=80usgal
    neap list tank vat --json | jq -e '.tank[0].net_volume_l == 302.83294272'
}

@test "what does not fit is refused with the field, and the store is as before" {
    has demo
    refuses_and_keeps 1 "is there already" add tank D1 system=north shape=box
    refuses_and_keeps 1 'did you mean "north"?' add tank x system=nroth shape=stated net_volume_l=80
    refuses_and_keeps 1 "system is empty" add tank x shape=stated net_volume_l=80
    refuses_and_keeps 1 "water height is missing" add tank x system=north shape=box length_cm=9 width_cm=9
    refuses_and_keeps 1 "usgal or impgal" set tank D1 net_volume_l=80gal
    refuses_and_keeps 1 "decimal point" set tank D1 water_cm=40,5
    refuses_and_keeps 1 "expected 1 to 10000" set tank D1 water_cm=0
    refuses_and_keeps 1 'did you mean "D1"?' set tank D11 water_cm=40
    refuses_and_keeps 2 'did you mean "water_cm"?' set tank D1 watr_cm=40
    refuses_and_keeps 2 "given twice" set tank D1 water_cm=40 water_cm=41
    refuses_and_keeps 2 "expected NAME=VALUE" set tank D1 water_cm 40
    refuses_and_keeps 2 "ledger" set test north value=3
    refuses_and_keeps 2 "written by plan and log" add line 1 1 1
    refuses_and_keeps 2 'did you mean "feeders"?' set setting feedrs=2
    refuses_and_keeps 1 "expected 1 to 20" set setting feeders=21
    refuses_and_keeps 1 "expected low < high" set band display no3 low=20
    refuses_and_keeps 1 "there is no band display mg" set band display mg low=20
}

# bats test_tags=plain
@test "set shows what was before, and an empty value empties" {
    has demo
    run neap set tank D1 water_cm=81 note=
    [ "${lines[1]}" = "  water_cm: 80 -> 81" ]
    [ "${lines[3]}" = "read 1, new 0, changed 1, same 0, refused 0" ]
    run neap set tank D1 water_cm=81
    [ "${lines[1]}" = "read 1, new 0, changed 0, same 1, refused 0" ]
}

@test "a tank with corals in it does not retire, one without does" {
    has demo
    refuses_and_keeps 1 "still has 23 colony rows in use" retire tank D1
    neap add tank vat system=north shape=stated net_volume_l=80
    neap retire tank vat
    run neap list tank
    [[ $output == *"1 retired not shown"* && $output != *vat* ]]
    neap list tank --all | grep -q "^vat"
    neap set tank vat retired=no
    neap list tank | grep -q "^vat"
}

@test "a hold has a reason and an end, several rows are one entry, release ends it" {
    has demo
    neap dump >before.json
    refuses 2 "expected --reason" hold tank D1
    refuses 2 "is past" hold tank D1 --reason x --until 2026-11-26
    refuses_and_keeps 1 'did you mean' hold tank D1 D22 --reason x
    neap hold tank D1 D2 --reason "treated" --until 2026-11-30
    [ "$(neap dump tank | grep -c "treated,2026-11-30")" -eq 2 ]
    neap release tank D1 D2
    same_dump before.json
}

# Says as its last line that nothing was stored.
dry() {
    run neap "$@" --dry-run
    [ "$status" -eq 0 ] || { echo "$output"; return 1; }
    [ "${lines[-1]}" = "(dry run: nothing stored)" ] || { echo "$1: ${lines[-1]}"; return 1; }
}

# bats test_tags=plain
@test "every dry run leaves the store as it was, and says so in the same words" {
    has round
    neap dump >before.json
    neap dump system >system.csv
    dry add system x
    dry set tank D1 water_cm=70
    dry retire lot AA-31
    dry hold tank D1 --reason x
    dry release tank Q2
    dry load system.csv
    dry test north no3=18
    dry water north 300L
    dry log 1 --all
    dry move D1-002 to D2
    dry count D1-002 1 sold
    dry stock --opened AA-31
    dry backup copy.neap
    dry plan --from-now --now 08:20
    dry undo
    neap --json plan --dry-run | jq -e '.kept == false'
    dry plan
    same_dump before.json
    [ "$(neap history --all | grep -c 2026)" -eq 2 ]
}

# bats test_tags=plain
@test "lists fit 80 columns, one line a row" {
    has round
    for r in system band tank kind colony food lot test water round pot pot_food line waiting caution; do
        neap list $r >out
        [ "$(LC_ALL=C.UTF-8 wc -L <out)" -le 80 ]
        [ "$(wc -l <out)" -eq $(($(neap dump $r | wc -l) + 1)) ] || { head out; return 1; }
    done
}

# bats test_tags=plain
@test "two figures that contradict each other are refused when entered, one by one or in one file" {
    has demo
    refuses_and_keeps 1 "the shortest wait before target feed (lag_min_min) is 30 min and the longest (lag_max_min) 20 min" \
        set setting lag_min_min=30
    printf 'name,value\nlag_min_min,30\nlag_max_min,40\n' >setting.csv
    neap load setting.csv
    refuses_and_keeps 1 "expected the shortest not above the longest" set setting lag_max_min=25
    refuses_and_keeps 1 "a syringe of 1 mL (syringe_ml) cannot keep" set setting syringe_ml=1
}

# bats test_tags=plain
@test "a tank that cannot be fed at all is named, with the figures that forbid it" {
    has demo
    neap set setting rest_min=20
    refuses_and_keeps 1 "its flow may be off for" plan
    [[ $output == *"(flow_off_limit_min); expected at least"*"20 min rest (rest_min)"* ]]
    [[ $output == *"tank D1:"* || $output == *"tank "[A-Z][0-9]":"* ]]
}

# bats test_tags=plain
@test "a row whose figures contradict each other is refused, and stays as it was" {
    has demo
    while IFS='|' read -r words said; do
        eval "refuses_and_keeps 1 \"\$said\" set $words" || { echo "$words"; return 1; }
    done <<'ROWS'
system north lights_on_min=08:00 lights_off_min=08:00|the lights go on and off in the same minute; expected another lights_off_min
system north lights_on_min=08:00|only one of lights_on_min and lights_off_min is known; expected both or neither
band display no3 low=8 high=8|the band's low 8 is not below its high 8; expected low < high
tank D1 lights_on_min=08:00 lights_off_min=08:00|the lights go on and off in the same minute; expected another lights_off_min
kind 'sun corals' mouth_rule=none|a kind fed mouth by mouth needs a mouth_rule; expected all, fraction or one
kind 'sun corals' mouth_max=1 mouth_min=4|mouth_max 1 is below mouth_min 4
kind 'sun corals' portion_ml=0|a kind that is fed needs a portion; expected portion_ml above 0
food 'rich powder' max_particle_um=1 min_particle_um=50|the coarsest particle 1 um is finer than the finest 50 um
food 'rich powder' blend_share_max_frac=0.1 blend_share_min_frac=0.3|the largest share 0.1 is below the least 0.3
food 'rich powder' broadcast_units_per_100l=90|the usual broadcast 90 is above the ceiling 0.08
lot RP-113 opened=2020-01-01|opened before it was received
setting lag_min_min=50|the shortest wait before target feed (lag_min_min) is 50 min and the longest (lag_max_min) 20 min
setting syringe_ml=1 syringe_dead_ml=2|cannot keep 2 mL in its tube (syringe_dead_ml)
ROWS
    # a number that would be one as a percentage is told so, no other
    refuses_and_keeps 1 "is 150; expected 1 to 3, or a percentage: 150%" set setting full_frac=150
    refuses_and_keeps 1 "is 3.5; expected 1 to 3" set setting full_frac=3.5
    [[ $output != *percentage* ]]
    # up to where they meet there is no contradiction
    neap set food 'rich powder' min_particle_um=50 max_particle_um=50 blend_share_min_frac=0.3 blend_share_max_frac=0.3 \
        broadcast_units_per_100l=0.08
    neap set kind 'sun corals' mouth_min=3 mouth_max=3
    neap set lot RP-113 opened="$(sql "SELECT received FROM lot WHERE code = 'RP-113'")"
}
