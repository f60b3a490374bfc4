# What every file of end-to-end tests loads: a store of its own, a fixed locale, and the program under test.
bats_require_minimum_version 1.5.0
export LC_ALL=C TZ=UTC
NEAP=${NEAP:-build/release/neap}

setup() {
    NEAP_DB="$(mktemp -d)/store.neap"
    export NEAP_DB
}

teardown() {
    rm -rf "$(dirname "$NEAP_DB")"
}

neap() {
    "$NEAP" "$@"
}
