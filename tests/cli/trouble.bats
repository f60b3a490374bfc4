# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# [store 3]
# bats test_tags=plain
@test "eight processes write at once and nothing is lost or doubled" {
    neap start
    neap add system north >/dev/null
    for p in $(seq 8); do
        (for i in $(seq 12); do neap add tank "t$p-$i" system=north shape=stated net_volume_l=$i >/dev/null || echo "$p-$i" >>lost; done) &
    done
    wait
    [ ! -e lost ]
    [ "$(neap list tank --json | jq '[.tank[].net_volume_l] | add')" -eq 624 ]
    [ "$(neap history --all | grep -c 'add tank')" -eq 96 ]
    neap audit
}

# [store 1]
# bats test_tags=plain
@test "killed at any moment, the store is whole and has whole entries only" {
    has demo
    neap dump --into tables
    awk 'BEGIN { print "code,tank,kind,count"; for (i = 0; i < 4000; i++) print "big-" i ",D1,sun corals,2" }' >colony.csv
    for i in $(seq 20); do
        (exec "$NEAP" --on 2026-11-27 load colony.csv >/dev/null 2>&1) &
        local victim=$!
        sleep "0.0$((i * 4 % 10))"
        kill -9 $victim 2>/dev/null || true
        wait $victim 2>/dev/null || true
        rows=$(neap dump colony | grep -c '^big-' || true)
        [ "$rows" -eq 0 ] || [ "$rows" -eq 4000 ]
        [ "$rows" -eq 0 ] || neap undo --yes >/dev/null
    done
    neap audit
    neap set tank D1 water_cm=70
}

# [store 2]
# bats test_tags=plain
@test "a full disk is an error message, and the store is as it was" {
    mkdir disk
    { [ "$(id -u)" -eq 0 ] && mount -t tmpfs -o size=1m tmpfs disk 2>/dev/null; } || skip "no small disk can be mounted"
    export NEAP_DB=disk/store.neap
    has demo
    neap dump >before.json
    head -c 2m /dev/zero >disk/filler 2>/dev/null || true
    awk 'BEGIN { print "code,tank,kind,count"; for (i = 0; i < 4000; i++) print "big-" i ",D1,sun corals,2" }' >colony.csv
    run neap load colony.csv
    echo "$output"
    [ "$status" -eq 1 ]
    [[ $output == *"disk is full"* || $output == *"failed; nothing of this was stored"* ]]
    run neap backup disk/copy.neap
    [ "$status" -eq 1 ]
    [ ! -e disk/copy.neap ]
    [ ! -e disk/copy.neap.part ]
    rm disk/filler
    neap dump >after.json
    neap audit
    umount disk
    cmp before.json after.json
}

# bats test_tags=plain
@test "a limit on file sizes is an error message, not a death" {
    has demo
    neap dump >before.json
    awk 'BEGIN { print "code,tank,kind,count"; for (i = 0; i < 20000; i++) print "big-" i ",D1,sun corals,2" }' >colony.csv
    run bash -c "ulimit -f 512; '$NEAP' load colony.csv"
    [ "$status" -eq 1 ]
    [[ $output == *"nothing of this was stored"* ]]
    same_dump before.json
    neap audit
}

# bats test_tags=plain
@test "an output that cannot be written is an error" {
    has demo
    run bash -c "'$NEAP' dump >/dev/full"
    [ "$status" -eq 1 ]
    [[ $output == *"standard output: No space left"* ]]
    bash -c "set -o pipefail; '$NEAP' dump | head -1 >/dev/null"
}

@test "a store on a medium that cannot be written is read" {
    has demo
    neap dump >before.json
    mkdir ro
    { [ "$(id -u)" -eq 0 ] && mount -t tmpfs tmpfs ro 2>/dev/null; } || skip "no medium can be mounted"
    cp store.neap "ro/50%25?#.neap" # what would be told otherwise in an address
    mount -o remount,ro ro
    NEAP_DB="ro/50%25?#.neap" neap dump >after.json && read=yes || read=no
    NEAP_DB="ro/50%25?#.neap" neap set tank D1 water_cm=70 >said 2>&1 && set=yes || set=no
    umount ro
    cat said
    [ $read = yes ]
    [ $set = no ]
    cmp before.json after.json
    grep -q "cannot be written" said
}

# bats test_tags=plain
@test "no store, a foreign file and a second start are told apart" {
    refuses 1 "no store is there; neap start makes one" list
    echo "hello, this is not a database at all" >"$NEAP_DB"
    refuses 1 "not a neap store" list
    refuses 1 "is there already" start
    [ "$(cat "$NEAP_DB")" = "hello, this is not a database at all" ]
    refuses 1 "Not a directory" --db "$NEAP_DB/x.neap" list
    : >"$NEAP_DB"
    for command in list "set setting feeders=2" start; do
        refuses 1 "$([ "$command" = start ] && echo "is there already" || echo "is an empty file; expected a neap store, or no file at all; neap start makes one")" $command
        [ ! -s "$NEAP_DB" ] # nobody's file is made a database
    done
    rm "$NEAP_DB"
    sqlite3 "$NEAP_DB" VACUUM
    refuses_and_keeps 1 "is a database of another program" list
}
