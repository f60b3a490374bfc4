#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# What other programs find in the source, and in a morning that runs: clang-format (where it is not laid out as .clang-format
# says; by version 14, that of Debian 12, for each version lays out a little otherwise), cppcheck, clang-tidy (its checks:
# .clang-tidy), gcc's -fanalyzer, valgrind. A finding that is none is told so where it stands, with the reason.
# Usage: tests/lint.sh BUILD [layout|cppcheck|tidy|analyzer|valgrind]…; a whole build by gcc; compile_commands.json is there
# (make lint).
set -u
build=$1
shift
[ $# -gt 0 ] || set -- layout cppcheck tidy analyzer valgrind
status=0

lint_layout() { git ls-files '*.c' '*.h' '*.cpp' | xargs clang-format --dry-run -Werror; }

# compareBoolExpressionWithInt: "from none to one where it is so" is a loop of this house.
lint_cppcheck() {
    cppcheck --enable=warning,portability,performance --inline-suppr --suppress=compareBoolExpressionWithInt --std=c11 \
        -D_POSIX_C_SOURCE=200809L -Iinclude -Isrc -I"$build/gen" --quiet --error-exitcode=1 src
}

# One file at a time: after the first, version 14 takes each va_list for one that nobody began.
lint_tidy() {
    apart='^src/page/' # these cannot have lint.h before them; of data.c, bytes of files, it makes minutes
    tidy="xargs -n 1 -P $(nproc) clang-tidy --quiet -p ."
    git ls-files 'src/*.c' | grep -vE "$apart|^src/cli/data.c" | $tidy --extra-arg=-include --extra-arg=tests/lint.h || return 1
    git ls-files 'src/*.c' | grep -E "$apart" | $tidy
}

# Compiled for itself, with the analyzer's warnings and no others. What tests/analyzer.explained names is none.
lint_analyzer() {
    rm -rf build/analyzer
    make -s all B=build/analyzer CFLAGS='-O1 -g -fanalyzer' WARN= 2>build/analyzer.txt
    grep 'warning:' build/analyzer.txt | sort -u | awk -F ' [|] ' '
        NR == FNR { if ($0 !~ /^#/) { file[NR] = $1; words[NR] = $2 } next }
        { known = 0; for (i in file) if (index($0, file[i] ":") == 1 && index($0, words[i])) met[i] = known = 1 }
        !known { print; bad = 1 }
        END { for (i in file) if (!met[i]) { print "explained, and not found: " file[i] " | " words[i]; bad = 1 } exit bad }
    ' tests/analyzer.explained -
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
