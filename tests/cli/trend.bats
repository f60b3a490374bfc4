# SPDX-License-Identifier: GPL-3.0-or-later
load helper

report() {
    neap trend "$@"
}

# bats test_tags=plain
@test "the report begins with the system that needs attention most" {
    has demo
    run -0 report
    [[ "$output" == "WEEKLY REPORT, Withy Lane Coral Nursery, 2026-11-21 to Friday 2026-11-27"* ]]
    first=$(grep -n '^!! south' <<<"$output" | cut -d: -f1)
    next=$(grep -n '^!  north' <<<"$output" | cut -d: -f1)
    last=$(grep -n '^   display' <<<"$output" | cut -d: -f1)
    [ "$first" -lt "$next" ]
    [ "$next" -lt "$last" ]
}

# bats test_tags=plain
@test "each story of the demo is told in its verdicts" {
    has demo
    run -0 report --system north
    [[ "$output" == *"above band "*"rising"* ]]
    [[ "$output" == *"does not come back into the band"* ]]
    run -0 report --system south
    [[ "$output" == *"phosphate below detection"* ]]
    [[ "$(flat)" == *"none that lowers phosphate"* ]]
    run -0 report --system display
    [[ "$output" == *"in band, "*"steady"* ]]
    run -0 report --system west
    [[ "$output" == *"last tested 22 days ago"* ]]
    [[ "$output" == *"Weeks without a"*"3 of 4"* ]]
    run -0 report --system east
    [[ "$output" == *"nitrate 17.6 mg/L, above the band and rising"* ]]
    run -0 report --system quarantine
    [[ "$output" == *"too few tests"* ]]
}

# bats test_tags=plain
@test "a test far off the line is named with its day, and marked" {
    neap start >/dev/null
    neap add system s sump_volume_l=100 >/dev/null
    neap add tank T system=s shape=stated net_volume_l=100 >/dev/null
    day=10
    for no3 in 5 5.2 4.9 5.1 12 5 5.2 4.8; do
        neap --on "2026-11-$day" test s "no3=$no3" >/dev/null 2>&1
        day=$((day + 2))
    done
    run -0 report
    [[ "$(flat)" == *"Nitrate of 12.0 mg/L on 2026-11-18 is far off the line (x); it is kept, a repeat would settle it."* ]]
    [ "$(grep -c "far off the line" <<<"$output")" -eq 1 ]
    neap --json trend | jq -e '[.systems[].analytes[].tests[]? | select(.outlier) | .value] == [12]'
}

# bats test_tags=plain
@test "no line is wider than 80 columns" {
    has demo
    report >"$BATS_TEST_TMPDIR/out"
    [ "$(wc -L <"$BATS_TEST_TMPDIR/out")" -le 80 ]
}

# bats test_tags=plain
@test "the strength advised is the one the planner uses" {
    has demo
    report --system north | tr '\n' ' ' | tr -s ' ' | grep -q 'Next round: 0.50 of house strength'
    neap plan >/dev/null
    neap sheet --no-pages | grep -q 'north: nitrate and phosphate both high: half strength'
}

# What a ceiling takes from a pot is no verdict on the water: only what the state allowed is what a rise begins at.
# bats test_tags=plain
@test "the weekly rise begins at what the state allowed, not at a pot that a ceiling made weak" {
    has demo
    neap set food "rich powder" ceiling_units_per_100l=0.01
    neap plan
    [ "$(sql "SELECT factor < 0.75 AND allowed_frac = 1.25 FROM pot WHERE systems = 'south'")" = 1 ]
    neap log 1 --all
    neap set food "rich powder" ceiling_units_per_100l=0.08
    neap add band north no3 low=0 high=90
    neap add band north po4 low=0 high=2
    run -0 neap --on 2026-11-28 trend --json
    [ "$(jq '.systems[] | select(.system == "south") | .strength' <<<"$output")" = 1.25 ]
    [ "$(jq '.systems[] | select(.system == "quarantine") | .strength' <<<"$output")" = 1 ]
    # a cut by state does hold: from half, a quarter a week
    [ "$(jq '.systems[] | select(.system == "north") | .strength' <<<"$output")" = 0.75 ]
    neap --on 2026-11-28 plan
    run -0 neap --on 2026-11-28 why system south
    [[ $output == *"least allowed, last 7 days "*" 1.25 log, by state"* ]]
}

@test "an earlier week is told as it stood then" {
    has demo
    run -0 report --system south --week-of 2026-10-16
    [[ "$output" == *"to Friday 2026-10-16"* ]]
    [[ "$output" != *"below detection ("* ]]
    [[ "$(grep -vE "^ +2026-" <<<"$output")" != *"2026-11-"* ]] # but at the end of a forecast
}

# bats test_tags=plain
@test "a week to come and a system that is not there are refused" {
    has demo
    run -2 report --week-of 2026-12-01
    [[ "$output" == *"still to come"* ]]
    run -1 report --system nrth
    [[ "$output" == *'did you mean "north"'* ]]
}

@test "json carries a schema and every system, csv a line per analyte" {
    has demo
    report --json | jq -e '.schema == 1 and (.systems | length) == 6 and .systems[0].system == "south"'
    report --json | jq -e '.systems[] | select(.system == "north") | .strength == 0.5'
    report --csv >"$BATS_TEST_TMPDIR/t.csv"
    [ "$(wc -l <"$BATS_TEST_TMPDIR/t.csv")" -eq 18 ]
    [ "$(awk -F'"' '{ line = $1 $3; print gsub(/,/, "", line) }' "$BATS_TEST_TMPDIR/t.csv" | sort -u)" = 23 ]
}

# bats test_tags=plain
@test "charts are drawn in ASCII and in Unicode, from 60 columns to 200, what needs attention first" {
    export LC_ALL=C.UTF-8
    has demo
    for width in 60 80 133 200; do
        for charts in ascii unicode; do
            neap trend --width $width --charts $charts >out
            never grep -nE "^.{$((width + 1))}" out
            grep -qE "^.{$((width - 1))}" out
        done
        for mark in ● ▽ ━ ░ ╍ ┄ ┊ ┴ ◆; do grep -q "$mark" out; done
    done
    neap trend --charts ascii >out
    never grep -nP '[^\x00-\x7F]' out
    neap trend | cmp - out # what is no terminal gets ASCII
    # the overview stands before the systems, in the order of the sentences above it
    sed -n '/^IN SHORT/,/^$/s/^[!?> ][! ] \([a-z]*\): .*/\1/p' out >short
    sed '/^SYSTEM/,$d' out | grep -E '^[a-z]+: [a-z]+( +[a-z]+: [a-z]+)*$' | grep -oE '[a-z]+:' | tr -d : | uniq >small
    [ "$(wc -l <small)" -ge 4 ]
    grep -Fxf small short | diff - small
    refuses 2 "expected ascii or unicode" trend --charts braille
    refuses 2 "expected 60 to 200" trend --width 59
}

# bats test_tags=plain
@test "the week's log takes in its first and its last day, and none beside them" {
    has shop
    neap add colony T-900 tank=$(sql "SELECT name FROM tank LIMIT 1") kind='branching euphylliids' count=9 >/dev/null
    for day in 2026-11-20 2026-11-21 2026-11-27 2026-11-28; do
        "$NEAP" --on $day count T-900 1 sold >/dev/null
    done
    [ "$(neap trend --json | jq .life.sold)" = 2 ]
}

# bats test_tags=plain
@test "pages carry the week and their count" {
    has demo
    report --page-lines 60 >"$BATS_TEST_TMPDIR/out"
    grep -q 'weekly report to 2026-11-27 .*page 1 of' "$BATS_TEST_TMPDIR/out"
    [ "$(tr -cd '\f' <"$BATS_TEST_TMPDIR/out" | wc -c)" -ge 1 ]
}

# bats test_tags=plain
@test "a store without systems gives a report that says so" {
    neap start >/dev/null
    run -0 report
    [[ "$output" == *"There is no system yet."* ]]
    report --json | jq -e '.systems == []'
}

# bats test_tags=plain
@test "the week's rounds name the lines that were never accounted for" {
    has demo
    run -0 report
    [[ "$output" == *"No round is kept in this week."* ]]
    neap plan >/dev/null
    last=$(sql "SELECT max(number) FROM line")
    tank=$(sql "SELECT tank FROM line WHERE number = $last")
    fed=$(sql "SELECT min(number) FROM line WHERE action = 'target'")
    neap log 1 "$fed=r:0" "$((fed + 1))-$((last - 1))" >/dev/null
    run -0 report
    [[ "$output" == *"1 refused"* ]]
    [[ "$output" == *"Round 1 of 2026-11-27, never accounted for:"* ]]
    report --json | jq -e ".rounds.n_unaccounted == $fed and .rounds.n_by_outcome.refused == 1"
    report --json | jq -e ".rounds.unaccounted[0].lines | endswith(\"$tank $last\")"
}

# bats test_tags=plain
@test "the week's waste is told, and after each of a week's rounds it is less than a quarter, in the demo and in a small shop" {
    has demo
    NEAP_DB=shop.neap has shop
    for store in "$NEAP_DB" shop.neap; do
        for day in 11-27 11-28 11-29 11-30 12-01 12-02 12-03; do
            neap --db "$store" --on 2026-$day plan
            neap --db "$store" --on 2026-$day log --all
            neap --db "$store" --on 2026-$day --json trend | jq -e '.rounds | .wasted_ml > 0 and .wasted_ml < .mixed_ml / 4 and
                (.wasted_ml + .given_ml + .refused_ml - .mixed_ml | fabs) < 1e-6'
        done
        neap --db "$store" --on 2026-12-03 trend | grep "^Wasted: [0-9.]* mL, [0-9]* % of what was mixed"
    done
}

# bats test_tags=plain
@test "a small shop whose scale shows 0.1 g throws away less than a quarter, too, and a tiny house is told what a finer scale would save" {
    row() { # of the table in docs/recipe.md, by the round just planned
        grep -qxF "| $1 | $2 g | $(sql "SELECT printf('%g | %.1f | %.0f %%', sum(made_ml), sum(need_ml), 100 - 100 * sum(need_ml) / sum(made_ml))
            FROM pot WHERE revision = (SELECT max(revision) FROM pot)") |" "$BATS_TEST_DIRNAME/../../docs/recipe.md"
    }
    has round
    row demo 0.01
    has shop
    neap plan
    row "small shop of five tanks (\`tests/shop\`)" 0.01
    neap set setting scale_step_g=0.1
    neap plan
    row "small shop of five tanks (\`tests/shop\`)" 0.1
    sql "SELECT sum(made_ml) - sum(need_ml) < sum(made_ml) / 4 FROM pot WHERE revision = 2" | grep -qx 1
    # no larger pot of thawed food for a line of pellets, which is left out and said
    [[ $(neap sheet --mixing | tr -s ' \n' ' ') == *"POT B"*"no soft pellet: "*" g is too little to measure"* ]]
    export NEAP_DB=tiny.neap
    neap start
    neap add system S
    neap add tank T system=S shape=stated net_volume_l=100
    neap add colony T-1 tank=T kind="acans and micromussids" count=4 heads=4
    for food in "rich powder" "phosphate-lowering powder" "oyster-egg liquid"; do
        neap add lot "L-${food%% *}" food="$food" amount_units=200 received=2026-11-01 use_by=2027-06-01
    done
    neap plan
    mixed=$(sql "SELECT sum(made_ml) FROM pot")
    said=$(neap sheet | tr -s ' \n' ' ' | grep -oE 'A scale that shows 0.01 g would save [0-9.]+ of the [0-9.]+ mL mixed today')
    neap set setting scale_step_g=0.01
    neap plan
    finer=$(sql "SELECT sum(made_ml) FROM pot WHERE revision = (SELECT max(revision) FROM pot)")
    [ "$said" = "A scale that shows 0.01 g would save $(awk "BEGIN { print $mixed - $finer }") of the $(awk "BEGIN { print $mixed + 0 }") mL mixed today" ]
    neap sheet | never grep "A scale that shows"
}

# bats test_tags=plain
@test "the step of a method is kept with it, goes through a dump, and stands in the working" {
    has demo
    neap add method comparator no3 step=2.5 note="colour card"
    neap list method | grep "comparator *no3 *2.5 *colour card"
    refuses 1 "step" add method photometer po4 step=0
    neap plan
    neap why system north >why
    [ "$(grep -c "readings in steps of" why)" -eq 1 ]
    grep "readings in steps of *2.5 mg/L register method" why
    neap dump >all.json
    neap --db new.neap start
    neap --db new.neap load all.json
    neap --db new.neap dump | cmp - all.json
}

@test "a reading that nobody has repeated yet is named first, beside the line, and in the table" {
    has demo
    neap test display no3=45 po4=0.4
    run neap trend
    short=$(sed -n '/^IN SHORT/,/^SYSTEM/p' <<<"$output")
    [[ $(tr -s ' \n' ' ' <<<"$short") == *"! display: "*"Latest reading: nitrate 45 mg/L on 2026-11-27 (the line is at "*"test again before it is believed"* ]]
    # before the waters of which nothing is to be said
    [ "$(grep -n '^! *display' <<<"$short" | cut -d: -f1)" -lt "$(grep -n '^? ' <<<"$short" | head -1 | cut -d: -f1)" ]
    system=$(sed -n '/^SYSTEM display/,/^SYSTEM /p' <<<"$output")
    [[ $system == *"latest   line"* ]]
    grep -qE '^nitrate mg/L +45\.0 +[0-9.]+ +3-10' <<<"$system"
    neap trend --json | jq -e '.systems[] | select(.system == "display").attention == "reading to repeat"'
}

# The line is slow: weeks at 20 mg/L nitrate, and 10 today. A second test in the band is the state.
@test "where the line is outside the band and the latest test is in it, the short part says both" {
    neap start
    neap add system s >/dev/null
    for day in 03 06 09 12 15 18 21 24; do "$NEAP" --on "2026-11-${day}T07:00" test s no3=20 po4=0.07 ph=9.5; done >/dev/null
    run neap trend
    [[ $(flat) == *"! s: nitrate 20.0 mg/L, above the band, steady; phosphate 0.070 mg/L, in the band, steady. pH 9.50, above the band, steady."* ]]
    "$NEAP" --on 2026-11-26T07:00 test s no3=10 po4=0.07 ph=8.2 >/dev/null
    run neap trend
    [[ $(flat) == *"! s: nitrate 20.0 mg/L, above the band (the latest test, 10.0, is in it), steady; phosphate"* ]]
    [[ $(flat) == *"pH 9.50, above the band (the latest test, 8.20, is in it), steady."* ]]
    "$NEAP" --on 2026-11-27T07:00 test s no3=10 >/dev/null
    run neap trend
    [[ $(flat) == *"s: nitrate 10.0 mg/L, in the band by the latest tests (the line is at 20.0), "* ]]
}
