#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
load helper

@test "US units come first where they are asked for" {
    run -0 neap --units us calc volume 120 60 50
    [ "${lines[0]}" = "gross volume      95.1 US gal  =  360 L  =  79.19 imp gal" ]
}

@test "the example of every calculation runs" {
    for what in $(neap calc | sed -n 's/^  \([a-z]*\) .*/\1/p'); do
        example=$(neap calc "$what" | sed -n 's/^  neap //p')
        [ -n "$example" ]
        eval "neap $example" >/dev/null
    done
}

# bats test_tags=plain
@test "what is printed fits 80 columns" {
    neap calc >"$BATS_TEST_TMPDIR/out"
    for what in $(neap calc | sed -n 's/^  \([a-z]*\) .*/\1/p'); do
        neap calc "$what" >>"$BATS_TEST_TMPDIR/out"
        eval "neap $(neap calc "$what" | sed -n 's/^  neap //p')" >>"$BATS_TEST_TMPDIR/out"
    done
    run -1 env LC_ALL=C.UTF-8 grep -nE '^.{81}' "$BATS_TEST_TMPDIR/out"
}

@test "a slip is named, and what was meant is offered" {
    while IFS='|' read -r words said; do
        run -2 --separate-stderr neap calc $words
        [ "$stderr" = "neap: $said" ] || { echo "$words: $stderr"; return 1; }
        [ -z "$output" ]
    done <<'ROWS'
volum 3|there is no calculation "volum"; did you mean "volume"?
volume lenght=3|volume takes no "lenght"; did you mean length=?
volume length=4gal|length: "4gal": a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal
volume length=1,5|length: "1,5" has a comma in its number; expected a decimal point and no separators: 1.5 or 1500
volume length=3 length=4|length is given twice: "3" and "4"; expected it once
volume length=5mL|length: "5mL": a volume cannot be shown in cm; expected a length
convert 5|5 of what? expected a number and a unit, such as 5 mL
change 20 to=5 way=drip|way is "drip"; expected batch or continuous
ROWS
}

@test "what cannot be is an error of its own, exit 1" {
    run -1 --separate-stderr neap calc volume 30 20
    [ "$stderr" = 'neap: water height is missing; the shape "box" needs it, in centimetres' ]
    run -1 neap calc convert 5 L to kg
    run -1 neap calc dilute stock=1 want=2 to=1L
}
