#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What a command costs in a store of half a year and in one of ten years: the demo facility, a round a day with every line logged,
# 42 tests a day (tests/bench/bench_years.c). Processor seconds, the best of three, and their ratio. Asserts nothing.
# Usage: tests/bench/years.sh NEAP BENCH_YEARS
set -eu
neap=$1 fill=$2
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
export LC_ALL=C TZ=UTC
for days in 182 3650; do
    NEAP_DB=$folder/$days.neap
    export NEAP_DB
    "$neap" --on 2026-11-27 start --demo --no-log >/dev/null
    "$neap" --on 2026-11-27 plan >/dev/null
    "$fill" "$NEAP_DB" $days
done
cost() { # store, command: the least of three, on the day after the last round
    day=$(date -d "2026-11-28 + $1 days" +%F)
    for i in 1 2 3; do
        /usr/bin/time -f "%U %S" "$neap" --db "$folder/$1.neap" --on "$day" $2 2>&1 >/dev/null | tail -1
    done | awk '{ t = $1 + $2; if (NR == 1 || t < least) least = t } END { printf "%.2f", least }'
}
printf '%-16s %10s %10s %6s\n' command 'half year' 'ten years' ratio
for command in history 'plan --dry-run' stock trend audit 'undo --dry-run' "backup $folder/copy.neap"; do
    new=$(cost 182 "$command") old=$(cost 3650 "$command")
    printf '%-16s %8s s %8s s %6s\n' "${command%% /*}" "$new" "$old" "$(awk "BEGIN { printf \"%.1f\", $old / ($new > 0 ? $new : 0.01) }")"
    rm -f "$folder/copy.neap"
done
