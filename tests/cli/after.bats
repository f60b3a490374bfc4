#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The log among the other commands: taken back, audited, dumped and loaded, moved on from.
load helper

# What happens after a round, one entry to a number.
entry() {
    case $1 in
    1) neap log 1 D1 7=r:0 12=p0.5 ;;
    2) neap log 1 7=:3 --again ;;
    3) neap log 1 --all --made A=60mL --left A=15 --weighed "A:rich powder=0.38g" --extra "D1:live phytoplankton=20mL" ;;
    4) neap log 1 12=- 13=n --again ;;
    5) neap log 1 --made A=58 --again ;;
    6) neap stock --waste LP-1027=600 --reason "out of date" ;;
    7) neap stock --opened RP-127 --at 2026-11-26 ;;
    8) neap move N3-005 to N1 ;;
    9) neap move N3-001 4 to D1 ;;
    10) neap count N3-008 =0 died ;;
    11) printf 'colony,sold\nD1-002,1\nD1-002,1\n' >sales.csv && neap count --from sales.csv ;;
    12) neap --on 2026-11-28 plan ;;
    13) neap --on 2026-11-28 log 2 --all ;;
    esac
}

evening() {
    has round
    for n in $(seq 13); do entry "$n"; done
}

# bats test_tags=plain
@test "each entry after a round, undone, gives the dump before it byte for byte" {
    has round
    for n in $(seq 13); do
        neap dump >"$n.json"
        entry "$n"
        never same_dump "$n.json" >/dev/null || { echo "entry $n changed nothing"; false; }
    done
    neap audit
    for n in $(seq 13 -1 1); do
        neap undo --yes
        same_dump "$n.json"
    done
    neap audit
}

# bats test_tags=plain
@test "a log that was undone can be made again, and gives the same" {
    has round
    entry 1
    neap dump >once.json
    neap undo --yes
    entry 1
    same_dump once.json
}

# bats test_tags=plain
@test "undo of a log lets the round be planned again" {
    has round
    neap log 1 1-4
    refuses 2 "its plan stands" plan --feeders 1
    neap undo --yes
    neap plan --feeders 1
    refuses 2 "expected --revision 2" log 1 1-4
}

# bats test_tags=plain
@test "what was logged is part of a dump, and comes back the same" {
    evening
    neap dump >all.json
    for ledger in given extra mixed weighed waste tally; do
        [ "$(jq ".$ledger | length" all.json)" -gt 0 ] || { echo "no $ledger"; false; }
    done
    NEAP_DB=$PWD/second.neap
    neap start --empty
    neap load all.json
    same_dump all.json
    neap audit
    neap stock --json >second.stock
    NEAP_DB=$BATS_TEST_TMPDIR/store.neap
    neap stock --json | cmp - second.stock
}

# bats test_tags=plain
@test "nothing is said twice: the same log again keeps no entry" {
    has round
    entry 1
    n=$(entries)
    run neap log 1 D1 7=r:0 12=p0.5
    [[ $output == *"logged 0 lines; 2 as logged before"* ]]
    [ "$(entries)" = "$n" ]
}
