# SPDX-License-Identifier: GPL-3.0-or-later
# Who needs food most gets it first, and nobody starves in silence.
load helper

# bats test_tags=plain
@test "an ordinary shop on its first day feeds every lot that is due" {
    has shop
    run -0 neap plan
    [[ $output != *"not fed"* ]]
    [ "$(sql "SELECT count(*) FROM waiting WHERE due = 1")" = 0 ]
    [ "$(sql "SELECT count(DISTINCT colony) FROM line WHERE action = 'target'")" -ge 45 ]
    neap sheet --no-pages >sheet
    never grep "DUE, AND NOT FED" sheet
}

# bats test_tags=plain
@test "in the demo and in an ordinary shop every colony that is due is fed within two rounds" {
    NEAP_DB=shop.neap has shop
    has demo
    for store in "$NEAP_DB" shop.neap; do
        export NEAP_DB=$store
        for day in 27 28; do
            neap --on 2026-11-$day plan
            neap --on 2026-11-$day log --all
        done
        sql "CREATE TEMP TABLE told AS SELECT day, colony, 1 AS fed FROM line JOIN round_in_force AS r ON r.number = line.round
                AND r.revision = line.revision WHERE action = 'target'
            UNION SELECT day, colony, 0 FROM waiting AS w JOIN round_in_force AS r ON r.number = w.round AND r.revision = w.revision WHERE due = 1;
            SELECT count(*) FROM told WHERE day = '2026-11-27' AND fed;
            SELECT 'not fed: ' || colony FROM told WHERE day = '2026-11-27'
                AND colony NOT IN (SELECT colony FROM told WHERE day <= '2026-11-28' AND fed)" >due
        [ "$(head -1 due)" -gt 30 ]
        never grep "not fed" due
    done
}

# Sun corals ask for food every day and have no light to live by: in a crowded water the others' portions are cut, never theirs.
# bats test_tags=plain
@test "obligate feeders are fed every day of a week, whole, whatever the others get" {
    has shop
    for day in 27 28 29 30; do
        neap --on 2026-11-$day plan >plan
        [ "$(sql "SELECT count(*) FROM line JOIN round_in_force AS r ON r.number = line.round AND r.revision = line.revision
            JOIN colony ON colony.code = line.colony WHERE colony.kind = 'sun corals' AND r.day = '2026-11-$day'")" = 3 ]
        "$NEAP" --on 2026-11-$day log "$(sql "SELECT max(number) FROM round")" --all >log
    done
    # each sun coral gets 0.3 mL a head, on each of the days
    [ "$(sql "SELECT count(*) FROM line JOIN colony ON colony.code = line.colony
        WHERE colony.kind = 'sun corals' AND abs(line.amount - 0.3 * line.count * colony.heads) > 1e-9")" = 0 ]
    [ "$(sql "SELECT count(*) FROM line JOIN colony ON colony.code = line.colony JOIN kind ON kind.name = colony.kind
        WHERE kind.name = 'branching euphylliids' AND line.amount < 0.9 * line.count * line.mouths * kind.portion_ml")" -gt 0 ]
}

# bats test_tags=plain
@test "who is due and goes without stands at the top of the sheet and in plan's line" {
    has shop
    for food in "rich powder" "phosphate-lowering powder" copepods "minced krill" "soft pellet"; do
        neap set food "$food" ceiling_units_per_100l=0.004
    done
    run -0 neap plan
    [[ $output == *" due and not fed: "*"no feed is known of, due every"* ]]
    neap --json plan --dry-run | jq -e '.due_and_not_fed > 0'
    neap sheet --no-pages >sheet
    [ "$(grep -n "DUE, AND NOT FED TODAY" sheet | cut -d: -f1)" -lt "$(grep -n "^CAUTIONS" sheet | cut -d: -f1)" ]
    grep -A1 "DUE, AND NOT FED TODAY" sheet | grep -q "^!! "
}

# bats test_tags=plain
@test "corals that live by the broadcast alone are named where their tank gets none" {
    has shop
    neap set tank S1 broadcast=no
    neap plan | grep "carnation, red, S1: no feed is known of, due every 1 d, and lives by it alone"
    [ "$(sql "SELECT reason FROM waiting WHERE due = 1")" = "its tank is set to get no broadcast, and it is fed by nothing else" ]
}

# bats test_tags=plain
@test "a house that broadcasts nothing starves who lives by it, and nobody who has the light" {
    has shop
    for rate in 0 ""; do # no rate, or one of nothing
        for food in 'amino-acid liquid' 'live phytoplankton'; do
            neap set food "$food" broadcast_units_per_100l=$rate
        done
        neap plan
        [ "$(sql "SELECT colony || ': ' || reason FROM waiting AS w JOIN round_in_force AS r ON r.number = w.round
            AND r.revision = w.revision WHERE due")" = "S1-09: no food of the house is broadcast, and it is fed by nothing else" ]
    done
}

# bats test_tags=plain
@test "a lot that is too large for its water is split, and the tally tells of it" {
    has shop
    neap add colony F3-99 tank=F3 kind="small-polyp stony" count=900 heads=1
    neap plan | grep "F3-99"
    [ "$(sql "SELECT reason FROM waiting WHERE colony = 'F3-99'")" = "alone more than its water's ceiling for the day bears: split the lot" ]
    run -0 neap split F3-99 890
    [[ $output == *"890 split off F3-99, as F3-99/2, in F3; 10 in F3-99"* ]]
    [ "$(sql "SELECT group_concat(colony || ' ' || change || ' ' || other, ', ') FROM tally WHERE reason = 'split'")" = \
        "F3-99 -890 F3-99/2, F3-99/2 0 F3-99" ]
    neap plan
    [ "$(sql "SELECT count(*) FROM line AS l WHERE colony = 'F3-99' AND revision = (SELECT max(revision) FROM round)")" = 1 ]
    neap undo --yes
    neap undo --yes
    [ "$(sql "SELECT count FROM colony WHERE code = 'F3-99'")" = 900 ]
}

# bats test_tags=plain
@test "corals cut from a lot are new ones, and they and the lot heal on hold" {
    has shop
    run -0 neap split S1-01 3 --cut --heal 7 --as S1-frags
    [[ $output == *"3 cut from S1-01, as S1-frags, in S1; 1 in S1-01"*"S1-frags and S1-01 on hold until 2026-12-04: healing after the cut"* ]]
    [ "$(sql "SELECT count || ' ' || heads || ' ' || hold_until FROM colony WHERE code = 'S1-frags'")" = "3 1 2026-12-04" ]
    [ "$(sql "SELECT count || ' ' || hold_until FROM colony WHERE code = 'S1-01'")" = "1 2026-12-04" ]
    [ "$(sql "SELECT change || ' ' || other FROM tally WHERE colony = 'S1-frags' AND reason = 'divided'")" = "3 S1-01" ]
    neap plan
    [ "$(sql "SELECT count(*) FROM line WHERE colony IN ('S1-01', 'S1-frags')")" = 0 ]
    refuses_and_keeps 1 "expected at most 5, or --cut" split F1-01 6
    refuses_and_keeps 1 "is a single coral" split S1-01 1
    refuses_and_keeps 1 'a colony "S1-frags" already' split F1-01 2 --as S1-frags
    refuses_and_keeps 2 "is no count" split F1-01 some
    refuses_and_keeps 1 "S1-1" split S1-1 2
}

# Tanks of one pump that stand apart: the sheet says where the switch is, and the clock has the way there.
# bats test_tags=plain
@test "a pump's flow is switched where its switch stands, and the way is walked" {
    has shop
    neap set tank F3 position_m=90
    neap plan
    neap sheet --no-pages >sheet
    grep -q "FLOW OFF.*; switch at F1; one pump" sheet
    minute() { sql "SELECT substr(c, 1, 2) * 60 + substr(c, 4, 2) FROM (SELECT $1 AS c FROM line WHERE tank = 'F3' AND action = '$2')"; }
    fed=$(minute "max(end_min)" target)
    off=$(minute "min(start_min)" flow-off)
    first=$(minute "min(start_min)" target)
    on=$(minute "max(start_min)" flow-on)
    [ $((first - off)) -ge 3 ] # a minute to switch, 89 m to walk
    [ $((on - fed)) -ge 5 ]
}

# bats test_tags=plain
@test "what was fed before the rounds that are read is known, of a portion and of a broadcast" {
    has round
    neap log --all
    for colony in D3-001 D1-012; do # a sun coral, and a leather that lives by the broadcast
        [ -n "$(sql "SELECT 1 FROM line WHERE colony = '$colony' OR (action = 'broadcast' AND tank = 'D1')")" ]
    done
    neap --on 2028-03-01 plan
    for colony in D3-001 D1-012; do
        run neap --on 2028-03-01 why $colony
        [[ $output == *"last fed "*"2026-11-27 (log)"* && $output == *" 460 d "* ]]
    done
}
