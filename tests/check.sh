#!/bin/sh
# All checks, in the order in which they fail fastest. Each step's log stays in build/logs; the last line counts.
# Usage: tests/check.sh, from the top folder; the packages are there (make check-packages).
set -u
logs=build/logs
passed=0 failed=0
rm -rf $logs
mkdir -p $logs
jobs=$(nproc 2>/dev/null || echo 2)
sanitize='-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=undefined -fno-omit-frame-pointer'

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

step gcc-build make -j"$jobs" all units B=build/release STRICT=-Werror
step floors tests/floors.sh build/release
step unit make unit B=build/release STRICT=-Werror
step end-to-end make bats B=build/release STRICT=-Werror
step faults env NEAP="$PWD/build/release/neap" tests/fault/faults.sh short
step cross make cross B=build/release STRICT=-Werror
step clang-build make -j"$jobs" all units B=build/clang CC=clang STRICT=-Werror
step clang-unit make unit B=build/clang CC=clang STRICT=-Werror
step sanitizer-build make -j"$jobs" all units B=build/asan CFLAGS="$sanitize" STRICT=-Werror
step sanitizer-unit make unit B=build/asan CFLAGS="$sanitize" STRICT=-Werror
step sanitizer-end-to-end make bats B=build/asan CFLAGS="$sanitize" STRICT=-Werror

# A step that failed counts once, whatever was in it, so that a broken build is never "0 failed".
echo "$passed passed, $failed failed"
[ $failed -eq 0 ]
