#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Labels on label sheets: where each stands, what is on it, and where a sheet that is begun goes on.
load helper

kept=$BATS_TEST_DIRNAME/../page
fits() { # SHEET FROM ARGUMENTS…
    local sheet=$1 from=$2
    shift 2
    neap labels "$@" --sheet "$sheet" --from "$from" --pdf l.pdf >/dev/null
    qpdf --check l.pdf >/dev/null
    neap labels "$@" --sheet "$sheet" --from "$from" --json | /usr/bin/python3 "$kept/labels.py" l.pdf "$sheet" "$from"
}

# bats test_tags=plain
@test "every word lies on its label, on each sheet, from whichever label it begins" {
    has round
    for sheet in 3x8 3x7 3x10; do
        fits $sheet 1 tank
        fits $sheet 20 colony --tank N2
        fits $sheet 5 pot
    done
    fits 3x10 30 rack R1 "Regal 7 Süd" "a name that is far too long for any label of this size, so that it must be cut"
    [ "$(pdfinfo l.pdf | sed -n 's/^Pages: *//p')" -eq 2 ]
    # the check sees a label elsewhere
    neap labels tank --from 2 --pdf l.pdf >/dev/null
    neap labels tank --json >l.json
    never /usr/bin/python3 "$kept/labels.py" l.pdf 3x8 1 <l.json
    # and the same bytes each time
    neap labels tank --from 2 --pdf m.pdf >/dev/null
    cmp l.pdf m.pdf
}

@test "a label names what it is for, and what may hurt comes first" {
    has round
    neap labels tank >tanks
    [ "$(grep -cE '^1\.[0-9]{2} ' tanks)" -eq "$(sql 'SELECT count(*) FROM tank')" ]
    grep -q "^1.02 D2: display, 2318 L; feed from the ladder side$" tanks
    grep -q "^1.07 N2: Palytoxin: gloves, eye cover. north, 1827 L$" tanks
    grep -q "^1.09 Q1: Palytoxin: gloves, eye cover. Quarantine: own tools, last. quarantine" tanks
    neap labels tank --units us | grep -q "D2: display, 612 US gal"
    neap labels colony Q1-007 D1-001 | tail -2 | head -1 | grep -q "^1.01 Q1-007: Palytoxin: .* zoas, mixed, new, 20 pieces; Q1$"
    neap labels colony | sed -n 's/^[0-9]*\.[0-9]* \([^ :]*\):.*/\1/p' | sort >labelled
    sql "SELECT code FROM colony WHERE retired IS NOT 1 AND count > 0 ORDER BY code" | cmp - labelled
    neap labels pot A >pots
    grep -qE "^1.01 POT A: display, [0-9.]+ mL. Mixed [0-9:]{5}, good until [0-9:]{5}. Round 1," pots
    [ "$(neap labels pot | grep -c ' POT ')" -ge "$(sql 'SELECT count(*) FROM pot')" ]
    neap labels rack R1 R2 --from 24 | grep -q "^2.01 R2: Withy Lane Coral Nursery$"
    neap labels tank --from 24 | grep -q "^14 LABELS on 2 sheets of A4, 3 across and 8 down$"
    neap labels rack R1 --units us | grep -q "^1 LABEL on 1 sheet of US letter, 3 across and 10 down$"
}

@test "what is no label is refused, and nothing is written" {
    has round
    refuses 2 "expected tank, colony, rack or pot" labels fish --pdf a.pdf
    refuses 2 "expected 3x8, 3x7 or 3x10" labels tank --sheet 4x4 --pdf a.pdf
    refuses 2 "a sheet 3x7 has 21 labels" labels tank --sheet 3x7 --from 22 --pdf a.pdf
    refuses 1 'did you mean "D2"' labels tank DD2 --pdf a.pdf
    refuses 1 'has no pot "Z"' labels pot Z --pdf a.pdf
    refuses 2 "needs names" labels rack --pdf a.pdf
    refuses 2 "expected no --pdf" labels tank --json --pdf a.pdf
    refuses 2 "--tank chooses among all colonies" labels colony D1-001 --tank D1
    refuses 2 "--round chooses the pots" labels tank --round 1
    has demo
    refuses 1 "no round is planned" labels pot --pdf a.pdf
    [ ! -e a.pdf ]
    # a broken page model is named
    run "$(dirname "$NEAP")/neap-page" <<<'{"schema": 1, "blocks": [{"type": "labels", "sheet": {"columns": 0}, "labels": []}]}'
    [ "$status" -eq 1 ]
    [[ $output == *"sheet: expected"* || $output == *"expected a"* ]]
}
