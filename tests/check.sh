#!/bin/sh
# All checks, in the order in which they fail fastest. Each step's log stays in build/logs; the last line counts.
# Usage: tests/check.sh, from the top folder; the packages are there (make check-packages).
set -u
logs=build/logs
passed=0 failed=0
rm -rf $logs
mkdir -p $logs
sanitize='-O2 -g1 -fsanitize=address,undefined -fno-sanitize-recover=undefined -fno-omit-frame-pointer'

# step NAME COMMAND…: one log, one line on the terminal; on failure the log's end and how to run that one again.
step() {
    name=$1
    shift
    begun=$(date +%s)
    if "$@" >$logs/$name.log 2>&1; then
        verdict=ok
    else
        verdict=FAILED
        failed=$((failed + 1))
    fi
    n=$(sed -n 's/^\[  PASSED  \] \([0-9]*\) test.*/\1/p; s/^ok .*/1/p; s/^\([0-9][0-9]*\) checks passed$/\1/p' $logs/$name.log |
        awk '{ n += $1 } END { print n + 0 }')
    passed=$((passed + n))
    printf '%-28s %-6s %5d  %3d s\n' "$name" "$verdict" "$n" $(($(date +%s) - begun))
    if [ $verdict = FAILED ]; then
        grep -nE 'FAILED|^not ok|error:|ERROR|again:' $logs/$name.log | head -20
        echo "  … the whole of it: $logs/$name.log"
        echo "  again: $*"
    fi
}

# Two lanes on two cores: the plain build with everything that looks from outside, and clang's build with the sanitizers,
# which runs the whole suite again. What a lane counted stands in its own file.
plain() {
    step gcc-build make all units B=build/release STRICT=-Werror
    step floors tests/floors.sh build/release
    step unit make unit B=build/release STRICT=-Werror
    step end-to-end make bats B=build/release STRICT=-Werror
    step cross make cross B=build/release STRICT=-Werror
    step faults env NEAP="$PWD/build/release/neap" tests/fault/faults.sh short
    echo $passed $failed >$logs/plain.count
}
sanitized() {
    step clang-sanitizer-build make all units B=build/asan CC=clang CFLAGS="$sanitize" STRICT=-Werror
    step clang-sanitizer-unit make unit B=build/asan CC=clang CFLAGS="$sanitize" STRICT=-Werror
    step clang-sanitizer-end-to-end make bats B=build/asan CC=clang CFLAGS="$sanitize" STRICT=-Werror
    echo $passed $failed >$logs/sanitized.count
}
sanitized &
plain
wait
read -r passed failed <$logs/plain.count
read -r more worse <$logs/sanitized.count || worse=1
passed=$((passed + more)) failed=$((failed + worse))

# A step that failed counts once, whatever was in it, so that a broken build is never "0 failed".
echo "$passed passed, $failed failed"
[ $failed -eq 0 ]
