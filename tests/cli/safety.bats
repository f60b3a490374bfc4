# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# bats test_tags=plain
@test "a tank of palythoa that is not fed carries the palytoxin caution wherever a hand goes in" {
    has demo
    neap add colony PX-1 tank=N1 kind=palythoa count=2 heads=5
    neap plan
    run neap sheet --no-pages
    [ "$status" -eq 0 ]
    [[ $output == *"in here, fed or not: gloves and eye cover"* ]]
    neap sheet --tank N1 --no-pages | grep "in here, fed or not"
    for feeder in 1 2; do # whoever feeds N1 is told at N1
        neap sheet --feeder $feeder --no-pages | grep -A1 "N1 (" | grep "^    !.*in here, fed or not" && told=yes
    done
    [ "$told" = yes ]
    tr '\n|' '  ' <<<"$output" | tr -s ' ' >flat
    grep -q "fed (marked \*) or not, in [^:]*N1[^:]*: treat each as toxic" flat
}

# bats test_tags=plain
@test "held zoanthids keep their caution" {
    has demo
    neap list colony --json >colonies
    codes=$(jq -r '.. | objects | select(.kind? == "zoanthids") | .code' colonies)
    [ -n "$codes" ]
    for code in $codes; do neap hold colony "$code" --reason healing >/dev/null; done
    neap plan
    run neap sheet --no-pages
    [[ $output == *"palytoxin"* ]]
}

# bats test_tags=plain
@test "a farm of 190 held tanks loses no safety line" {
    neap start
    neap add system s >/dev/null
    {
        echo name,system,shape,length_cm,width_cm,water_cm,hold_reason
        echo fed,s,box,200,100,50,
        for i in $(seq 190); do echo "t$i,s,box,100,50,40,worms"; done
    } >tank.csv
    neap load tank.csv >/dev/null
    neap add colony Z-1 tank=fed kind=zoanthids count=3 heads=20 >/dev/null
    neap add lot RP-1 food="rich powder" amount_units=100 received=2026-11-01 use_by=2027-06-01 >/dev/null
    neap plan
    run neap sheet --no-pages
    [ "$(grep -c "is on hold" <<<"$output")" -eq 190 ]
    [[ $output == *"palytoxin"* ]]
    [[ $output == *"Cover cuts"* ]]
    [[ $output == *"let someone else handle them"* ]]
    # in the box at the foot of what is about the whole round, not among what is new
    box=$(sed -n '/^+- EVERY ROUND/,/^+---/p' <<<"$output")
    [[ $box == *palytoxin* && $box == *"Cover cuts"* && $box != *"on hold"* ]]
}

# bats test_tags=plain
@test "allergy is spoken of without frozen food, and thawing only with it" {
    neap start
    neap add system s >/dev/null
    neap add tank T system=s shape=box length_cm=200 width_cm=100 water_cm=50 >/dev/null
    neap add colony A-1 tank=T kind="acans and micromussids" count=3 heads=6 >/dev/null
    neap add lot RP-1 food="rich powder" amount_units=100 received=2026-11-01 use_by=2027-06-01 >/dev/null
    neap plan
    run neap sheet --no-pages
    [[ $output == *"hold fish, shellfish or egg"* ]]
    [[ $output != *"Thawed food"* ]]
}

# bats test_tags=plain
@test "what the last sheet said already stands behind what is new today" {
    has round
    neap --on 2026-11-27 log 1 --all >/dev/null
    neap hold tank S2 --reason "pump out" --until 2026-12-20 >/dev/null
    neap --on 2026-11-28 plan
    run "$NEAP" --on 2026-11-28 sheet --no-pages
    new=$(sed -n '/^CAUTIONS: NEW TODAY/,/^CAUTIONS: AS/p' <<<"$output")
    old=$(sed -n '/^CAUTIONS: AS ON THE LAST SHEET/,/^FLOWS TO TURN/p' <<<"$output")
    [[ $new == *"Tank S2 is on hold"* && $new != *"Discard lot OE-22"* ]]
    [[ $old == *"Discard lot OE-22"* && $old != *"Tank S2"* ]]
}
