# SPDX-License-Identifier: GPL-3.0-or-later
load helper

@test "the example tables load as they are, and never replace a file" {
    neap start --templates sheets
    [ "$(ls sheets | wc -l)" -eq 8 ]
    neap start
    run neap load sheets
    [ "$status" -eq 0 ]
    [[ $output == *"refused 0"* ]]
    neap plan | grep -q "^round 1 revision 1: .* lines, 31 colonies"
    find sheets -name '*.csv' ! -name tank.csv -delete
    refuses 1 "sheets/tank.csv is there already" start --templates sheets
    [ "$(ls sheets)" = tank.csv ]
    refuses 2 "--templates makes no store" start --templates other --demo
}

# bats test_tags=plain
@test "the demo's first morning is the day it is started, with ten weeks of its book behind it" {
    local first days
    "$NEAP" --on 2027-03-05 start --demo
    mv store.neap march.neap
    neap start --demo
    neap audit
    [ "$(neap dump round | tail -1 | cut -d, -f3)" = 2026-11-25 ]
    first=$(neap dump round | sed -n 2p | cut -d, -f3)
    days=$((($(date -ud 2026-11-27 +%s) - $(date -ud "$first" +%s)) / 86400))
    [ "$days" -ge 67 ]
    [ "$days" -le 70 ]
    [ "$(NEAP_DB=march.neap "$NEAP" dump round | tail -1 | cut -d, -f3)" = 2027-03-03 ]
    [ "$(NEAP_DB=march.neap "$NEAP" dump colony | cut -d, -f1,2,5)" = "$(neap dump colony | cut -d, -f1,2,5)" ]
    # 98 days later all is as it was
    neap plan >one
    NEAP_DB=march.neap neap --on 2027-03-05 plan >other
    cmp one other
    neap dump given | grep -c . | { read -r n; [ "$n" -gt 2500 ]; }
    for reason in sold died divided; do neap dump tally | grep -q ",$reason,"; done
}

# bats test_tags=plain
@test "the demo's first morning has learned a food's effect, uses it, forecasts and reports the week" {
    neap start --demo
    neap --json trend >report.json
    jq -e '[.effects[] | select(.claimed)] | length >= 1' report.json
    jq -e '[.effects[] | select(.claimed)][0] | .food == "rich powder" and .analyte == "po4"' report.json
    neap trend >report
    for part in "IN SHORT" "THE WEEK'S ROUNDS" "CORALS AND TANKS" "WHAT THE FOODS DO TO THE WATER"; do grep -q "^$part" report; done
    grep -q "Corals: .* sold" report
    neap ahead --system north --weeks 4 >ahead
    never grep "changes nothing in this forecast" ahead
    neap stock >stock
    grep -q "use of the last 28 days" stock
    grep -q "^PRICE OF THE FOOD" stock
    grep -q "DISCARD" stock
}

# bats test_tags=plain
@test "the demo without its weeks begins its book today" {
    refuses 2 "expected --demo with it" start --no-log
    neap start --demo --no-log
    [ -z "$(neap dump round)" ]
    [ "$(neap dump test | wc -l)" -eq 200 ]
}

@test "start and add food ask at a terminal, and can be left at any question" {
    mkdir asked && cd asked
    NEAP=$(realpath "$NEAP") run /usr/bin/python3 -B "$BATS_TEST_DIRNAME/guide.py"
    echo "$output"
    [ "$status" -eq 0 ]
}
