#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# The demo facility on its feeding day: north was last tested the day before, nitrate 19 and phosphate 0.18 mg/L.
# stored SYSTEM: its live readings of the day, a line each
stored() {
    sql "SELECT analyte, repeat, printf('%g', value), coalesce(below, 0), coalesce(doubt, '') || coalesce(note, '') FROM live_test
        WHERE system = '$1' AND taken >= '2026-11-27' ORDER BY taken, analyte, repeat"
}

# bats test_tags=plain
@test "several systems in one go are one entry, said back in words" {
    has demo
    before=$(entries)
    run -0 neap test north no3=18 po4=0.17 south no3=5.5 'po4=<0.02'
    [ "$output" = "north: nitrate 18 mg/L as NO3, phosphate 0.17 mg/L as PO4, 2026-11-27T12:00
south: nitrate 5.5 mg/L as NO3, phosphate below 0.02 mg/L as PO4,
       2026-11-27T12:00
4 new, 0 corrected, 0 the same" ]
    [ "$(entries)" = $((before + 1)) ]
    [ "$(stored south)" = "no3|1|5.5|0|
po4|1|0.02|1|" ]
}

# bats test_tags=plain
@test "a value may say its basis, with or without quotes" {
    has demo
    run -0 neap test east no3=3.61mg/L NO3-N "po4=20ppb P" alk=2.9meq/L sg=1.0264 temp=77F
    [ "$(stored east | grep po4)" = "po4|1|0.06132|0|" ] # 100 ppb are 0.30661 mg/L
    [ "$(stored east | grep temp)" = "temp|1|25|0|" ]
    [ "$(stored east | grep no3)" = "no3|1|15.98|0|" ] # 3.61 × 4.4266
}

# bats test_tags=plain
@test "below detection needs no sign that the shell eats" {
    has demo
    run -0 neap test south po4=below0.02
    [ "$(stored south)" = "po4|1|0.02|1|" ]
}

# bats test_tags=plain
@test "two readings of one minute are numbered, the same minute again corrects, and the same again changes nothing" {
    has demo
    neap test north no3=18 no3=19
    [ "$(stored north)" = "no3|1|18|0|
no3|2|19|0|" ]
    run -0 neap test north no3=17.5
    [ "${lines[1]}" = "0 new, 1 corrected, 0 the same" ]
    before=$(entries)
    run -0 neap test north no3=17.5
    [ "${lines[1]}" = "0 new, 0 corrected, 1 the same" ]
    [ "$(entries)" = "$before" ]
    [ "$(sql "SELECT count(*) FROM test WHERE system = 'north' AND taken >= '2026-11-27'")" = 3 ]
}

# bats test_tags=plain
@test "a jump is stored, flagged and warned of, and casts no doubt on the next reading" {
    has demo
    run -0 --separate-stderr neap test north no3=190 --at 2026-11-27T08:00
    [ "$stderr" = "neap: north: nitrate 190 mg/L as NO3 is far from 19 on 2026-11-26; flagged, look again" ]
    [ "$(stored north)" = "no3|1|190|0|flagged" ]
    run -0 --separate-stderr neap test north no3=19 --at 2026-11-27T09:00
    [ "$stderr" = "" ]
}

# bats test_tags=plain
@test "a corrected jump loses its flag" {
    has demo
    neap test north no3=190 2>/dev/null
    neap test north no3=19
    [ "$(stored north)" = "no3|1|19|0|" ]
}

# typed ANSWER ARGUMENTS…: a run on a terminal
typed() {
    printf '%s\n' "$1" | script -qec "$NEAP --on 2026-11-27 ${*:2}" /dev/null
}

@test "on a terminal a jump is asked about: no stores nothing, yes and a right value store" {
    has demo
    run -1 typed n test north no3=190
    [[ "$output" == *"Is 190 right?"* ]]
    [ "$(stored north)" = "" ]
    run -0 typed 19.5 test north no3=190
    [ "$(stored north)" = "no3|1|19.5|0|" ]
    run -0 typed y test north po4=1.9
    [ "$(stored north | grep po4)" = "po4|1|1.9|0|confirmed" ]
}

@test "a list from standard input is all or nothing, every fault by its place" {
    has demo
    before=$(entries)
    run -1 --separate-stderr neap test - <<'LIST'
north no3=20 po4="18 ppb"
souht no3=5

south iodine=4 no3=1,5
east
LIST
    [ "$stderr" = 'neap: nothing was stored, 5 faults:
stdin:1:14: po4="18 ppb" may be of phosphate or of phosphorus; expected 18 ppb PO4 or 18 ppb P
stdin:2:1: there is no system "souht"; did you mean "south"?
stdin:4:7: nothing is measured as "iodine"; expected no3, po4, tan, no2, ph, alk, ca, mg, salinity or temp
stdin:4:16: no3="1,5" has a comma in its number; expected a decimal point and no separators: 1.5 or 1500
stdin:5:1: no reading stands behind the system; expected ANALYTE=VALUE' ]
    [ "$(entries)" = "$before" ]
    run -0 neap test - <<<'north no3=19 po4="60 ppb P"'
    [ "$(stored north)" = "no3|1|19|0|
po4|1|0.18397|0|" ]
}

@test "a file of readings is loaded, its jumps flagged, and twice the same changes nothing" {
    has demo
    printf '%s\n' system,taken,analyte,value north,2026-11-27T07:00,no3,19 north,2026-11-27T07:00,po4,1.9 \
        >"$BATS_TEST_TMPDIR/photometer.csv"
    run -0 --separate-stderr neap test --from "$BATS_TEST_TMPDIR/photometer.csv"
    [ "$output" = "read 2, new 2, changed 0, same 0, refused 0, flagged 1" ]
    [[ "$stderr" == *"photometer.csv:3: north: phosphate 1.9 mg/L as PO4 is far from 0.18 on 2026-11-26; flagged, look again" ]]
    run -0 --separate-stderr neap test --from "$BATS_TEST_TMPDIR/photometer.csv"
    [ "$output" = "read 2, new 0, changed 0, same 2, refused 0, flagged 0" ]
    [ "$(stored north | grep -c flagged)" = 1 ]
}

# bats test_tags=plain
@test "a reading from a file, typed again, is the same; and one below detection that is corrected is not below any more" {
    has demo
    printf 'system,taken,analyte,value,method\nnorth,2026-11-27T07:30,no3,18,comparator\n' >t.csv
    neap test --from t.csv
    neap test north no3=18 --at 2026-11-27T07:30 | grep -x "0 new, 0 corrected, 1 the same"
    neap test south po4=below0.02 --at 2026-11-27T07:30
    neap test south po4=0.02 --at 2026-11-27T07:30 | grep -x "0 new, 1 corrected, 0 the same"
    [ "$(sql "SELECT value, coalesce(below, 0) FROM live_test WHERE system = 'south' AND taken = '2026-11-27T07:30'")" = "0.02|0" ]
}

@test "a file with a fault stores nothing" {
    has demo
    printf '%s\n' system,taken,analyte,value north,2026-11-27T07:00,no3,19 norht,2026-11-27T07:00,po4,x \
        >"$BATS_TEST_TMPDIR/test.csv"
    run -1 --separate-stderr neap test --from "$BATS_TEST_TMPDIR/test.csv"
    [[ "$stderr" == *'test.csv:3:28: value is "x"; expected a number'* ]]
    [ "$(stored north)" = "" ]
}

@test "what is due is listed, the longest overdue first, a system never tested before all" {
    has demo
    sql "INSERT INTO system (name, sump_volume_l, test_every_d) VALUES ('attic', 100, 3)"
    [ "$(neap test | sed -n '3,6p' | tr -s ' ')" = "attic never never 3 d now never tested
west 2026-11-05 2026-11-05 7 d 2026-11-12 15 days late
quarantine 2026-11-20 2026-11-20 7 d 2026-11-27 today
north 2026-11-26 2026-11-26 4 d 2026-11-30 in 3 days" ]
    [ "$(neap --json test | jq -r '.due[0].next, .due[1].next')" = "null
2026-11-12" ]
}

# bats test_tags=plain
@test "half a day of an interval is the same due day on the sheet, in the list and in the report" {
    has demo
    neap set system west test_every_d=3.5 >/dev/null
    neap --on 2026-11-23 test west no3=5 po4=0.06 >/dev/null # three and a half days later is 2026-11-26, in the evening
    [ "$(neap --json test | jq -r '.due[] | select(.system == "west").next')" = 2026-11-26 ]
    [ "$(neap trend --json --system west | jq -r '.systems[0].test_due')" = 2026-11-26 ]
    neap --on 2026-11-25 plan >/dev/null
    neap --on 2026-11-25 sheet | tr '\n' ' ' | never grep "Tests due[^.]*west"
    neap --on 2026-11-26 plan >/dev/null
    neap --on 2026-11-26 sheet | tr '\n' ' ' | grep -q "Tests due[^.]*west"
}

@test "dry run says what it would store and stores nothing" {
    has demo
    run -0 neap --json test north no3=18 --dry-run
    [ "$(jq -c '[.stored, .test[0].value, .test[0].flagged]' <<<"$output")" = "[false,18,false]" ]
    [ "$(stored north)" = "" ]
}

# bats test_tags=plain
@test "slips are named and nothing is stored" {
    has demo
    while IFS='|' read -r status words said; do
        run "-$status" --separate-stderr neap test $words
        [ "$stderr" = "neap: $said" ] || { echo "$words: $stderr"; return 1; }
    done <<'ROWS'
1|nort no3=1|there is no system "nort"; did you mean "north"?
1|north no3=8 sout no3=1|there is no system "sout"; did you mean "south"?
1|north nitrat=1|nothing is measured as "nitrat"; did you mean "nitrate"?
1|north no3=900|nitrate 900 mg/L is not plausible; expected 0 to 500
2|north po4=18ppb|po4="18ppb" may be of phosphate or of phosphorus; expected 18ppb PO4 or 18ppb P
2|north no3=2mg/LN|no3="2mg/LN": nitrogen of what? write NO3-N, NO2-N or NH4-N
2|north alk=2.9|alk="2.9" has no unit; expected 2.9dKH or 2.9meq/L
2|north|no reading stands behind "north"; expected ANALYTE=VALUE, such as no3=8.5
2|no3=4|"no3=4" stands before any system; expected SYSTEM ANALYTE=VALUE …
2|north no3=8 --at 2027-01-01T00:00|--at is 2027-01-01T00:00, which is still to come; expected a moment up to now
2|north no3=8 --sample often|sample is "often"; expected before or after (did you mean "after"?)
ROWS
    [ "$(stored north)" = "" ]
}

# bats test_tags=plain
@test "a meter's file is read in its units, and is the same as the readings typed" {
    has demo
    printf '%s\n' system,taken,analyte,value,unit north,2026-11-27T07:00,po4,60,"ppb P" north,2026-11-27T07:00,no3,4.3,mg/L\ NO3-N \
        >meter.csv
    neap test --from meter.csv
    neap test north po4="60 ppb P" no3="4.3 mg/L NO3-N" --at 2026-11-27T07:00
    [ "$(stored north)" = "no3|1|19.035|0|
po4|1|0.18397|0|" ]
    neap load --as test meter.csv | grep "same 2"
    printf '%s\n' system,taken,analyte,value,unit north,2026-11-27T08:00,po4,60,ppb >meter.csv
    run -1 --separate-stderr neap test --from meter.csv
    [[ "$stderr" == *'meter.csv:2:31: po4="60 ppb" may be of phosphate or of phosphorus'* ]]
}

# bats test_tags=plain
@test "a point that slipped is asked about upwards and downwards, however long ago the last test was" {
    has demo
    run -0 --separate-stderr neap test west no3=0.7
    [[ "$stderr" == "neap: west: nitrate 0.7 mg/L as NO3 is far from "*" on 2026-11-05; flagged, look again" ]]
    run -0 --separate-stderr neap test north no3=1.9
    [ "$stderr" = "neap: north: nitrate 1.9 mg/L as NO3 is far from 19 on 2026-11-26; flagged, look again" ]
    run -1 typed n test south no3=0.55 po4=0.3
    [[ "$output" == *"Is 0.55 right?"* ]]
}

# north: nitrate by a comparator, phosphate by a photometer
# bats test_tags=plain
@test "a cross-check is named as one when it is entered, and the third in a row takes over" {
    has demo
    run -0 --separate-stderr neap test north no3=18 --method "lab" --at 2026-11-27T08:00
    [ "$stderr" = "neap: north: nitrate by lab is a cross-check, shown beside the trend; that stays with comparator until 3 in a row are by another" ]
    neap --json trend --system north | jq -e '.systems[0].analytes[0] | .method == "comparator" and .n_other_method == 1 and .trend_verdict != "too few readings"'
    neap trend --system north | tr -s ' \n' ' ' | grep "Nitrate: 1 test by another method than comparator (+), shown and not fitted."
    run -0 --separate-stderr neap test north no3=18.5 --at 2026-11-27T08:30 # no method named: the one in use
    [ "$stderr" = "" ]
    neap test north no3=18 --method lab --at 2026-11-27T09:00
    neap test north no3=18 --method lab --at 2026-11-27T10:00
    run -0 --separate-stderr neap test north no3=18 --method lab --at 2026-11-27T11:00
    [ "$stderr" = "neap: north: nitrate is now measured by lab, before by comparator: the trend begins anew with its tests" ]
    neap --json trend --system north | jq -e '.systems[0].analytes[0] | .method == "lab" and .method_changed'
}

# bats test_tags=plain
@test "two methods in one minute are two readings, typed or from a file, and each is corrected by itself" {
    has demo
    neap test north no3=19 --at 2026-11-27T08:00
    neap test north no3=17 --method lab --at 2026-11-27T08:00
    neap test north no3=17.5 --method lab --at 2026-11-27T08:00 | grep -x "0 new, 1 corrected, 0 the same"
    neap test north no3=19 --at 2026-11-27T08:00 | grep -x "0 new, 0 corrected, 1 the same"
    neap test north no3=19 no3=17.5 --at 2026-11-27T08:00 | grep -x "0 new, 0 corrected, 2 the same"
    [ "$(stored north)" = "no3|1|19|0|
no3|2|17.5|0|" ]
    printf '%s\n' system,taken,analyte,value,method north,2026-11-27T09:00,no3,19,comparator north,2026-11-27T09:00,no3,18,lab >two.csv
    run -0 --separate-stderr neap test --from two.csv
    [ "$output" = "read 2, new 2, changed 0, same 0, refused 0, flagged 0" ]
    [[ "$stderr" == *"north: nitrate by lab is a cross-check"* ]]
    neap test --from two.csv | grep "new 0, changed 0, same 2"
    neap load --as test two.csv | grep "new 0, changed 0, same 2"
}

@test "--method of a line with two analytes changes neither in passing" {
    has demo
    refuses_and_keeps 2 "--method comparator would change the method of phosphate too; expected --method ANALYTE=comparator" \
        test north no3=18 po4=0.17 --method comparator
    neap test north no3=18 po4=0.17 --method no3=lab
    neap test south no3=5.5 po4=below0.02 --method lab # of a report both are
    [ "$(sql "SELECT system, analyte, method FROM live_test WHERE taken >= '2026-11-27' ORDER BY 1, 2")" = "north|no3|lab
north|po4|photometer
south|no3|lab
south|po4|lab" ]
}
