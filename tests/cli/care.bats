# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# One of many small entries, some of which change nothing or are refused; $1 decides which.
some_entry() {
    case $(($1 % 8)) in
    0) neap set tank D1 water_cm=$((60 + $1 % 20)) ;;
    1) neap add system "s$1" note="number $1" ;;
    2) neap hold colony D1-001 D1-002 --reason "r$1" ;;
    3) neap release colony D1-001 D1-002 ;;
    4) neap set setting feeders=$((1 + $1 % 5)) loss_frac=0.0$((1 + $1 % 7)) ;;
    5) printf 'system,taken,analyte,value\nnorth,2026-11-26T07:00,no3,%d\n' $((1 + $1 % 9)) >test.csv && neap load test.csv ;;
    6) neap plan --feeders $((1 + $1 % 3)) ;;
    7) neap retire lot AA-31 || true ;;
    esac >/dev/null
}


# bats test_tags=plain
@test "any sequence of entries, undone, gives each earlier dump byte for byte" {
    has demo
    RANDOM=20261127
    local n=0 kept
    neap dump >0.json
    for i in $(seq 14); do
        kept=$(entries)
        some_entry $RANDOM
        [ "$(entries)" -eq "$kept" ] || { n=$((n + 1)); neap dump >$n.json; }
    done
    [ $n -ge 8 ]
    while [ $n -gt 0 ]; do
        n=$((n - 1))
        neap undo --yes
        same_dump $n.json
    done
    neap audit
    neap undo --yes
    [ "$(neap dump | wc -l)" -eq 3 ]
    refuses 1 "no entry to take back" undo --yes
}

# bats test_tags=plain
@test "undo asks on a terminal only" {
    has demo
    refuses_and_keeps 2 "expected --yes" undo
    run neap undo --dry-run
    [[ ${lines[0]} == "entry 1 of 2026-11-27T12:00: "*"start --demo --no-log" ]]
    [[ $output == *"  tank: 14 new, 0 changed, 0 removed"* ]]
}

# bats test_tags=plain
@test "history tells what became of a row, and what was taken back" {
    has demo
    neap set tank D1 water_cm=79
    neap set tank D2 note=x
    neap set tank D1 water_cm=78
    neap undo --yes
    run neap history tank D1
    [[ ${lines[2]} == *"by undo: water_cm 78 -> 79"* ]]
    [[ ${lines[3]} == *"water_cm 79 -> 78"* ]]
    [[ ${lines[4]} == *"water_cm 80 -> 79"* ]]
    [[ ${lines[5]} == *"new: system display"* ]]
    run neap history --last 2
    [[ ${lines[2]} == *"undo --yes (took back 4)" ]]
    [[ $(flat) == *"water_cm=78 (taken back by 5)"* ]]
    refuses 1 "knows nothing of tank" history tank D99
}

# bats test_tags=plain
@test "the journal, a row's history and an audit are printed as data, too" {
    has demo
    neap set tank D1 water_cm=79 fish=no
    neap set tank D1 fish=yes
    neap undo --yes
    neap --json history | jq -e '.schema == 1 and (.entries | map(.entry) == [4, 3, 2, 1])
        and .entries[0].takes_back == 3 and .entries[1].taken_back_by == 4 and .entries[3].taken_back_by == null
        and (.entries[3].command | endswith("start --demo --no-log"))'
    neap --json history --last 1 | jq -e '.entries | length == 1'
    neap --json history tank D1 | jq -e '.register == "tank" and .key == {name: "D1"} and (.changes | length == 4)
        and .changes[0].by_undo and (.changes[2].fields | map(select(.field == "water_cm"))[0] | .before == 80 and .after == 79)
        and (.changes[2].fields | map(select(.field == "fish"))[0] | .before == true and .after == false)
        and .changes[3].what == "added"'
    refuses 1 "knows nothing of tank" --json history tank D99
    neap --json audit | jq -e '.sound and .findings == []'
    sql "UPDATE colony SET tank = 'nowhere' WHERE code = 'D1-001'"
    run neap --json audit
    [ "$status" -eq 1 ]
    jq -e '(.sound | not) and .n_findings == (.findings | length) and (.findings | any(contains("is not there")))' <<<"$output"
}

@test "the history of a colony tells what it was given, and what became of it" {
    has round
    local refused part colony
    # two that are fed in one pass of N1
    read -r refused part <<<"$(sql "SELECT min(number) || ' ' || max(number) FROM line WHERE tank = 'N1' AND action = 'target'
        AND colony IN (SELECT colony FROM line WHERE action = 'target' GROUP BY colony HAVING count(*) = 1)")"
    neap log 1 --all "$refused=r:0" "$part=p2:3@09:10"
    colony=$(sql "SELECT colony FROM line WHERE number = $refused")
    neap history colony "$colony" | grep -A3 "^fed on .*what became of it" |
        grep "2026-11-27 *1 *$refused N1 .*refused, 0 nothing taken"
    neap --json history colony "$colony" | jq -e '.fed | length == 1 and .[0].outcome == "refused" and .[0].round == 1'
    neap log 1 --again "$refused=:4"
    neap --json history colony "$colony" | jq -e '.fed | length == 1 and .[0].outcome == "given" and .[0].response == 4'
    neap history colony E1-002 >never
    never grep "fed on" never
    neap --json history tank N1 | jq -e 'has("fed") | not'
}

# A note of 400 bytes, each character of three: wherever the words end, they end with a whole one.
@test "words of an entry that are longer than is shown are cut between characters" {
    neap start >/dev/null
    neap add system s >/dev/null
    long=$(printf '\346\265\267%.0s' $(seq 120))
    for before in "" a ab abc; do
        neap set system s note="$before$long" >/dev/null
        neap history >told
        neap undo --yes >>told
        neap redo --yes >>told
        iconv -f utf-8 -t utf-8 told >/dev/null
    done
}

# bats test_tags=plain
@test "a history shows no control characters that a command line held" {
    neap start
    run neap add system x "note=a"$'\x1b'"[31m"
    [ "$status" -eq 1 ]
    neap load --dry-run nowhere.csv || true
    printf 'name\nq\n' >$'sys\x1b[31mtem.csv'
    neap load --as system $'sys\x1b[31mtem.csv'
    run neap history
    [[ $output != *$'\x1b'* && $output == *"sys?[31mtem.csv"* ]]
}

# bats test_tags=plain
@test "an audit tells what is wrong, and only then fails" {
    has demo
    neap audit
    sql "UPDATE colony SET tank = 'nowhere' WHERE code = 'D1-001'"
    refuses 1 "a row of colony points to a tank that is not there" audit
}

# bats test_tags=plain
@test "more used of a lot than was bought is found, unless a note says why" {
    has round
    neap log 1 --all >/dev/null
    neap audit
    lot=$(sql "SELECT lot FROM drawn JOIN lot ON code = lot WHERE coalesce(note, '') = '' AND units > 0 LIMIT 1")
    refuses 1 "expected at least that, or a note that says why" set lot "$lot" amount_units=0
    neap set lot "$lot" amount_units=0 note="spilt, and filled up from the shop"
    neap audit
    refuses 1 "expected at least that, or a note that says why" set lot "$lot" note=
    sql "UPDATE lot SET note = '' WHERE code = '$lot'"
    refuses 1 "and no note says why" audit
}

# bats test_tags=plain
@test "a backup is a store, restored only where none is" {
    has demo
    neap dump >before.json
    neap backup copy.neap
    neap set tank D1 water_cm=70
    refuses 1 "is there already" restore copy.neap
    neap --db new.neap restore copy.neap
    neap --db new.neap dump | cmp - before.json
    neap --db new.neap audit
    neap backup copy.neap
    echo letter >letter
    refuses 1 "is no backup" backup letter
    [ "$(cat letter)" = letter ]
    refuses 1 "is the store itself" backup "$NEAP_DB"
    refuses 1 "not a neap store" --db other.neap restore letter
    [ ! -e other.neap ]
    [ -z "$(ls | grep part)" ]
}

# bats test_tags=plain
@test "a backup while others write is whole" {
    has demo
    for i in $(seq 40); do neap add system "s$i" >/dev/null; done &
    for i in $(seq 5); do
        neap backup "copy$i.neap"
        neap --db "copy$i.neap" audit
    done
    wait
    [ "$(neap dump system | grep -c '^s[0-9]')" -eq 40 ]
}

@test "a damaged journal entry is told by undo, history and audit, and all else goes on" {
    neap start
    neap add system x
    neap set system x note=first
    neap set system x note=second
    sql "UPDATE entry_part SET changes = CAST(substr(changes, 1, 20) || x'ffffffff' || substr(changes, 25) AS BLOB) WHERE entry = 3"
    run timeout 60 "$NEAP" history system x
    [ "$status" -eq 0 ]
    [[ $output == *"damaged: what it did"* && $output == *"note first -> second"* && $output == *"new:"* ]]
    timeout 60 "$NEAP" history | tr -s ' \n' ' ' | grep "note=first (damaged: it cannot be"
    run timeout 60 "$NEAP" audit
    [ "$status" -eq 1 ]
    [[ $output == *"journal: entry 3 is damaged, its changes are not as they were kept"*"1 finding" ]]
    neap undo --yes
    neap dump >before.json
    run timeout 60 "$NEAP" undo --yes
    [ "$status" -eq 1 ]
    [[ $output == *"entry 3 of the journal is damaged"*"set by hand what it changed"* ]]
    same_dump before.json
    neap set system x note=third
    neap --json history system x | jq -e '[.changes[].what] == ["set", "set", "set", "damaged", "added"]'
}
