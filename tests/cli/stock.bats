#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What is on the shelf, what it costs, what to order, and where a lot went.
load helper

food() { neap stock --json | jq -c ".foods[] | select(.food == \"$1\") | $2"; }

# bats test_tags=plain
@test "what was logged has left the lots, the pot's losses with it" {
    has round
    before=$(food "minced krill" .usable_units)
    mixed=$(sql "SELECT sum(amount_units) FROM pot_food WHERE food = 'minced krill'")
    neap log 1 --all >/dev/null
    [ "$(food "minced krill" .usable_units)" = "$(jq -n "$before - $mixed | . * 1000000 | round / 1000000")" ]
}

# bats test_tags=plain
@test "a lot that is nearly used up goes first, and the next one takes over" {
    has round
    neap log 1 --all >/dev/null
    [ "$(sql "SELECT lot FROM pot_food WHERE food = 'rich powder' ORDER BY pot, rank LIMIT 1")" = RP-113 ]
    neap --on 2026-11-28 plan >/dev/null
    [ "$(sql "SELECT group_concat(lot) FROM (SELECT DISTINCT lot FROM pot_food WHERE food = 'rich powder' AND round = 2 ORDER BY pot, rank)")" = RP-127 ]
}

# bats test_tags=plain
@test "use is spread over the days of the log, four weeks at most" {
    has round
    neap log 1 --all >/dev/null
    [ "$(neap stock --json | jq .window_d)" = 1 ]
    [ "$(neap --on 2026-11-30 stock --json | jq .window_d)" = 4 ]
    [ "$(neap --on 2026-12-06 stock --json | jq .window_d)" = 10 ]
    [ "$(neap --on 2027-01-30 stock --json | jq .window_d)" = 28 ]
}

# bats test_tags=plain
@test "the sheet names the orders that the shelf names once its round is logged" {
    has round
    cd "$(dirname "$NEAP_DB")"
    sql "UPDATE lot SET amount_units = 20 WHERE food = 'copepods'"
    neap plan >/dev/null
    neap sheet --no-pages | tr '\n' ' ' | tr -s ' ' | grep -o 'Order [^:]*:' | sort >sheet
    neap log 1 --all --revision 2 >/dev/null
    neap stock --json | jq -r '.foods[] | select(.order_packs > 0) |
        "Order \(.food), \(.order_packs) pack\(if .order_packs == 1 then "" else "s" end):"' | sort >shelf
    grep -q "Order copepods" shelf
    cmp sheet shelf
}

# bats test_tags=plain
@test "what is left after a premix is what was weighed for it less, and once" {
    neap start >/dev/null
    neap set setting strength_g_per_100ml=0.4 >/dev/null
    for system in q1 q2; do # two pots, each of less than ten steps of the scale
        neap add system $system sump_volume_l=1000 quarantine=yes >/dev/null
        neap add tank T-$system system=$system shape=stated net_volume_l=600 >/dev/null
        neap add colony $system-1 tank=T-$system kind='branching euphylliids' count=150 heads=4 arrived=2026-10-01 >/dev/null
    done
    neap add lot P-1 food='rich powder' amount_units=10 >/dev/null
    neap --on 2026-11-26 test q1 no3=6 po4=0.06 q2 no3=6 po4=0.06 >/dev/null
    neap plan >/dev/null
    [ "$(sql "SELECT sum(amount_units) || ' of ' || sum(premix_units) FROM pot_food")" = "0.56 of 1.0" ]
    neap sheet --no-pages | grep "Order rich powder, 1 pack: 9 g left after today, 9 d at this day's use"
    neap log 1 --all >/dev/null
    [ "$(neap stock --json | jq '.foods[] | select(.food == "rich powder").usable_units')" = 9 ]
    neap undo --yes >/dev/null
    neap log 1 --all --weighed "A:rich powder=1.1g" | grep -q "premix for pot A, rich powder: 1.1 of 1 g weighed"
    [ "$(neap stock --json | jq '.foods[] | select(.food == "rich powder").usable_units')" = 8.9 ]
    [ "$(sql "SELECT round(sum(in_pot_units), 6) FROM pot_content")" = 0.616 ] # a tenth more in both pots
}

# bats test_tags=plain
@test "days left take only what can be used before it goes out of date" {
    has round
    neap log 1 --all >/dev/null
    # 200 units in a lot that lasts three more days, at 10 a day: 30 can be used, 170 go out of date
    cd "$(dirname "$NEAP_DB")"
    sql "UPDATE lot SET retired = 1 WHERE food = 'copepods' AND code <> 'CP-20'"
    sql "UPDATE lot SET use_by = '2026-11-29' WHERE code = 'CP-20'"
    [ "$(food copepods '.days_left')" = 3 ]
    [ "$(food copepods '.expires_units + 3 * .use_per_day - .usable_units | . < 0.00001 and . > -0.00001')" = true ]
    [ "$(food copepods '.order_packs > 0')" = true ]
}

# bats test_tags=plain
@test "food that is out of date is to be discarded, and is never planned" {
    has round
    run neap stock
    [[ $output == *"DISCARD"*"LP-1027, live phytoplankton"* ]]
    [ "$(sql "SELECT count(*) FROM line WHERE lot = 'LP-1027'")" = 0 ]
}

@test "a rest that is thrown away as it was printed leaves nothing, and never less" {
    has demo
    for third in 1 2; do
        sql "INSERT INTO waste (lot, wasted, repeat, amount_units, reason, version)
            VALUES ('OE-22', '2026-11-0${third}T08:00', 1, 70 / 3.0 - 0.0001 * $third, 'in thirds', 1)"
    done
    rest=$(neap --json stock | jq '.foods[].lots[] | select(.lot == "OE-22") | .left_units')
    [ "$rest" = 23.334 ] # of 23.333633
    run neap stock --waste "OE-22=23.335" --reason "out of date"
    [ "$status" -eq 1 ]
    [[ $output == *"at most the 23.334 that are left"* ]]
    neap stock --waste "OE-22=$rest" --reason "out of date" >/dev/null
    [ "$(sql "SELECT round(70 - total(amount_units), 9) FROM live_waste")" = 0.0 ]
    neap --json stock | jq -e '.foods[].lots[] | select(.lot == "OE-22") | .left_units == 0 and (.discard | not)'
    never grep "^lot" <<<"$(neap audit 2>&1)" # it names the rows put in past the program, and no more used than was bought
}

# bats test_tags=plain
@test "a rest too small to be written down is nothing: not to be thrown away, and not planned" {
    has demo
    sql "INSERT INTO waste (lot, wasted, repeat, amount_units, reason, version)
        VALUES ('OE-22', '2026-11-01T08:00', 1, 70 - 0.0003, 'nearly all', 1)"
    neap --json stock | jq -e '.foods[].lots[] | select(.lot == "OE-22") | .left_units == 0 and (.discard | not)'
    never grep "Discard lot OE-22" <<<"$(neap plan --dry-run)"
}

# bats test_tags=plain
@test "waste needs a reason, at most what is left, and stays in the ledger" {
    has round
    run neap stock --waste LP-1027=50
    [ "$status" -eq 2 ]
    [[ $output == *"needs --reason"* ]]
    run neap stock --waste LP-1027=5000 --reason spilt
    [ "$status" -eq 1 ]
    [[ $output == *"at most the 600 that are left"* ]]
    run neap stock --waste LP-127=50 --reason spilt
    [ "$status" -eq 1 ]
    [[ $output == *'did you mean "LP-1027"?'* ]]
    neap stock --waste LP-1027=50mL --reason spilt
    neap stock --waste LP-1027=50mL --reason spilt
    [ "$(sql "SELECT count(*), sum(amount_units) FROM live_waste")" = "2|100.0" ]
    [ "$(food "live phytoplankton" '.lots[] | select(.lot == "LP-1027") | .left_units')" = 500 ]
    run sql "DELETE FROM waste"
    [ "$status" -ne 0 ]
    [[ $output == *"append-only"* ]]
}

# EX-1 holds 100 g; the round takes 0.2 g of it for two pots.
small_round() {
    neap start >/dev/null
    neap start --templates sheets >/dev/null
    neap load sheets >/dev/null
    neap plan >/dev/null
    [ "$(sql "SELECT printf('%g', sum(amount_units)) FROM pot_food WHERE lot = 'EX-1'")" = 0.2 ]
}

is_sound() { neap audit | grep -q ": sound$"; }

# bats test_tags=plain
@test "what is mixed and not logged yet is not thrown away a second time" {
    small_round
    refuses_and_keeps 1 "is still to take 0.2 g of it, and is not logged" stock --waste EX-1=100 --reason dropped
    [[ $(flat) == *"waste at most 99.8 (EX-1=rest)"*"--unmixed"* ]]
    run neap stock --waste EX-1=rest --reason dropped
    [ "$output" = "lot EX-1: 99.8 g thrown away (dropped); 0.2 g left" ]
    refuses_and_keeps 1 "nothing is left of it but what rounds are still to take" stock --waste EX-1=rest --reason dropped
    neap log --all
    [ "$(neap stock --json | jq '.foods[].lots[] | select(.lot == "EX-1") | .left_units')" = 0 ]
    is_sound
    refuses_and_keeps 1 "nothing is left of it" stock --waste EX-1=1 --reason dropped
}

# bats test_tags=plain
@test "a tub found empty before mixing is told on the sheet, and a begun round takes the next lot" {
    small_round
    neap add lot EX-9 food="rich powder" amount_units=50
    neap log R1
    run neap stock --waste EX-1=rest --reason empty --unmixed
    [[ $(flat) == *"lot EX-1: 99.9 g thrown away (empty); 0 g left"*"Lot EX-1, rich powder: empty. Do not use it."*"plan --from-now"* ]]
    neap plan --from-now --now 08:20
    [ "$(sql "SELECT pot || lot FROM pot_food WHERE food = 'rich powder' AND revision = 2 ORDER BY 1" | xargs)" = "AEX-9 BEX-1" ]
    run neap sheet --no-pages
    [[ $output != *"Lot EX-1"* ]]
    neap log --all
    is_sound
}

# bats test_tags=plain
@test "a lot that lacks a part of what the round wants is told, begun or not" {
    small_round
    run neap set lot EX-1 amount_units=0.15
    [[ $(flat) == *"Lot EX-1, rich powder: 0.15 g left of the 0.2 that are wanted."* ]]
    neap log R1
    neap sheet --no-pages | grep "Lot EX-1, rich powder: 0.05 g left of the 0.1 that are wanted."
}

# bats test_tags=plain
@test "a log that takes more than a lot held asks, and then says so on the lot" {
    small_round
    neap set lot EX-1 note=
    neap stock --waste EX-1=rest --reason empty --unmixed
    refuses_and_keeps 1 'lot EX-1, rich powder: with this it has given 0.2 g more than it held; --more' log --all
    run neap log --all --more
    [[ $output == *"lot EX-1: gave 0.2 g more than it held"* ]]
    [ "$(sql "SELECT note FROM lot WHERE code = 'EX-1'")" = "gave 0.2 g more than was written down" ]
    run neap log 1=@08:01 --again # takes no more: asks no more
    [ "$status" -eq 0 ]
    is_sound
    neap undo --yes
    neap undo --yes
    neap log --all --weighed A:EX-1=0 --weighed B:EX-1=0
    [ "$(sql "SELECT note IS NULL FROM lot WHERE code = 'EX-1'")" = 1 ]
    is_sound
}

# bats test_tags=plain
@test "a lot never becomes smaller than what was taken of it, by hand or by a file, without a note" {
    small_round
    neap log --all
    refuses_and_keeps 1 'lot "EX-1" gave 0.2 already; expected at least that' set lot EX-1 amount_units=0.1
    printf 'code,food,amount_units,note\nEX-1,rich powder,0.1,\n' >lot.csv
    refuses_and_keeps 1 'nothing stored: lot "EX-1": 0.2 used of 0.1 bought, and no note says why' load lot.csv
    printf 'lot,wasted,repeat,amount_units,reason\nEX-2,2026-11-27T07:00,1,100,all of it\n' >waste.csv
    neap set lot EX-2 note=
    refuses_and_keeps 1 'nothing stored: lot "EX-2": 100.2 used of 100 bought' load waste.csv
    neap set lot EX-1 amount_units=0.1 note="the pack was short"
    neap retire lot EX-1 EX-2
    refuses_and_keeps 1 "nothing is left of it" stock --waste EX-1=1 --reason recalled
    refuses_and_keeps 1 "at most the 99.8 that are left" stock --waste EX-2=100 --reason recalled
    is_sound
}

# bats test_tags=plain
@test "of two lots that go out of date on one day the opened one is used first" {
    neap start >/dev/null
    neap add system reef >/dev/null
    neap add tank R1 system=reef shape=stated net_volume_l=900 >/dev/null
    neap add colony R1-001 tank=R1 kind='branching euphylliids' count=8 heads=30 >/dev/null
    for lot in A-1 B-1; do
        neap add lot $lot food='rich powder' amount_units=100 use_by=2027-01-31 >/dev/null
    done
    neap plan >/dev/null
    neap sheet | grep -q "rich powder (A-1)"
    neap stock --opened B-1 | grep -q "use until 2027-01-31"
    neap plan >/dev/null
    neap sheet | grep -q "rich powder (B-1)"
}

# bats test_tags=plain
@test "opening a lot starts its opened life" {
    has round
    run neap stock --opened RP-127
    [ "$output" = "lot RP-127 of rich powder: opened 2026-11-27; use until 2027-05-26" ]
    run neap stock --opened RP-127 --at 2026-11-20
    [[ $output == *"opened 2026-11-20; use until 2027-05-19"* ]]
}

# bats test_tags=plain
@test "a lot can be recalled: rounds, tanks and colonies that got it, and no others" {
    has round
    line() { sql "SELECT min(number) FROM line WHERE colony = '$1'"; }
    neap log 1 --all "$(line D1-002)=n" "$(line D1-003)=r" >/dev/null
    run neap stock --lot WM-41 --where
    [[ $output == *"2026-11-27     1 D1         all in the tank"*"fish"*"0.670 g"* ]]
    run neap stock --lot RP-113 --where
    [[ $output != *"D1-002"* ]]
    [[ $output == *"D1-003"* ]] # it refused, but had it in front of it
    run neap stock --where
    [ "$status" -eq 2 ]
}

# bats test_tags=plain
@test "the price of a round is that of the lots, and the systems' shares add up to what was given" {
    has round
    neap log 1 --all >/dev/null
    neap stock --json >"$BATS_TEST_TMPDIR/s.json"
    given=$(jq '.days[0].given_cents' "$BATS_TEST_TMPDIR/s.json")
    [ "$(jq '[.systems[].given_cents] | add' "$BATS_TEST_TMPDIR/s.json")" = "$given" ]
    [ "$(jq ".days[0].food_cents >= $given" "$BATS_TEST_TMPDIR/s.json")" = true ]
    # fish food of one tank: 0.67 g of a lot of so many cents
    want=$(sql "SELECT sum(line.amount) * lot.price_cents / lot.amount_units FROM line JOIN lot ON lot.code = line.lot WHERE line.lot = 'WM-41'")
    have=$(sql "SELECT sum(fed.units) * lot.price_cents / lot.amount_units FROM fed JOIN lot ON lot.code = fed.lot WHERE fed.lot = 'WM-41'")
    [ "$want" = "$have" ]
}

# bats test_tags=plain
@test "what is counted in mL may be weighed, and what is counted in g measured, by the food's density" {
    has demo
    neap set food "oyster-egg liquid" density_g_per_ml=1.25
    neap add lot W-1 food="oyster-egg liquid" amount_units=250g
    [ "$(neap --json list lot W-1 | jq '.lot[0].amount_units')" = 200 ]
    neap set lot W-1 amount_units=1oz
    [ "$(neap --json list lot W-1 | jq '.lot[0].amount_units')" = 22.68 ]
    neap set lot W-1 amount_units=200
    neap stock --waste W-1=12.5g --reason "spilt" | grep "10 mL thrown away"
    neap plan
    neap log 1 --weighed "A:oyster-egg liquid=1.25g" | grep "oyster-egg liquid: 1 of 0.6 mL weighed"
    neap log 1 --extra "D1:rich powder=1mL" | grep "rich powder 0.45 g"
    refuses 1 "expected a volume" add lot W-2 food="oyster-egg liquid" amount_units=3cm
    refuses 1 "no food" add lot W-2 food="oyster" amount_units=3g
    refuses 1 "unit" set lot W-1 amount_units=3grams_or_so
}

# bats test_tags=plain
@test "what a lot has lost counts however long ago, and so does the day a colony was last fed" {
    has morning
    neap log 1 --all >/dev/null
    left='[.. | objects | select(.lot? == "AA-31").left_units] | unique'
    now=$(neap --json stock | jq -c "$left")
    "$NEAP" --on 2028-01-15 --json stock | jq -c "$left" | grep -Fx "$now"
    [ "$(jq -c '.[0] < 2600' <<<"$now")" = true ]
    # of all that were fed on the day of the round, every one is known to have been fed then
    "$NEAP" --on 2028-01-15 --json trend | jq '[.life.unfed[].days] | index(414) != null and min == 414' | grep true
}

# bats test_tags=plain
@test "what the food ledger says of a system is what its lots say of its tanks, line by line" {
    has morning
    neap log D1-002=r:0 --all --extra "D2:rich powder=0.5g" --extra "D1:live phytoplankton=3mL" --more >/dev/null
    local sums="SELECT system, round, day, action, food, lot, printf('%.9f', sum(units))"
    sql "$sums FROM fed GROUP BY 1, 2, 4, 5, 6 ORDER BY 1, 2, 4, 5, 6" >ledger.txt
    sql "$sums FROM (SELECT u.lot, food, round, day, units, system, CASE WHEN action = 'target' AND colony IS NULL THEN 'extra' ELSE action END
        AS action FROM lot_use AS u JOIN tank ON tank = name) GROUP BY 1, 2, 4, 5, 6 ORDER BY 1, 2, 4, 5, 6" >lots.txt
    diff ledger.txt lots.txt
    [ "$(cut -d'|' -f4 ledger.txt | sort -u | xargs)" = "broadcast extra fish target" ]
    grep -F "|extra|rich powder|RP-113|0.500000000" ledger.txt
}
