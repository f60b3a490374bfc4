#!/bin/sh
# Fails one allocation, write or sync of a command after another, until a run meets no fault any more. Each time: success,
# or exit 1 with a message and nothing stored; and the store whole (integrity, foreign keys). Never a crash, never a store
# that is half written. Usage: NEAP=… tests/fault/faults.sh [short|long]: short tries a few of the points, long hundreds.
set -u
top=$(cd "$(dirname "$0")/../.." && pwd)
neap=${NEAP:-$top/build/release/neap}
mode=${1:-short}
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
cc -shared -fPIC -O1 -o "$dir/failing.so" "$top/tests/fault/failing.c" -ldl || exit 1
checks=0 bad=0

fail() {
    echo "not ok: $*"
    bad=$((bad + 1))
}

whole() { # the store is a whole store, and either as before or as after
    state=$(sqlite3 "$1" 'PRAGMA integrity_check; PRAGMA foreign_key_check; SELECT count(*) FROM entry' 2>&1)
    case $state in
    "ok
$2" | "ok
$3") ;;
    *) fail "$4: the store is $state; expected ok and $2 or $3 entries" ;;
    esac
}

next() { # the next point to try: every one of the first fifty, then ever wider apart
    if [ "$mode" = long ]; then echo $(($1 + 1 + $1 / 50)); else echo $(($1 * 2 + 1)); fi
}

# try WHAT ENTRIES_BEFORE COMMAND…: on a copy of the prepared store each time
try() {
    what=$1 before=$2
    shift 2
    n=1
    while :; do
        rm -f "$dir"/run.neap* "$dir/mark"
        [ ! -f "$dir/base.neap" ] || cp "$dir/base.neap" "$dir/run.neap"
        FAIL=$what:$n FAIL_MARK=$dir/mark LD_PRELOAD=$dir/failing.so NEAP_DB=$dir/run.neap "$neap" "$@" \
            >"$dir/out" 2>"$dir/err"
        status=$?
        checks=$((checks + 1))
        case $status in
        0) ;;
        1) [ -s "$dir/err" ] || fail "$what $n of $*: exit 1 without a message" ;;
        *) fail "$what $n of $*: exit $status: $(head -c 200 "$dir/err")" ;;
        esac
        if [ -f "$dir/run.neap" ]; then
            if [ $status = 1 ]; then whole "$dir/run.neap" "$before" "$before" "$what $n of $*"; else
                whole "$dir/run.neap" "$before" $((before + 1)) "$what $n of $*"; fi
        elif [ -f "$dir/base.neap" ] || [ $status = 0 ]; then
            fail "$what $n of $*: the store is gone"
        fi
        [ -f "$dir/mark" ] || break
        n=$(next $n)
    done
    echo "$what: $* up to $n"
}

rm -f "$dir/base.neap"
for what in alloc write sync; do try $what 0 --on 2026-11-27 start --demo --no-log; done
NEAP_DB=$dir/base.neap "$neap" --on 2026-11-27 start --demo --no-log >/dev/null
sqlite3 "$dir/base.neap" 'PRAGMA wal_checkpoint(TRUNCATE)' >/dev/null
for what in alloc write sync; do try $what 1 --on 2026-11-27 plan; done
NEAP_DB=$dir/base.neap "$neap" --on 2026-11-27 plan >/dev/null
sqlite3 "$dir/base.neap" 'PRAGMA wal_checkpoint(TRUNCATE)' >/dev/null
try alloc 2 --on 2026-11-27 sheet

[ $bad -gt 0 ] && { echo "$bad faults not met"; exit 1; }
echo "$checks checks passed"
