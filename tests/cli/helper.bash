# SPDX-License-Identifier: GPL-3.0-or-later
# A check runs each test once: those tagged "plain" without sanitizers, all others under them, which takes five times as long.
# Plain are those that prove what a sanitizer cannot see, or that reach, for each second they take under the sanitizers, fewer
# than 60 lines and branches that neither the unit tests nor the untagged tests reach (counted with gcov): of all that the unit
# tests and these reach, 96 in 100 are met under the sanitizers. A soak, and make bats, run all of them.
bats_require_minimum_version 1.5.0

# What every end-to-end test begins with: a folder of its own, its store in there, one day, one locale, no clock.
setup() {
    export LC_ALL=C TZ=UTC NEAP_DB="$BATS_TEST_TMPDIR/store.neap" HOME="$BATS_TEST_TMPDIR"
    unset XDG_DATA_HOME NO_COLOR
    # Looking for leaks takes as long as the command itself: a soak does it for all, a check where it is asked for.
    [ -n "${LEAKS-}" ] || leaks_pass
    NEAP=${NEAP:-$BATS_TEST_DIRNAME/../../build/release/neap}
    cd "$BATS_TEST_TMPDIR" || return 1
}

# Under the sanitizers a command that does not give all its memory back fails, or passes.
leaks_fail() { export ASAN_OPTIONS=${ASAN_OPTIONS-}:detect_leaks=1; }
leaks_pass() { export ASAN_OPTIONS=${ASAN_OPTIONS-}:detect_leaks=0; }

# A tenth of the usual search does for every plan here, and so for every why.
neap() {
    local args=() word
    for word; do
        args+=("$word")
        [[ $word != plan || $* == *-from-now* || $* == *help* ]] || args+=(--effort 0.1)
    done
    "$NEAP" --on 2026-11-27 "${args[@]}"
}

# has STORE: the test's store is a copy of one that setup_suite made: demo, the demo facility; round, with the day's round
# planned; morning, that round with the tanks in the order of their names (D1 1-14, D2 15-29), whatever order the planner finds;
# shop, the shop of tests/shop on its first day, with every lot due.
has() { cp "$BATS_SUITE_TMPDIR/$1.neap" "$NEAP_DB"; }

# The status and, somewhere in what was printed, the words: refuses 1 "did you mean" load tank.csv
refuses() {
    local status_wanted=$1 words=$2
    shift 2
    run neap "$@"
    [ "$status" -eq "$status_wanted" ] || { echo "status $status: $output"; return 1; }
    [[ $output == *"$words"* ]] || { echo "no \"$words\" in: $output"; return 1; }
}

# refuses, and the store's file is as it was, byte for byte.
refuses_and_keeps() {
    cp "$NEAP_DB" before.neap
    refuses "$@" || return 1
    cmp "$NEAP_DB" before.neap && [ ! -s "$NEAP_DB-wal" ]
}

# What the store holds: sql "SELECT …"
sql() { sqlite3 "$NEAP_DB" "$1"; }
entries() { sql "SELECT count(*) FROM entry"; }

# What the last run printed, on one line.
flat() { tr -s '\n ' ' ' <<<"$output"; }

same_dump() { neap dump | cmp - "$1"; }

# The command must fail. bats lets "! command" in the middle of a test pass whatever it does.
never() {
    if "$@"; then
        echo "was not to be so: $*"
        return 1
    fi
}
