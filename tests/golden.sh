#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Runs the cases of tests/golden: a folder each, with cmd (a shell script that calls neap), and the exact out, err and exit
# it must give (no err file: silence; no exit file: 0). Store, day, width and locale are pinned.
# Usage: NEAP=… tests/golden.sh [rewrite] [CASE…]. Prints TAP; rewrite replaces what differs: read the diff before a commit.
set -u
top=$(cd "$(dirname "$0")/.." && pwd)
neap=${NEAP:-$top/build/release/neap}
rewrite=no
if [ "${1:-}" = rewrite ]; then
    rewrite=yes
    shift
fi
[ $# -gt 0 ] || set -- $(ls "$top/tests/golden")

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
mkdir "$scratch/bin"
ln -s "$neap" "$scratch/bin/neap"
n=0 bad=0
echo "1..$#"
for name in "$@"; do
    case=$top/tests/golden/$name
    n=$((n + 1))
    rm -rf "$scratch/run"
    mkdir "$scratch/run"
    (cd "$scratch/run" && env -i PATH="$scratch/bin:/usr/bin:/bin" HOME="$scratch/run" NEAP_DB=store.neap LC_ALL=C TZ=UTC \
        ASAN_OPTIONS="${ASAN_OPTIONS:-}" sh "$case/cmd") >"$scratch/out" 2>"$scratch/err" </dev/null
    echo $? >"$scratch/exit"
    [ -f "$case/err" ] && cp "$case/err" "$scratch/want-err" || : >"$scratch/want-err"
    [ -f "$case/exit" ] && cp "$case/exit" "$scratch/want-exit" || echo 0 >"$scratch/want-exit"
    if [ $rewrite = yes ]; then
        cp "$scratch/out" "$case/out"
        [ ! -s "$scratch/err" ] || cp "$scratch/err" "$case/err"
        [ "$(cat "$scratch/exit")" = 0 ] || cp "$scratch/exit" "$case/exit"
        echo "ok $n $name # rewritten"
    elif cmp -s "$scratch/out" "$case/out" && cmp -s "$scratch/err" "$scratch/want-err" &&
        cmp -s "$scratch/exit" "$scratch/want-exit"; then
        echo "ok $n $name"
    else
        echo "not ok $n $name"
        diff "$case/out" "$scratch/out" | head -20 | sed 's/^/# out: /'
        diff "$scratch/want-err" "$scratch/err" | head -20 | sed 's/^/# err: /'
        diff "$scratch/want-exit" "$scratch/exit" | sed 's/^/# exit: /'
        echo "# again: NEAP=$neap tests/golden.sh $name"
        bad=$((bad + 1))
    fi
done
[ $bad -eq 0 ]
