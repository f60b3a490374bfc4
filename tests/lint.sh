#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What four other programs find in the source, and in a morning that runs: cppcheck, clang-tidy (its checks: .clang-tidy), gcc's
# -fanalyzer, valgrind. A finding that is none is told so where it stands, with the reason.
# Usage: tests/lint.sh BUILD [cppcheck|tidy|analyzer|valgrind]…; a whole build by gcc; compile_commands.json is there (make lint).
set -u
build=$1
shift
[ $# -gt 0 ] || set -- cppcheck tidy analyzer valgrind
status=0

# compareBoolExpressionWithInt: "from none to one where it is so" is a loop of this house.
lint_cppcheck() {
    cppcheck --enable=warning,portability,performance --inline-suppr --suppress=compareBoolExpressionWithInt --std=c11 \
        -D_POSIX_C_SOURCE=200809L -Iinclude -Isrc -I"$build/gen" --quiet --error-exitcode=1 src
}

lint_tidy() { git ls-files 'src/*.c' | grep -v ^src/page/ | xargs -n 8 clang-tidy --quiet -p .; }

# Compiled for itself, with the analyzer's warnings and no others.
lint_analyzer() {
    make -s all B=build/analyzer CFLAGS='-O1 -g -fanalyzer' WARN= 2>build/analyzer.txt
    ! grep 'warning:' build/analyzer.txt
}

# Every block that is not given back counts.
lint_valgrind() {
    folder=$(mktemp -d)
    lines='start --demo --no-log
plan --effort 0.1
sheet
log 1 1-20
log 1 --show
why 5
dump --into tables
load tables
trend
stock
test north no3=6 po4=0.05
plan --from-now --now 09:00 --effort 0.1
undo --yes
audit
backup copy.neap'
    neap=$(realpath "$build/neap") failed=0
    echo "$lines" | while read -r words; do
        # shellcheck disable=SC2086
        (cd "$folder" && NEAP_DB=s.neap valgrind -q --error-exitcode=99 --leak-check=full --show-leak-kinds=all \
            --errors-for-leak-kinds=definite,indirect,possible "$neap" --on 2026-11-27 $words >out 2>err) || {
            echo "valgrind: neap $words:"
            cat "$folder/err"
            exit 1
        }
    done || failed=1
    rm -rf "$folder"
    return $failed
}

for what; do
    if "lint_$what"; then echo "$what: nothing"; else echo "$what: see above"; status=1; fi
done
exit $status
