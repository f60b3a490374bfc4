#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Stores of earlier versions (tests/store/keep.sh made them with the programs of their day), brought up to date by this one.

load helper

kept=$BATS_TEST_DIRNAME/../store

# All rows of all registers, by the columns that the store had when it was kept; an entry's changes stood beside it then.
rows_of() { # store, the store that names the columns
    local entries="(SELECT entry.*, changes FROM entry JOIN entry_part ON entry = id)"
    sqlite3 "$1" "SELECT changes FROM entry LIMIT 0" 2>/dev/null && entries=entry
    sqlite3 "$2" "SELECT printf('SELECT %Q; SELECT %s FROM %s ORDER BY 1, 2;', '== ' || t.name, group_concat(c.name),
        iif(t.name = 'entry', '$entries', t.name)) FROM sqlite_schema AS t JOIN pragma_table_info(t.name) AS c
        WHERE t.type = 'table' GROUP BY t.name ORDER BY t.name" | sqlite3 "$1"
}

old() { # version
    rm -f s.neap*
    sqlite3 s.neap <"$kept/$1.sql"
    cp s.neap was.neap
    export NEAP_DB=s.neap
}

# [store 8]
# bats test_tags=plain
@test "a store of each earlier version is brought up to date, with every row and every entry" {
    for version in 1 2 6 7 8 9 10 11 12; do # those between differ in views and limits alone
        old $version
        refuses 1 "is of store version $version; any writing command brings it to" list tank
        chmod 600 s.neap
        refuses 0 "brought up to date; as it was: s.neap.version-$version" test reef no3=6.6
        [ "$(stat -c %a s.neap.version-$version)" = 600 ]
        diff <(sqlite3 was.neap .dump) <(sqlite3 s.neap.version-$version .dump)
        refuses 0 sound audit
        rows_of s.neap was.neap | grep -v "^reef|2026-11-27T08:00|no3\|neap test" >after.txt
        rows_of was.neap was.neap >before.txt
        diff <(sort -u before.txt) <(sort -u after.txt) | never grep "^<"
        [ "$(sqlite3 s.neap 'PRAGMA user_version')" -gt "$version" ]
        neap why system reef | grep -q net # what was asked of its round is read as it was kept
        # what was entered before can still be taken back, down to the empty store
        for entry in $(sqlite3 s.neap "SELECT id FROM entry WHERE undoes IS NULL ORDER BY id DESC"); do
            neap undo --yes >/dev/null
        done
        refuses 0 sound audit
        [ "$(sqlite3 s.neap 'SELECT count(*) FROM tank')" = 0 ]
    done
}

# bats test_tags=plain
@test "what was asked of a round is read from an older store, be it text (version 7) or rows (8)" {
    for version in 7 8; do
        old $version
        neap test reef ca=420 >/dev/null
        neap --on 2026-11-27 why system reef | grep "0.5 of the house strength: asked for with the plan"
        neap --on 2026-11-27 plan --from-now --now 08:39 >/dev/null
        # feeder 2 comes at 08:46: without that, their tank's flow would go off with the other's, at 08:45
        [ "$(sqlite3 s.neap "SELECT start_min FROM line WHERE revision = 2 AND action = 'flow-off' AND feeder = 2")" = 08:46 ]
        [ "$(sqlite3 s.neap "SELECT start_min FROM line WHERE revision = 2 AND action = 'flow-off' AND feeder = 1")" = 08:45 ]
        neap undo --yes >/dev/null
        refuses 0 sound audit
    done
}

# bats test_tags=plain
@test "what an older store said in words is in columns, and what an older file says so too" {
    for version in 7 8; do
        old $version
        neap test reef ca=420 >/dev/null
        [ "$(sqlite3 s.neap "SELECT doubt, value FROM live_test WHERE doubt IS NOT NULL")" = "flagged|65.0" ]
        [ "$(sqlite3 s.neap "SELECT action, count(*) FROM line WHERE shared = 1 GROUP BY 1")" = "broadcast|2" ]
        neap list tests | grep "reef .*no3 *65 .*flagged"
    done
    printf 'system,taken,analyte,value,note\nreef,2026-11-20T08:00,no3,6,"flagged: far from 60 on 2026-11-19; x"\n' >test.csv
    neap load test.csv >/dev/null
    neap dump test >dumped.csv
    grep "2026-11-20T08:00,no3,.*,flagged$" dumped.csv
    neap load dumped.csv --as test | grep "new 0, changed 0"
}

@test "an earlier version's backup is replaced by a newer one, and restored as a store of this version" {
    old 9
    neap test reef no3=6.6 >/dev/null
    rows_of s.neap was.neap >now.txt
    NEAP_DB=back.neap refuses 0 "back.neap: a sound copy of was.neap" restore was.neap
    [ "$(sqlite3 back.neap 'PRAGMA user_version')" = "$(sqlite3 s.neap 'PRAGMA user_version')" ]
    diff <(rows_of back.neap was.neap) <(rows_of was.neap was.neap)
    [ "$(sqlite3 was.neap 'PRAGMA user_version')" = 9 ]
    [ -z "$(find . -name 'back.neap?*')" ]
    neap backup s.neap.version-9 >/dev/null
    diff <(rows_of s.neap.version-9 was.neap) now.txt
}

# bats test_tags=plain
@test "of several who open an older store at once one brings it up to date, and nothing is lost" {
    for round in 1 2 3; do
        old 9
        rm -f s.neap.version*
        for p in 1 2 3 4; do neap add tank "X$p" system=reef shape=stated net_volume_l=40 >"out$p" 2>&1 & done
        wait
        cat out?
        [ "$(cat out? | grep -c "brought up to date")" -eq 1 ]
        [ "$(find . -name 's.neap.version*')" = ./s.neap.version-9 ]
        [ "$(sqlite3 s.neap "SELECT count(*) FROM tank WHERE name LIKE 'X_'")" = 4 ]
        [ "$(sqlite3 s.neap.version-9 "SELECT count(*) FROM tank WHERE name LIKE 'X_'")" = 0 ]
        refuses 0 sound audit
    done
}

# bats test_tags=plain
@test "who writes first to a backup that was put in a store's place waits for somebody who writes there" {
    old 9
    sqlite3 s.neap "BEGIN IMMEDIATE" "UPDATE tank SET note = note" ".shell touch begun; sleep 1" COMMIT &
    while [ ! -e begun ]; do sleep 0.05; done
    refuses 0 'tank "X1": new' add tank X1 system=reef shape=stated net_volume_l=40
    wait
    refuses 0 sound audit
}

@test "an entry of version 12 keeps its changes and their checksum as its one part" {
    old 12
    sqlite3 s.neap "SELECT id, hex(changes), checksum FROM entry ORDER BY 1" >before.txt
    neap test reef no3=6.6 >/dev/null
    n=$(wc -l <before.txt)
    sqlite3 s.neap "SELECT id, hex(changes), checksum FROM entry JOIN entry_part ON entry = id AND number = 1 ORDER BY 1" >after.txt
    diff before.txt <(head -n "$n" after.txt)
    [ "$(sqlite3 s.neap "SELECT count(*) FROM entry_part")" -eq $((n + 1)) ]
}

# bats test_tags=plain
@test "a copy that was kept before stays, and one of a damaged store is not made" {
    old 9
    echo mine >s.neap.version-9
    refuses 0 "as it was: s.neap.version-9-2" test reef no3=6.6
    [ "$(cat s.neap.version-9)" = mine ]
    rm s.neap*
    old 9
    printf 'UUUUUUUU%.0s' $(seq 2048) | dd of=s.neap bs=4096 seek=5 conv=notrunc status=none
    refuses 1 "s.neap: is an older store and damaged, so it stays as it is" test reef no3=6.6
    [ "$(ls s.neap*)" = s.neap ]
    [ "$(sqlite3 s.neap 'PRAGMA user_version')" = 9 ]
}

# [store 8]
# bats test_tags=plain
@test "a store of a later version is refused, read or written, and stays as it is" {
    has demo
    sql "PRAGMA user_version = 99"
    for command in "list tank" "test x no3=6" audit plan "backup copy.neap" "undo --yes"; do
        refuses_and_keeps 1 "made by a newer neap (store version 99" $command
    done
    [ ! -e copy.neap ]
    NEAP_DB=other.neap refuses 1 "made by a newer neap (store version 99" restore store.neap
    [ ! -e other.neap ]
}

# [store 8]
# bats test_tags=plain
@test "what cannot be brought up to date is left as it was, and said" {
    old 2
    sqlite3 s.neap "ALTER TABLE tank ADD COLUMN colour TEXT"
    refuses 1 'its table tank has a column "colour" that this neap does not know' test reef no3=6.6
    [ "$(sqlite3 s.neap 'PRAGMA user_version')" = 2 ]
    old 1
    sqlite3 s.neap "PRAGMA ignore_check_constraints = 1; UPDATE tank SET n_sides = 500"
    refuses 1 "a row of its table tank is outside the limits of this neap (n_sides BETWEEN 0 AND 100); nothing was changed" test reef no3=6.6
    [ "$(sqlite3 s.neap 'PRAGMA user_version')" = 1 ]
    old 1
    sqlite3 s.neap "PRAGMA foreign_keys = 0; DELETE FROM kind WHERE name LIKE 'acan%'"
    refuses 1 "rows point to what is not there" test reef no3=6.6
    [ "$(sqlite3 s.neap 'PRAGMA user_version')" = 1 ]
    [ "$(ls s.neap*)" = s.neap ] # no copies pile up
}

# bats test_tags=plain
@test "the tables of a new store are those kept for its version; if not: STORE_VERSION, make store-version" {
    export NEAP_DB=new.neap
    neap start >/dev/null
    sqlite3 new.neap "SELECT printf('PRAGMA user_version = %d;', user_version) FROM pragma_user_version" .schema |
        diff - "$kept/schema.sql"
}

# bats test_tags=plain
@test "a table that another hand changed is found" {
    has demo
    sql "ALTER TABLE tank ADD COLUMN colour TEXT"
    refuses 1 "schema: the table tank is not as this neap makes it" audit
}
