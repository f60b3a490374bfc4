#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# A spreadsheet program opens the tables and saves them without loss, in the language of its house.
load helper
profiles=$BATS_TEST_TMPDIR
source "$BATS_TEST_DIRNAME/../office.sh"

# bats test_tags=plain
@test "a dump comes back from a spreadsheet as it was, with points or with commas" {
    has demo
    neap set colony D1-002 "note=Grün, à 1,5 L"
    neap dump --into csv
    sheets en-US 44,34,76,1,,1033 ods csv
    tables en-US 44,34,76 back ods
    [ "$(ls back | wc -l)" -eq "$(ls csv | wc -l)" ]
    run neap load back
    [ "$status" -eq 0 ]
    [[ $output == *"new 0, changed 0, same 576, refused 0"* ]]
    neap dump --into all --sep semicolon --decimal comma
    mkdir kommas
    cp all/{tank,colony,test,setting,food}.csv kommas # every kind of number, date and letter; each table takes long
    grep -q "^D2;.*;0,18;" kommas/tank.csv
    sheets de-DE 59,34,76,1,,1031 bogen kommas
    tables de-DE 59,34,ANSI zurueck bogen
    grep -q "^D2;.*;0,18;" zurueck/tank.csv
    run neap load zurueck
    [ "$status" -eq 0 ]
    [[ $output == *"tank.csv: read with semicolons, with decimal commas"* ]]
    [[ $output == *"colony.csv: read as Windows-1252, with semicolons"* ]]
    [[ $output == *"new 0, changed 0, same $(tail -qn +2 kommas/*.csv | wc -l), refused 0"* ]]
}
