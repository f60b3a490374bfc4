#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# bats test_tags=plain
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

# bats test_tags=plain
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
convert foo|"foo" is not a quantity; expected a number and a unit, such as 15 mL
convert 5mL 10 to|"5mL 10 to": unit "mL 10 to" is not known; expected one such as L, mL, usgal, g, oz, cm, mg/L, ppb P or C
ratio no3=8 po4=0.06 7|ratio has no more use for "7"; expected some of no3=, po4=
dilute stock=10mg/mL want=10% to=1L|stock is a concentration and want is a fraction; expected both in one kind of unit
ROWS
}

# bats test_tags=plain
@test "what a calculation still needs is named, with an example" {
    while IFS='|' read -r words needs; do
        run -2 --separate-stderr neap calc $words
        [[ $stderr == "neap: ${words%% *} needs $needs; such as: neap calc ${words%% *} "* ]] || { echo "$words: $stderr"; return 1; }
    done <<'ROWS'
broadcast 65usgal|volume=… and rate=… (mL per 100 L)
dilute 1|stock=…, to=… (the volume made), and either want=… or amount=… (of the stock)
dose 100L|volume=… and either rise=… or amount=…
dose volume=100L amount=10mL|solution=… (such as 10mg/mL) where the amount is a volume
drops 5|per_ml=… (count the drops of 1 mL) and either drops=… or volume=…
strength volume=1L|volume=… and either strength=… (such as 0.8g/100mL) or dry=… (grams)
change 20|level=… and either change=… (10% or a volume) or to=… (the level wanted)
change 20 change=5L|the system's volume=… where the change is a volume
density temp=25C|either salinity=… or sg=…
ratio 5|no3=… and po4=…
ammonia 5|ph=… and temp=…, and total=… for mg/L
ROWS
}

# bats test_tags=plain
@test "what cannot be is an error of its own, exit 1" {
    run -1 --separate-stderr neap calc volume 30 20
    [ "$stderr" = 'neap: water height is missing; the shape "box" needs it, in centimetres' ]
    while IFS='|' read -r words said; do
        run -1 --separate-stderr neap calc $words
        [ "$stderr" = "neap: $said" ] || { echo "$words: $stderr"; return 1; }
    done <<'ROWS'
volume sides=2.5 side=10 water=10 shape=prism|sides is 2.5; expected a whole number from 3 to 100
drops drops=5 per_ml=0|per_ml is 0; expected more than 0
dose volume=100L rise=1mg/L solution=0mg/mL|solution is 0 mg/L; expected more than 0
change 20 change=10% times=1.5|times is 1.5; expected a whole number from 1
label protein=5g|protein: "5g" is a mass; expected a percentage, such as 45%
ROWS
    run -1 neap calc convert 5 L to kg
    run -1 neap calc dilute stock=1 want=2 to=1L
}
