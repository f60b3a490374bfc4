# SPDX-License-Identifier: GPL-3.0-or-later
# Once for all files: the stores that most tests begin with, made by the program itself. Each test takes a copy (helper.bash).
# In the middle of a test bash lets "! command" pass whatever it does, and whatever stands left of &&. never is in helper.bash.
lines_that_cannot_fail() {
    local asks='(\[|\[\[|grep|cmp|diff|never) '
    grep -nE "^ +(! |$asks.* && $asks)" "$BATS_TEST_DIRNAME"/*.bats | grep -v ' || '
}

setup_suite() {
    if lines_that_cannot_fail; then
        echo "these lines cannot fail; expected never, and one line for each that is asked"
        return 1
    fi
    local neap=${NEAP:-$BATS_TEST_DIRNAME/../../build/release/neap}
    export LC_ALL=C TZ=UTC NEAP_DB=$BATS_SUITE_TMPDIR/store.neap
    unset XDG_DATA_HOME NO_COLOR
    "$neap" --on 2026-11-27 start --demo --no-log
    cp "$NEAP_DB" "$BATS_SUITE_TMPDIR/demo.neap" # the last to close a store leaves it in one file
    "$neap" --on 2026-11-27 plan --effort 0.1
    cp "$NEAP_DB" "$BATS_SUITE_TMPDIR/round.neap"
    sqlite3 "$NEAP_DB" "CREATE TEMP TABLE n AS SELECT number, row_number() OVER (ORDER BY tank, start_min, number) AS k FROM line;
        UPDATE line SET number = 1000 + (SELECT k FROM n WHERE n.number = line.number);
        UPDATE line SET number = number - 1000;"
    mv "$NEAP_DB" "$BATS_SUITE_TMPDIR/morning.neap"
    "$neap" --on 2026-11-27 start
    "$neap" --on 2026-11-27 load "$BATS_TEST_DIRNAME"/../shop/{setting,system,tank,colony,lot,test}.csv
    mv "$NEAP_DB" "$BATS_SUITE_TMPDIR/shop.neap"
    unset NEAP_DB
}
