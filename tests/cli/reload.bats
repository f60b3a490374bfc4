#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# A file that was loaded before knows nothing of what commands entered since: sales, moves, holds, opened packs.
load helper

colony() { sql "SELECT $1 FROM colony WHERE code = '$2'"; }

# What a person at a terminal answers to "neap load …": answered WORD ARGUMENT…
answered() {
    local word=$1
    shift
    printf '%s\n' "$word" | script -qec "$NEAP --on 2026-11-27 load $*" /dev/null
}

@test "a file from before a sale does not set the count back unasked" {
    has demo
    neap dump --into tables
    neap count D1-002 1 sold
    refuses_and_keeps 1 'colony.csv:3: colony "D1-002": count 1 -> 2 sets back "neap' load tables/colony.csv
    [[ $output == *'count D1-002 1 sold" of 2026-11-27T12:00'* ]]
    [[ $output == *"nothing stored: 1 value was entered since the file was last loaded"* ]]
    [[ $output == *"--keep"*"--yes"* ]]
    refuses_and_keeps 1 'count 1 -> 2 sets back' load tables
}

@test "what was entered since is kept by --keep, and set back by --yes, each told row by row" {
    has demo
    neap dump --into tables
    neap count D1-002 1 sold
    neap move N3-005 to N1
    sed 's/^D1-004,"[^"]*",/D1-004,our own words,/' tables/colony.csv >colony.csv
    run neap load --keep colony.csv
    [ "$status" -eq 0 ]
    [[ $output == *'colony "D1-002": count stays 1, not 2: "neap'* ]]
    [[ $output == *'colony "N3-005": tank stays N1, not N3: "neap'* ]]
    [[ $output == *"changed 1, same"* ]]
    [ "$(colony count D1-002)" = 1 ]
    [ "$(colony tank N3-005)" = N1 ]
    [ "$(colony label D1-004)" = "our own words" ]
    run neap load --yes tables/colony.csv
    [ "$status" -eq 0 ]
    [[ $output == *'"D1-002": count 1 -> 2 sets back'* && $output == *'"N3-005": tank N1 -> N3 sets back'* ]]
    [[ $output == *"changed 3, same"* ]]
    [ "$(colony count D1-002)" = 2 ]
    [ "$(colony tank N3-005)" = N3 ]
    run neap load tables/colony.csv # what a load set is the file's own again
    [ "$status" -eq 0 ]
    refuses 2 "--keep and --yes are both given" load --keep --yes tables
}

# bats test_tags=plain
@test "a hold, an opened pack and a retired colony are not set back unasked" {
    has demo
    neap dump --into tables
    neap hold colony D1-004 --reason "bathed today"
    neap stock --opened AA-34
    neap retire colony D1-009
    run neap load tables
    [ "$status" -eq 1 ]
    [[ $output == *'"D1-004": hold_reason bathed today -> (empty) sets back'* ]]
    [[ $output == *'lot "AA-34": opened 2026-11-27 -> (empty) sets back'* ]]
    [[ $output == *'"D1-009": retired yes -> (empty) sets back'* ]]
}

# bats test_tags=plain
@test "what was taken back, and what only files said, is no question" {
    has demo
    neap dump --into tables
    # a load is one wherever its options stand
    sed '/^D1-002/s/euphylliids,2,/euphylliids,3,/' tables/colony.csv >colony.csv
    "$NEAP" --db "$NEAP_DB" --units us --on 2026-11-27 load colony.csv
    [ "$(colony count D1-002)" = 3 ]
    run neap load tables
    [[ $output == *"changed 1"* && $status -eq 0 ]]
    neap count D1-002 1 sold
    neap undo --yes
    sed '/^D1-002/s/euphylliids,2,/euphylliids,5,/' tables/colony.csv >colony.csv
    run neap load colony.csv
    [ "$output" = "read 255, new 0, changed 1, same 254, refused 0" ]
    run neap load tables
    [[ $output == *"changed 1"* && $status -eq 0 ]]
}

# bats test_tags=plain
@test "a dry run lists what would change, and what it would set back" {
    has demo
    neap dump --into tables
    neap count D1-002 1 sold
    sed 's/^D1-004,"[^"]*",/D1-004,our own words,/; $ a new-1,a new one,D1,sun corals' tables/colony.csv >colony.csv
    sed -i '$ s/$/,,,,,,,,/' colony.csv
    neap dump >before.json
    run neap load --dry-run colony.csv
    [ "$status" -eq 0 ]
    [[ $output == *$'colony "D1-002": changed\n  count: 1 -> 2\n'* ]]
    [[ $output == *$'colony "D1-004": changed\n  label: '*" -> our own words"* ]]
    [[ $output == *$'colony "new-1": new\n'* ]]
    [[ $output == *'"D1-002": count 1 -> 2 sets back'* ]]
    [[ $output == *"new 1, changed 2, same 253, refused 0"*"(dry run: nothing stored)"* ]]
    same_dump before.json
}

# bats test_tags=plain
@test "at a terminal the person decides" {
    has demo
    neap dump --into tables
    neap count D1-002 1 sold
    run answered n tables
    [[ $output == *"keep it as it is, set it back, or stop? [k/s/N]"*"nothing was stored"* ]]
    [ "$(colony count D1-002)" = 1 ]
    run answered k tables
    [[ $output == *"changed 0, same 576"* ]]
    [ "$(colony count D1-002)" = 1 ]
    run answered s tables
    [[ $output == *"changed 1, same 575"* ]]
    [ "$(colony count D1-002)" = 2 ]
}
