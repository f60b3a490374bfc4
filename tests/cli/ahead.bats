# SPDX-License-Identifier: GPL-3.0-or-later
load helper

ahead() {
    neap ahead "$@"
}

# bats test_tags=plain
@test "the same seed gives the same bytes, another seed other ones" {
    has demo
    ahead >"$BATS_TEST_TMPDIR/one"
    ahead --seed 1 >"$BATS_TEST_TMPDIR/two"
    ahead --seed 2 >"$BATS_TEST_TMPDIR/three"
    cmp "$BATS_TEST_TMPDIR/one" "$BATS_TEST_TMPDIR/two"
    never cmp -s "$BATS_TEST_TMPDIR/one" "$BATS_TEST_TMPDIR/three"
}

@test "what if stands beside as now, a week a line" {
    has demo
    run -0 ahead --system north --weeks 2 --change-water 30%/week
    [[ "$output" == *"What if: 30 % of the water changed a week."* ]]
    [[ "$output" == *"instead of"* ]]
    [ "$(grep -c '^2026-12-' <<<"$output")" -eq 4 ]
}

# bats test_tags=plain
@test "where no feeding is logged, a change of feeding is said to change nothing" {
    has demo
    run -0 ahead --system north --strength 0.5
    [[ "$output" == *"No feeding of it is logged"* ]]
}

@test "a system without a slope is told why it has no forecast" {
    has demo
    run -0 ahead --system west
    [[ "$output" == *"the last test is too old"* ]]
    run -0 ahead --system south
    [[ "$output" == *"Phosphate: below detection"* ]]
}

# bats test_tags=plain
@test "a food, a system and a share that are not there are refused" {
    has demo
    run -1 ahead --skip "rich powdr"
    [[ "$output" == *'did you mean "rich powder"'* ]]
    run -1 ahead --system nrth
    [[ "$output" == *'did you mean "north"'* ]]
    for wrong in 10 10%/day ten% 100% -5%; do
        run -2 ahead --change-water "$wrong"
        [[ "$output" == *"10%/week"* ]]
    done
}

@test "json carries both futures" {
    has demo
    ahead --json --change-water 10% | jq -e '.systems[] | select(.system == "north") | .analytes[0].what_if.weeks | length == 4'
    ahead --json | jq -e '[.systems[].analytes[] | has("what_if")] | any | not'
}

# bats test_tags=plain
@test "no line is wider than 80 columns" {
    has demo
    ahead --skip "rich powder" --strength 0.8 --change-water 10%/week --weeks 12 >"$BATS_TEST_TMPDIR/out"
    [ "$(wc -L <"$BATS_TEST_TMPDIR/out")" -le 80 ]
}
