# SPDX-License-Identifier: GPL-3.0-or-later
load helper

commands() { "$NEAP" --help | sed -n 's/^  \([a-z]*\)  .*/\1/p'; }

# bats test_tags=plain
@test "every command explains itself" {
    [ "$(commands | wc -l)" -ge 16 ]
    for c in $(commands); do
        "$NEAP" "$c" --help >out
        grep -q "^neap $c" out
        grep -q "^Example" out
        "$NEAP" help "$c" | cmp - out
    done
}

# bats test_tags=plain
@test "no line of any help is wider than 80 columns" {
    export LC_ALL=C.UTF-8
    { "$NEAP" --help
      for c in $(commands); do "$NEAP" "$c" --help; done
      "$NEAP" calc
      for k in $("$NEAP" calc | sed -n 's/^  \([a-z]*\)  .*/\1/p'); do "$NEAP" calc "$k"; done
    } >helps
    [ "$(wc -l <helps)" -gt 300 ]
    never grep -nE '^.{81}' helps
}

# In the order of the list, on one demo store; where an example names a store of its own, it is put into the test's folder.
@test "every example runs on the demo store" {
    leaks_fail
    cp -r "$BATS_TEST_DIRNAME/../../data" .
    has round
    for c in $(commands); do
        example=$("$NEAP" "$c" --help | sed -n '/^Example/,$ s/^  neap/neap/p')
        example=${example//\/tmp\//$BATS_TEST_TMPDIR/}
        eval "$example" >out 2>&1 || { echo "$c: $example"; cat out; return 1; }
    done
}

@test "misuse is told with what would have worked, and exits 2" {
    refuses 2 'did you mean "plan"?' plna
    refuses 2 'did you mean --feeders?' plan --feedrs 2
    refuses 2 "needs a value" plan --feeders
    refuses 2 "expected 1 to 20" plan --feeders 21
    refuses 2 "expected a whole number" plan --feeders 1.5
    refuses 2 "--strength is 3.1; expected 0 to 3" ahead --strength 3.1
    refuses 2 "--strength is -1; expected 0 to 3" ahead --strength -1
    refuses 1 "no store" ahead --strength 3 # its ends are taken, and then there is nothing to read
    refuses 1 "no store" ahead --strength 0
    refuses 2 "load needs more: neap load FILE" load
    refuses 2 'audit does not take "now"' audit now
    refuses 2 "--json has no meaning" undo --json
    refuses 2 "expected metric or us" list --units imperial
    run "$NEAP" --on 27.11.2026 list
    [ "$status" -eq 2 ]
    run "$NEAP"
    [ "$status" -eq 2 ]
}

@test "version, man pages and completion come from the rows" {
    "$NEAP" --version | grep -q "^neap [0-9]"
    "$NEAP" --version | grep -q "GPL-3.0-or-later"
    "$NEAP" help --man >neap.1
    for c in $(commands); do
        grep -q "^.BR neap.-$c (1)" neap.1
        "$NEAP" help "$c" --man >"neap-$c.1"
        grep -q "^.SH DESCRIPTION" "neap-$c.1"
    done
    never grep -lP "[^\x00-\x7F]" neap*.1
    for page in neap*.1; do
        [ -z "$(MANROFFSEQ= groff -man -Tascii -ww -z "$page" 2>&1)" ] || { groff -man -Tascii -ww -z "$page"; return 1; }
        [ "$(groff -man -Tascii -P-c -P-b -P-u "$page" | awk 'length($0) > 80' | wc -l)" = 0 ] || { echo "$page is wider than 80"; return 1; }
    done
    refuses 2 "expected bash, zsh or fish" help --completion tcsh
    "$NEAP" help --completion bash >completion
    bash -n completion
    source completion
    completed() {
        COMP_WORDS=("$@")
        COMP_CWORD=$(($# - 1))
        _neap
        printf '%s\n' "${COMPREPLY[@]}"
    }
    [ "$(completed neap rel)" = release ]
    [ "$(completed neap --db x list sys)" = system ]
    has demo
    [ "$(completed neap count D1-01)" = "$(neap list colony --keys | grep "^D1-01")" ]
    [ "$(completed neap move D1-002 to D | grep -cx 'D[123]')" = 3 ]
    [ "$(completed neap set food "rich")" = 'rich\ powder' ]
    [ "$(completed neap hold tank N)" = "$(neap list tank --keys | grep ^N)" ]
}

# Without a terminal: zsh's own functions stand for it and print what they are given; fish tells what it would offer.
# bats test_tags=plain
@test "zsh and fish complete commands, options, names of the store, and files" {
    has demo
    mkdir bin && ln -s "$(realpath "$NEAP")" bin/neap
    export PATH=$PWD/bin:$PATH
    neap help --completion zsh >_neap
    neap help --completion fish >neap.fish
    never grep -q "__neap_keys test)" neap.fish # a test is not named by words
    cat >zsh-offers <<'END'
compdef() { : }
compadd() { shift; local fits=(${(M)@:#$PREFIX*}); (( $#fits )) && print -l -- $fits }
_files() { print files }
source ./_neap
words=(neap "$@") CURRENT=$(($# + 1)) PREFIX=${@[-1]}
_neap
END
    offers() { # WORDS: what both offer, which is the same
        zsh -f zsh-offers "$@" | sort >by_zsh
        fish -c "source neap.fish; complete -C 'neap $*'" | cut -f1 | sort >by_fish
        diff by_zsh by_fish && cat by_zsh
    }
    [ "$(offers sta)" = start ]
    [ "$(offers sheet --fe)" = --feeder ]
    [ "$(offers count D1-01)" = "$(neap list colony --keys | grep "^D1-01")" ]
    [ "$(offers list tan)" = tank ]
    [ "$(offers list tank D)" = "$(neap list tank --keys | grep ^D)" ]
    [ "$(offers help tre)" = "treat
trend" ]
    [ "$(offers set food rich)" = "rich powder" ]
    cp "$NEAP_DB" other.neap && rm "$NEAP_DB"
    [ "$(offers --db other.neap sto)" = stock ]
    [ "$(offers --db other.neap list tank N)" = "N1
N2
N3" ]
    [ "$(zsh -f zsh-offers load oth)" = files ]
    fish -c "source neap.fish; complete -C 'neap load oth'" | grep -q "^other.neap"
    [ -z "$(fish -c "source neap.fish; complete -C 'neap hold tank oth'")" ]
}

# In a copy of what was built, so that only the new file and the list of commands are compiled.
# bats test_tags=plain
@test "a file makes a command: nothing else is edited, and the help has it in its place" {
    local top build
    top=$(realpath "$BATS_TEST_DIRNAME/../..") build=$(dirname "$(realpath "$NEAP")")
    build=${build#"$top/"}
    [[ $build != *asan ]] || export SANITIZE=1
    mkdir -p copy/"$build"
    cp -a "$top"/{src,include,data,Makefile} copy
    cp -a "$top/$build"/{src,gen,libneap.a} "copy/$build"
    cat >copy/src/cli/cmd_tide.c <<'END'
#include "cli.h"

static bool tide_run(struct context *c, struct err *e)
{
    (void)e;
    text_add(c->out, "neap\n");
    return true;
}

const struct command command_tide = {
    .name = "tide",
    .place = 215,
    .summary = "the tide of least movement",
    .usage = "",
    .about = "Says which tide it is.",
    .example = "neap tide",
    .run = tide_run,
};
END
    make -s -C copy B="$build" "$build/neap"
    [ "$(copy/"$build"/neap tide)" = neap ]
    copy/"$build"/neap --help | grep -A1 '^  trend ' | grep '^  tide *the tide of least movement'
    copy/"$build"/neap help --completion bash | grep -w tide
    rm copy/src/cli/cmd_tide.c
    make -s -C copy B="$build" "$build/neap"
    never grep tide <(copy/"$build"/neap --help)
}
