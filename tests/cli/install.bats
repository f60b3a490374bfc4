#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# What make install puts into place works there, and make uninstall takes it all away again.
load helper

top=$BATS_TEST_DIRNAME/../..
placed() { make -s -C "$top" "$1" B="$(dirname "$(realpath "$NEAP")")" DESTDIR="$BATS_TEST_TMPDIR/root" PREFIX=/usr CC="${CC:-cc}"; }

# bats test_tags=plain
@test "installed, the examples of the help run, and the manual is there for each command" {
    placed install
    root=$BATS_TEST_TMPDIR/root/usr
    for c in $("$NEAP" --help | sed -n 's/^  \([a-z]*\)  .*/\1/p'); do
        gzip -dc "$root/share/man/man1/neap-$c.1.gz" | grep -q "^.TH NEAP"
    done
    [ -s "$root/share/neap/demo/tank.csv" ]
    [ -s "$root/share/doc/neap/docs/safety.md" ]
    bash -n "$root/share/bash-completion/completions/neap"
    has round
    mkdir elsewhere && cd elsewhere
    NEAP=$root/bin/neap
    for c in load start list add calc; do
        example=$("$NEAP" "$c" --help | sed -n '/^Example/,$ s/^  neap/neap/p')
        eval "${example//\/tmp\//$BATS_TEST_TMPDIR/}" >out 2>&1 || { cat out; return 1; }
    done
    neap load "$root/share/neap/demo" --dry-run | grep -q "new 0, changed 0"
}

# bats test_tags=plain
@test "uninstall leaves no file" {
    placed install
    placed uninstall
    [ -z "$(find root -type f)" ]
}
