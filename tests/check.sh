#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# All checks. Each step's log stays in build/logs; the last line counts.
# Usage: tests/check.sh, from the top folder; the packages are there (make check-packages).
set -u
logs=build/logs
rm -rf $logs
mkdir -p $logs
export ASAN_OPTIONS=quarantine_size_mb=8 # freed memory is kept apart for a while, not for as long as a soak does; saves a third

# The tests' stores lie in memory where 2 GB of it are free: on a disk half of their time is waiting for syncs.
free_kb() { df -Pk /dev/shm 2>/dev/null | awk 'NR == 2 { print $4 }'; awk '/^MemAvailable/ { print $2 }' /proc/meminfo; }
if [ -w /dev/shm ] && [ "$(free_kb | sort -n | head -1)" -ge 2000000 ]; then
    TMPDIR=$(mktemp -d /dev/shm/neap-check.XXXXXX)
    export TMPDIR
    trap 'rm -rf "$TMPDIR"' EXIT
    trap 'exit 1' INT TERM
fi

# Two workers for two cores. Each builds one of the two builds and then takes, one after another, the next step that nobody
# has taken; a step waits for the build it runs. What takes long stands first, so that both are ready at about the same time.
first='gcc-build'
second='sanitizer-build'
queue='floors end-to-end sanitizer-end-to-end sanitizer-unit unit faults cross sanitizer-fuzz examples'

run() {
    case $1 in
    gcc-build) step "$1" make all units singles STRICT=-Werror ;;
    sanitizer-build) step "$1" make all units SANITIZE=1 STRICT=-Werror ;;
    floors) step "$1" make floors ;;
    end-to-end) step "$1" make cli STRICT=-Werror TAGS=plain ;;
    cross) step "$1" make cross STRICT=-Werror ;;
    unit) step "$1" make unit STRICT=-Werror ;;
    examples) step "$1" make examples STRICT=-Werror ;;
    faults) step "$1" make faults STRICT=-Werror ;;
    sanitizer-fuzz) step "$1" make fuzz SANITIZE=1 STRICT=-Werror ;;
    sanitizer-unit) step "$1" make unit SANITIZE=1 STRICT=-Werror ;;
    sanitizer-end-to-end) step "$1" make cli SANITIZE=1 STRICT=-Werror TAGS='!plain' ;;
    esac
}

# step NAME COMMAND…: one log, one line on the terminal, its count in a file; on failure the log's end and how to run it again.
step() {
    name=$1 verdict=ok failed=0
    shift
    begun=$(date +%s)
    "$@" >$logs/$name.log 2>&1 || verdict=FAILED failed=1
    n=$(sed -n 's/^\[  PASSED  \] \([0-9]*\) test.*/\1/p; /^ok .* # skip/d; s/^ok .*/1/p; s/^\([0-9][0-9]*\) checks passed$/\1/p' $logs/$name.log |
        awk '{ n += $1 } END { print n + 0 }')
    echo $n $failed >$logs/$name.count
    printf '%-28s %-6s %5d  %3d s\n' "$name" "$verdict" "$n" $(($(date +%s) - begun))
    sed -n 's/^ok [0-9]* \(.* # skip.*\)/  not run: \1/p' $logs/$name.log
    if [ $failed = 1 ]; then
        grep -nE 'FAILED|^not ok|error:|ERROR|again:' $logs/$name.log | head -20
        echo "  … the whole of it: $logs/$name.log"
        echo "  again: $(printf ' %s' "$@" | sed "s/!plain/'!plain'/; s/^ //")"
    fi
}

wait_for() {
    while [ ! -e $logs/$1.count ]; do sleep 1; done
}

worker() {
    run "$1"
    for next in $queue; do
        mkdir $logs/$next.taken 2>/dev/null || continue
        case $next in sanitizer-*) wait_for $second ;; *) wait_for $first ;; esac
        run "$next"
    done
}

worker $second &
worker $first
wait
rmdir $logs/*.taken

# A step that failed counts once, whatever was in it, so that a broken build is never "0 failed"; so does one that never ended.
set -- $first $second $queue
passed=0 failed=0
for name; do
    n=0 bad=1
    [ ! -e $logs/$name.count ] || read -r n bad <$logs/$name.count
    passed=$((passed + n)) failed=$((failed + bad))
done
echo "$passed passed, $failed failed"
[ $failed -eq 0 ]
