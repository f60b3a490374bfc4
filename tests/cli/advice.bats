# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# A shop with one system of 1000 L in the middle of its bands, and every food of its house blend on the shelf.
shop() {
    neap start
    neap add system s test_every_d=3
    neap add tank T system=s shape=box length_cm=200 width_cm=100 water_cm=50 fish=yes
    neap add colony A-1 tank=T kind="acans and micromussids" count=24 heads=4
    neap set kind "acans and micromussids" interval_d=1
    neap set food "whole mysid" fish_units_per_100l=0.05
    local food
    for food in "rich powder" "phosphate-lowering powder" "live phytoplankton" "amino-acid liquid" "whole mysid"; do
        neap add lot "L-${food%% *}" food="$food" amount_units=5000 received=2026-11-01 use_by=2027-06-01
    done
    local day
    for day in 03 06 09 12 15 18 21; do
        "$NEAP" --on "2026-11-${day}T07:00" test s no3=8 po4=0.07
    done
} >/dev/null </dev/null

# So many rounds, one a day up to the day before, each given as planned.
rounds() {
    local n=$1 i
    for ((i = 1; i <= n; i++)); do
        neap --on "2026-11-$((26 - n + i))" plan
        "$NEAP" --on "2026-11-$((26 - n + i))" log "$i" --all
    done
    neap plan
} >/dev/null </dev/null

# What the working of a system's room says of "this round adds" and the like: nitrate "this round adds"
room() {
    neap --json why s |
        jq -r ".why[0].steps[] | select(.title == \"room for $1\") | .rows[] | select(.what == \"$2\") | .value"
}

# Numbers alike to a part in a million, and above 0.
alike() { awk -v a="$1" -v b="$2" 'BEGIN { exit !(a > 0 && b > 0 && (a - b) ^ 2 < 1e-12 * a * a) }'; }

# bats test_tags=plain
@test "a repeated round differs from its log by nothing" {
    shop
    rounds 4
    local analyte
    for analyte in nitrate phosphate; do
        alike "$(room $analyte 'a logged round added')" "$(room $analyte 'this round adds')"
    done
}

# bats test_tags=plain
@test "what is lost beside the mouths is in the water, what stays in syringe and pot is not" {
    shop
    rounds 2
    # phosphate by hand, mg: P x 94.970/30.974 x the part released (0.5 from mouths and fish, 0.7 broadcast) x units
    by_hand=$(sql "SELECT sum(f.units * food.p_mg_per_unit * 94.970 / 30.974
        * CASE f.action WHEN 'target' THEN 0.5 * 1.05 WHEN 'fish' THEN 0.5 ELSE 0.7 END) / 2
        FROM fed AS f JOIN food ON food.name = f.food")
    alike "$(room phosphate 'a logged round added')" "$by_hand"
}

# bats test_tags=plain
@test "a solid given beside the plan is in the water whole, and nothing more was lost of it" {
    shop
    rounds 2
    before=$(room phosphate 'a logged round added')
    neap log 2 --extra "T:rich powder=2g" </dev/null >/dev/null
    neap plan >/dev/null
    # 2 g in two logged rounds: 1 g of 18 mg P each, half of it released
    alike "$(sql "SELECT $before + 18 * 94.970 / 30.974 * 0.5")" "$(room phosphate 'a logged round added')"
}

# The shop with other water: no3=28 po4=0.31
water() {
    shop
    local day
    for day in 22 23 24 25; do "$NEAP" --on "2026-11-${day}T07:00" test s "$@"; done
} >/dev/null </dev/null

# What a pot holds of a food, as a part of its dry food.
share() {
    sql "SELECT sum(amount_units) FILTER (WHERE food = '$1') / sum(amount_units) FROM pot_food WHERE round = 1"
}

more() { awk -v a="$1" -v b="$2" 'BEGIN { exit !(a > b) }'; }

# bats test_tags=plain
@test "water high in both gets less of the rich powder from the first round, and the working says by what" {
    water no3=28 po4=0.31
    neap plan >/dev/null
    more 0.55 "$(share 'rich powder')" # 0.6 in the house blend; a scale of 0.1 g tells no more of so small a pot
    neap --json trend | jq -e '.systems[0] | .foods_no3 == "poorer" and .foods_po4 == "poorer"'
    run neap trend
    [[ $(flat) == *"0.50 of house strength, foods poorer in both."* ]]
    run neap why s
    [[ $output == *"phosphate, poorer by"* && $output == *"nitrate, poorer by"* ]]
    [[ $(flat) == *"by the state alone: the log is too short to say more"* ]]
    run neap why A
    [[ $(flat) == *"is above its band, so its foods bring less of it than the house blend"* ]]
}

# bats test_tags=plain
@test "water in its bands gets the house blend" {
    shop
    neap plan >/dev/null
    neap --json why A | jq -e '[.why[0].steps[].rows[] | select(.what == "the recipe'"'"'s answer") | .origin] |
        length == 2 and all(. == "as the house blend")'
    run neap why s
    [[ $(flat) == *"nitrate as the house blend (in band)"* ]]
}

# bats test_tags=plain
@test "water that lacks phosphate gets none of what lowers it, and all of what is rich in it" {
    water no3=8 po4=below0.02
    neap plan >/dev/null
    [ "$(share 'rich powder')" = 1.0 ]
    run neap why s
    [[ $(flat) == *"phosphate, richer by 1"* ]]
}

# bats test_tags=plain
@test "high water is fed by the state's strength, not starved by the room, once a log is there" {
    water no3=16.5 po4=0.07
    neap set colony A-1 count=40 >/dev/null
    rounds 3
    more "$(sql "SELECT min(factor) FROM pot WHERE round = 4")" 0.5 # three quarters by the state
    never more "$(sql "SELECT max(factor) FROM pot WHERE round = 4")" 0.75
}

# bats test_tags=plain
@test "a test taken after the hour the house begins at counts in the plan that is made then" {
    shop
    "$NEAP" --on 2026-11-27T09:10 test s no3=44 po4=0.4 >/dev/null
    neap --on 2026-11-27T09:15 plan --start 09:30 >told
    never grep -q "no longer fits" told
    [ "$(sql "SELECT max(factor) <= 0.5 FROM pot WHERE round = 1")" = 1 ]
    "$NEAP" --on 2026-11-27T09:20 sheet --no-pages >sheet
    never grep -q "CHANGED SINCE" sheet
    "$NEAP" --on 2026-11-27T09:20 why s | tr -s ' \n' ' ' | grep -q "less until it is repeated"
}

# bats test_tags=plain
@test "a day on which many are due is no thinner than a quarter below what the state allows" {
    water no3=19 po4=0.16
    neap set kind blastomussa interval_d=5 >/dev/null
    rounds 3
    neap add colony B-1 tank=T kind=blastomussa count=150 heads=3 >/dev/null
    neap plan >/dev/null
    [ "$(sql "SELECT min(allowed_frac) FROM pot WHERE round = 4")" = 0.5 ]
    more "$(sql "SELECT min(factor) FROM pot WHERE round = 4 AND revision = (SELECT max(revision) FROM pot WHERE round = 4)")" 0.35
    neap why s | tr -s ' \n' ' ' | grep -q "within a quarter of the house blend as strong as the state allows"
}

# bats test_tags=plain
@test "where a ceiling cuts a broadcast, the working names the ceiling and not the state" {
    shop
    neap set food "amino-acid liquid" ceiling_units_per_100l=5.2
    neap plan >/dev/null
    run neap why 1
    said=$(flat)
    [[ $said == *"ceiling of its water"* ]]
    [[ $said != *"amino-acid liquid: no more by the state"* && $said != *"price:"* ]]
}

# bats test_tags=plain
@test "a slope of nothing is the slope above, not one that is not known" {
    shop
    neap plan >/dev/null
    run neap why s
    [[ $(flat) != *"none known"* ]]
    [[ $(flat) == *"slope 0 mg/L/d above"* ]]
}

# bats test_tags=plain
@test "old refusals are not told once the colony was fed as planned" {
    shop
    local day
    for day in 20 21 22 23 24 25; do
        neap --on 2026-11-$day plan
        target=$(sql "SELECT number FROM line WHERE round = $((day - 19)) AND action = 'target' ORDER BY revision DESC LIMIT 1")
        if ((day < 23)); then "$NEAP" --on 2026-11-$day log $((day - 19)) --all "$target=r"
        else "$NEAP" --on 2026-11-$day log $((day - 19)) --all; fi
    done >/dev/null </dev/null
    [ "$(sql "SELECT count(*) FROM given WHERE outcome = 'refused'")" = 3 ]
    neap plan >/dev/null
    run neap sheet --no-pages
    [[ $output != *"refused"*"of its last"* ]]
    "$NEAP" --on 2026-11-23 sheet 4 --no-pages >sheet
    tr -s ' \n' ' ' <sheet | grep -q "refused 3 of its last 3 rounds"
}
