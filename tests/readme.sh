#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# The examples of a Markdown file are true: runs the "$ " lines of its console blocks, in order and in one folder, and
# compares what they print with what stands below them. Usage: NEAP=… tests/readme.sh FILE [rewrite]
set -u
file=$(realpath "${1:?a Markdown file}")
rewrite=${2:-}
top=$(cd "$(dirname "$0")/.." && pwd)
neap=${NEAP:-$top/build/release/neap}
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
mkdir "$dir/bin" "$dir/run"
ln -s "$neap" "$dir/bin/neap"
cd "$dir/run" || exit 1
export PATH="$dir/bin:/usr/bin:/bin" HOME="$dir/run" NEAP_DB="$dir/run/store.neap" LC_ALL=C.UTF-8 TZ=UTC
unset XDG_DATA_HOME

inside=no ran=0
while IFS= read -r line || [ -n "$line" ]; do
    case $inside:$line in
    no:'```console') inside=yes && printf '%s\n' "$line" ;;
    yes:'```') inside=no && printf '%s\n' "$line" ;;
    yes:'$ '*)
        printf '%s\n' "$line"
        ran=$((ran + 1))
        sh -c "${line#'$ '}" </dev/null 2>&1 | sed "s#$dir/run/##g; s/\f/\n/g"
        ;;
    yes:*) ;;
    *) printf '%s\n' "$line" ;;
    esac
done <"$file" >"$dir/made"

if [ "$rewrite" = rewrite ]; then
    cp "$dir/made" "$file"
elif ! diff "$file" "$dir/made"; then
    echo "not ok 1 the examples of $(basename "$file")"
    echo "# again: NEAP=$neap tests/readme.sh $file; to take the new output: … rewrite"
    exit 1
fi
echo "ok 1 the examples of $(basename "$file"): $ran commands"
