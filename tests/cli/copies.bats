# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# bats test_tags=plain
@test "restore refuses a name beside which another store's log lies" {
    has demo
    neap backup copy.neap
    for left in wal shm journal; do
        echo old >"new.neap-$left"
        NEAP_DB=new.neap refuses 1 "is left over from another store of this name" restore copy.neap
        [ ! -e new.neap ]
        [ "$(cat "new.neap-$left")" = old ]
        NEAP_DB=new.neap refuses 1 "is left over from another store of this name" start
        [ ! -e new.neap ]
        rm "new.neap-$left"
    done
    NEAP_DB=new.neap neap restore copy.neap
    neap dump >before.json
    NEAP_DB=new.neap neap dump | cmp - before.json
}

# [store 9]
# bats test_tags=plain
@test "backup never writes over a store that somebody works in" {
    has demo
    NEAP_DB=other.neap neap start
    cp other.neap kept.neap
    refuses 1 "is a store that somebody works in" backup other.neap
    cmp other.neap kept.neap
    neap backup copy.neap
    neap set tank D1 water_cm=70
    neap backup copy.neap
    NEAP_DB=copy.neap neap list tank --json | jq -e '.tank[] | select(.name == "D1") | .water_cm == 70'
}

# bats test_tags=plain
@test "a backup can be read by no more people than its store" {
    has demo
    chmod 600 "$NEAP_DB"
    neap backup copy.neap
    [ "$(stat -c %a copy.neap)" = 600 ]
}

# bats test_tags=plain
@test "a copy is not written through a link that somebody left, and leaves nothing when it fails" {
    has demo
    echo precious >target
    ln -s target copy.neap.part
    neap backup copy.neap
    [ "$(cat target)" = precious ]
    ln -s "$PWD/target" linked.neap
    refuses 1 "is there already and is no backup" backup linked.neap
    [ "$(cat target)" = precious ]
    rm copy.neap.part
    run bash -c "ulimit -f 64; '$NEAP' backup small.neap"
    [ "$status" -eq 1 ]
    [ -z "$(find . -name 'small.neap*')" ]
}

# bats test_tags=plain
@test "of several starts at once one makes the store, and the others say that it is there" {
    for round in $(seq "${ROUNDS:-8}"); do
        rm -f store.neap*
        for p in 1 2 3; do (status=0; NEAP_DB=store.neap neap start >"out$p" 2>"err$p" || status=$?; echo $status >"exit$p") & done
        wait
        [ "$(cat exit1 exit2 exit3 | sort | tr -d '\n')" = 011 ]
        [ "$(cat err1 err2 err3 | grep -c "is there already")" -eq 2 ]
        [ "$(NEAP_DB=store.neap neap list kind --json | jq '.kind | length')" -gt 10 ]
        [ -z "$(find . -name 'store.neap.part*')" ]
    done
}

# bats test_tags=plain
@test "of several backups to one name at once each is whole, and one of them has the name" {
    has demo
    for p in 1 2 3 4; do (neap backup copy.neap >"out$p" 2>&1 || echo "$p: $(cat "out$p")" >>failed) & done
    wait
    # who came second may find the name taken by then: it says so, and takes nothing away
    [ ! -e failed ] || never grep -v "copy.neap: is there already" failed
    grep -q "a sound copy" out?
    NEAP_DB=copy.neap refuses 0 sound audit
    [ -z "$(find . -name '*.part*')" ]
}

# [store 9]
# bats test_tags=plain
@test "a start that is killed leaves no store" {
    for i in $(seq 12); do
        rm -f store.neap*
        "$NEAP" --db store.neap start --demo >/dev/null 2>&1 &
        sleep "0.$((i % 5))$((i % 10))"
        kill -9 $! 2>/dev/null || true
        wait $! 2>/dev/null || true
        [ ! -e store.neap ] || [ "$(NEAP_DB=store.neap neap list food --json | jq '.food | length')" -gt 10 ]
    done
    rm -f store.neap*
    NEAP_DB=store.neap neap start
}

@test "a store must be a file" {
    refuses 2 "is no file" --db :memory: start
    refuses 2 "is no file" --db "" list
    NEAP_DB=:memory: refuses 2 "is no file" list
}

# bats test_tags=plain
@test "what is stored though its report is lost is not to be entered again" {
    has demo
    run bash -c "'$NEAP' --on 2026-11-27 set tank D1 water_cm=70 >/dev/full"
    [ "$status" -eq 0 ]
    [[ $output == *"do not enter it again"* ]]
    [ "$(neap list tank --json | jq '.tank[] | select(.name == "D1") | .water_cm')" = 70 ]
    run bash -c "'$NEAP' --on 2026-11-27 set tank D1 water_cm=71 >&-"
    [ "$status" -eq 0 ]
    [[ $output == *"do not enter it again"* ]]
    [ "$(neap list tank --json | jq '.tank[] | select(.name == "D1") | .water_cm')" = 71 ]
    run bash -c "'$NEAP' list tank >&-"
    [ "$status" -eq 1 ]
    run bash -c "'$NEAP' list tank >/dev/full"
    [ "$status" -eq 1 ]
    run bash -c "'$NEAP' log 1 --show >/dev/full"
    [ "$status" -eq 1 ]
}

# bats test_tags=plain
@test "a store that may only be read is read" {
    has demo
    chmod 755 .
    chmod 444 "$NEAP_DB"
    as=()
    [ "$(id -u)" -ne 0 ] || as=(setpriv --reuid 65534 --regid 65534 --clear-groups)
    mkdir /tmp/neap-read-$$
    cp "$NEAP_DB" /tmp/neap-read-$$/s.neap
    cp "$NEAP" /tmp/neap-read-$$/neap
    chmod -R a+rX,a-w /tmp/neap-read-$$
    run "${as[@]}" /tmp/neap-read-$$/neap --db /tmp/neap-read-$$/s.neap list tank
    said=$output read=$status
    run "${as[@]}" /tmp/neap-read-$$/neap --db /tmp/neap-read-$$/s.neap set tank D1 water_cm=70
    set=$status said+=$output
    chmod a+w /tmp/neap-read-$$/s.neap # but nothing may be made beside it
    run "${as[@]}" /tmp/neap-read-$$/neap --db /tmp/neap-read-$$/s.neap set tank D1 water_cm=70
    refused=$output refused_as=$status
    run "${as[@]}" /tmp/neap-read-$$/neap --db /tmp/neap-read-$$/s.neap list tank
    [ "$status" -eq 0 ] && [[ $output == *D1* ]] && beside=yes || beside=no
    cmp "$NEAP_DB" /tmp/neap-read-$$/s.neap && same=yes || same=no
    chmod -R u+w /tmp/neap-read-$$
    rm -rf /tmp/neap-read-$$
    echo "$said / $refused / $output"
    [ "$read" -eq 0 ]
    [ "$beside" = yes ]
    [ "$set" -eq 1 ]
    [[ $said == *"cannot be written"* ]]
    [ "$refused_as" -eq 1 ]
    [ "$same" = yes ]
    [[ $refused == *"cannot be written; expected write permission on file and folder"* ]]
}
