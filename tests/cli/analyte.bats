#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What is measured of a water is one row of one table: a program with one row more is built, and knows it everywhere.

load helper

setup_file() {
    local top=$BATS_TEST_DIRNAME/../.. here=$BATS_FILE_TMPDIR/tables/neap
    mkdir -p "$here"
    cp "$top"/include/neap/*.def "$here"
    sed -i '/^#undef SPECIES/i SPECIES(B, 10.81, "mmol/L B", AS("mg/L", "B", 1))' "$here/species.def"
    sed -i '/^#undef ANALYTE/i ANALYTE(B, "boron", 0, 5000, .title = "boron", IN_OF("mg/L", "B"), .decimals = 1,\
    .words = {{"borate", NULL}}, .band = {4, 5}, .error_abs = 0.2, .change_per_day_max = 0.2, .slip_ratio = 2)' "$here/analytes.def"
    make -s -j2 -C "$top" B="$BATS_FILE_TMPDIR/build" CC=cc CXX=c++ CFLAGS="-O0 -iquote $BATS_FILE_TMPDIR/tables" \
        "$BATS_FILE_TMPDIR/build/neap"
    export NEAP=$BATS_FILE_TMPDIR/build/neap
    "$NEAP" --db "$BATS_SUITE_TMPDIR/boron.neap" --on 2026-11-27 start --demo --no-log
}

# bats test_tags=plain
@test "it is read, converted and limited by its row" {
    has boron
    neap test north boron=4.4 south "borate=0.5mmol/L B" | grep "north: *boron 4.4 mg/L"
    [ "$(sql "SELECT system, value FROM test WHERE analyte = 'boron' ORDER BY 1")" = "north|4.4
south|5.405" ]
    refuses 1 "boron 6000 mg/L is not plausible; expected 0 to 5000" test north boron=6000
    refuses 1 'nothing is measured as "boorn"; did you mean "boron"?' test north boorn=4
    neap test --help | tr '\n' ' ' | grep "boron, by these names"
    [[ $(neap calc convert 5 mg/L B) == *"0.4625"*"mmol/L B"* ]]
    neap --json test north boron=4.5 --dry-run | jq -e '.test[0] | .analyte == "boron" and .unit == "mg/L"'
}

# bats test_tags=plain
@test "files, lists, bands and methods know it, and the store refuses what is none" {
    has boron
    printf 'system,taken,analyte,value,unit\nnorth,2026-11-25T08:00,boron,4000,ppm\nwest,2026-11-25T08:00,boron,0.4,mmol/L B\n' >test.csv
    neap load test.csv | grep "new 2,"
    [ "$(sql "SELECT value FROM test WHERE analyte = 'boron' AND system = 'west'")" = 4.324 ]
    neap add band north boron low=4.1 high=4.9
    neap add method "boron kit" boron step=0.2
    neap list bands north | grep "boron *4.1 *4.9"
    neap dump test >dumped.csv
    neap load dumped.csv --as test | grep "new 0, changed 0"
    refuses 0 sound audit
    printf 'system,taken,analyte,value\nnorth,2026-11-26T08:00,borax,4\n' >test.csv
    refuses 1 'expected no3, po4' load test.csv
    run sql "INSERT INTO band VALUES ('south', 'borax', 1, 2)"
    [[ $output == *"CHECK constraint failed"*"'boron')"* ]]
    sql "INSERT INTO band VALUES ('south', 'boron', 1, 2)"
}

# bats test_tags=plain
@test "the weekly report shows where it stands and goes, and the food programme leaves it alone" {
    has boron
    neap plan >/dev/null
    sql "SELECT pot, food, amount_units FROM pot_food" >before
    for week in 04 11 18 25; do neap test north "boron=4.$week" --at 2026-11-${week}T08:00 2>/dev/null; done
    neap trend --system north | grep "boron mg/L .* 4-5 .* in band"
    neap trend --system north --json | jq -e '.systems[0].analytes[] | select(.analyte == "boron").band_high == 5'
    neap trend --system north --csv | grep "^north,.*,boron,mg/L,4,5,1,4,"
    neap plan >/dev/null
    sql "SELECT pot, food, amount_units FROM pot_food WHERE revision = (SELECT max(revision) FROM round)" >after
    [ -s before ]
    diff before after
}
