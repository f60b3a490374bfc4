#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# A page for a customer's tank.
load helper

@test "a card has what is fed, how much, how often, and says to start small, test after and take care" {
    has demo
    cp store.neap before.neap
    run neap card "branching euphylliids=3x4" zoanthids=2x20 --volume 80usgal --no3 8 --po4 0.06 --for "J. Marsh"
    [ "$status" -eq 0 ]
    for words in "HOME FEEDING CARD for J. Marsh" "303 L (80 US gal)" "START SMALL" "TEST AFTER" "TAKE CARE" "palytoxin" \
        "every 5 days" "level teaspoon"; do
        [[ $output == *"$words"* ]] || { echo "no $words"; return 1; }
    done
    [ "$(LC_ALL=C.UTF-8 grep -cE '^.{81}' <<<"$output")" -eq 0 ]
    cmp store.neap before.neap
    # by measures: 60 x 40 x 35 cm less a tenth
    run neap card zoanthids=1 --length 60cm --width 40cm --water 35cm --rock 10
    [[ $output == *"76 L (20 US gal)"* ]]
    neap card zoanthids=1 --volume 80usgal --pdf card.pdf >/dev/null
    qpdf --check card.pdf
    pdfinfo card.pdf | grep -q "^Pages: *1$"
}

# bats test_tags=plain
@test "a card's amounts are those of a round that is planned for such a tank" {
    has demo
    run neap card "branching euphylliids=3x4" "acans and micromussids=4x6" --volume 300L --no3 18 --po4 0.05
    neap add system home >/dev/null
    neap add tank home system=home shape=stated net_volume_l=300 >/dev/null
    neap add colony H-1 tank=home kind="branching euphylliids" count=3 heads=4 arrived=2025-11-27 >/dev/null
    neap add colony H-2 tank=home kind="acans and micromussids" count=4 heads=6 arrived=2025-11-27 >/dev/null
    neap --on 2026-11-27T07:00 test home no3=18 po4=0.05 >/dev/null
    neap plan >/dev/null
    for food in "amino-acid liquid" "live phytoplankton"; do # the house reads whole mL, the card tenths
        at_house=$(sql "SELECT amount FROM line WHERE tank = 'home' AND food = '$food'")
        at_home=$(sed -n "s/^$food  *\([0-9.]*\) mL, by syringe$/\1/p" <<<"$output" | tail -1)
        awk "BEGIN { exit !($at_home >= $at_house && $at_home < $at_house + 1) }"
    done
    ml=$(sql "SELECT printf('%.1f', sum(amount)) FROM line WHERE tank = 'home' AND action = 'target'")
    [[ $(flat) == *" $ml mL of it are given"* ]]
    each=$(sql "SELECT printf('%.1f mL over %d mouths', amount / count, mouths) FROM line WHERE colony = 'H-2'")
    [[ $output == *"$each"* ]]
    # nitrate is high there, and both know what that means
    [[ $(flat) == *"nitrate high: three-quarter strength"* ]]
    neap sheet --no-pages | grep -q "^! home: nitrate high: three-quarter strength"
}

# bats test_tags=plain
@test "who is left out is told, and what makes no tank is refused" {
    has demo
    run neap card "small-polyp stony=6" "large fleshy corals=2" --volume 76L --no3 25 --po4 "<0.02"
    [ "$status" -eq 0 ]
    [[ $(flat) == *"phosphate below detection with nitrate present"* ]]
    [[ $output == *"small-polyp stony"* ]]
    refuses 1 'there is no kind "zoo"' card zoo=1 --volume 80L
    refuses 2 "expected how many" card zoanthids=0 --volume 80L
    refuses 2 "expected how many" card zoanthids=2x --volume 80L
    refuses 2 "expected --volume, or --length" card zoanthids=1
    refuses 2 "write usgal or impgal" card zoanthids=1 --volume 20gal
    refuses 1 "expected 20 L or more" card zoanthids=1 --volume 5L
    refuses 2 "--no3" card zoanthids=1 --volume 80L --no3 blue
}
