# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# The clock of hands: who mixes when, what is too old, what stood still too long, and what was changed by mistake.

lists() { sed -n '/^FEEDER 1: MY LIST/,$p' <<<"$output"; }

# bats test_tags=plain
@test "each pot is mixed by a feeder, before its first coral and fresh for its last" {
    has round
    run neap sheet --no-pages
    [ "$(lists | grep -cE 'mix +[0-9]+ mL, good until')" -eq "$(sql "SELECT count(*) FROM pot")" ]
    for pot in $(sql "SELECT pot FROM pot"); do
        read -r mixed until < <(lists | sed -nE "s/^([0-9:]{5}) +pot $pot( \(late\))?: mix .* good until ([0-9:]{5}).*/\1 \3/p")
        first=$(sql "SELECT min(start_min) FROM line WHERE pot = '$pot' AND action = 'target'")
        last=$(sql "SELECT max(end_min) FROM line WHERE pot = '$pot' AND action = 'target'")
        [[ $mixed < $first && ! $until < $last ]] || { echo "$pot: $mixed $first $last $until"; false; }
    done
    # no hands are in two places: a row of mixing never overlaps the feeder's own lines
    sql "SELECT DISTINCT feeder, start_min, end_min FROM line WHERE action <> 'flow-on'" >busy
    lists | awk '/^FEEDER/ { who = $2 + 0 } / mix +[0-9]+ mL/ { print who, $1 }' |
        while read -r who at; do
            end=$(date -u -d "$at today + 3 minutes" +%H:%M)
            awk -F'|' -v w="$who" -v a="$at" -v e="$end" '$1 == w && $2 < e && $3 > a { exit 1 }' busy || exit 1
        done
}

# bats test_tags=plain
@test "slurry past its life is thrown away by a line, and mixed anew in its share" {
    has demo
    neap set setting slurry_life_min=45
    neap plan
    run neap sheet --no-pages
    [[ $(lists) == *"OLD: throw away, mix "* ]]
    pot=$(lists | sed -nE 's/^[0-9:]{5} +pot ([A-Z])( \(late\))?: OLD: .*/\1/p' | head -1)
    made=$(sql "SELECT made_ml FROM pot WHERE pot = '$pot'")
    mixes=$(sed -nE "/^POT $pot /,/clean salt water/s/.*mixes ([0-9]+) mL, 0.*/\1/p" <<<"$output")
    [ "$(wc -l <<<"$mixes")" -ge 2 ]
    # together the pot, each rounded up to the jug's 5 mL
    awk -v made="$made" '{ sum += $1 } END { exit !(sum >= made && sum < made + 5 * NR) }' <<<"$mixes" || { echo "$mixes of $made"; false; }
}

# "pot feeder minute mL too" of each row of a list that mixes; too: "old" where the pot's page says that its last corals get it too old
mixes() {
    awk '/^FEEDER [0-9]/ { who = $2 + 0 } who && / pot [A-Z]+( \(late\))?: .*mix +[0-9]+ mL/ {
        match($0, / pot [A-Z]+/); pot = substr($0, RSTART + 5, RLENGTH - 5)
        match($0, /mix +[0-9]+ mL/); print pot, who, $1, substr($0, RSTART + 4, RLENGTH - 7) + 0 }' <<<"$1"
}

# bats test_tags=plain
@test "on a packed farm of 196 tanks each pot is mixed by free hands just before it is needed, and fresh for its last coral" {
    "$NEAP" --db from.neap --on 2026-11-27 start --demo --no-log
    "$NEAP" --db from.neap dump --into demo
    /usr/bin/python3 -B "$BATS_TEST_DIRNAME/../bench/farm.py" demo farm 14 137 4
    neap start
    neap load farm
    neap set setting slurry_life_min=60
    neap plan
    run neap sheet --no-pages
    [[ $output != *"too old for"* ]]
    mixes "$output" >mixes
    [ "$(wc -l <mixes)" -gt 40 ]
    sql "SELECT 'line', pot, feeder, start_min, end_min, (SELECT max(start_min) FROM line AS off
        WHERE off.feeder = line.feeder AND off.action = 'flow-off' AND off.start_min <= line.start_min), amount, action FROM line" >lines
    /usr/bin/python3 - <<'EOF'
def minute(text):
    return int(text[:2]) * 60 + int(text[3:5])
mixes = sorted((minute(at), int(who), pot, float(ml)) for pot, who, at, ml in (row.split() for row in open("mixes")))
lines = [row.rstrip("\n").split("|")[1:] for row in open("lines")]
for at, who, pot, ml in mixes: # hands that mix do nothing else
    busy = [l for l in lines if int(l[1]) == who and minute(l[2]) < at + 3 and minute(l[3]) > at]
    busy += [m for m in mixes if m[1] == who and m[:3] != (at, who, pot) and abs(m[0] - at) < 3]
    assert not busy, (at, who, pot, busy)
given, waits = {}, {}
for pot, who, start, end, off, amount, action in lines:
    if action != "target":
        continue
    ready = [m for m in mixes if m[2] == pot and m[0] + 3 <= minute(off)]
    assert ready, (pot, start, "not mixed yet")
    assert minute(end) <= ready[-1][0] + 60, (pot, start, end, ready[-1], "too old")
    given[ready[-1]] = given.get(ready[-1], 0) + float(amount)
    waits[ready[-1]] = min(waits.get(ready[-1], 999), minute(off) - ready[-1][0] - 3)
assert set(given) == set(mixes), ("mixed for nobody", set(mixes) - set(given))
for pot in {m[2] for m in mixes}:
    assert sum(ml for m, ml in given.items() if m[2] == pot) <= sum(m[3] for m in mixes if m[2] == pot), (pot, "too little")
assert sorted(waits.values())[len(waits) * 3 // 4] <= 5, sorted(waits.values()) # three of four are used within five minutes
EOF
}

# bats test_tags=plain
@test "where nobody's hands are free to mix in time, the pot says by how much it is too old, and for whom" {
    has demo
    neap set setting feeders=1 pot_mix_min=10 slurry_life_min=45
    neap plan
    run neap sheet --no-pages
    said=$(flat | grep -oE 'Mixed at [0-9:]{5}, [0-9]+ min too old for its last corals at [0-9:]{5}: nobody.s hands are free for 10 min later' | head -1)
    read -r mixed by last < <(sed -E 's/Mixed at ([0-9:]+), ([0-9]+) .* at ([0-9:]+): .*/\1 \2 \3/' <<<"$said")
    minute() { echo $((10#${1:0:2} * 60 + 10#${1:3:2})); }
    [ $(($(minute "$last") - $(minute "$mixed"))) -eq $((45 + by)) ]
    [ "$(sql "SELECT count(*) FROM line WHERE action = 'target' AND end_min = '$last'")" -gt 0 ]
    # with the minutes that it takes in a house of today there is time for all
    neap set setting pot_mix_min=3
    neap plan
    neap sheet | never grep "too old for"
}

# bats test_tags=plain
@test "kinds that are to be fed early in the round are" {
    has demo
    neap plan
    early=$(sql "SELECT min(start_min) FROM line JOIN colony ON code = colony WHERE kind = 'goniopora and alveopora'
        AND line.tank NOT LIKE 'Q%'")
    first=$(sql "SELECT min(start_min) FROM line WHERE action = 'target'")
    [ "$early" = "$first" ] || [ "$(sql "SELECT count(*) FROM line WHERE action = 'target' AND start_min < '$early'
        AND tank NOT IN (SELECT tank FROM colony WHERE kind = 'goniopora and alveopora')")" -eq 0 ]
}

# bats test_tags=plain
@test "tests that are due stand on the first page" {
    has round
    neap sheet | sed '/\f/q' | tr '\n' ' ' | grep "Tests due, before the first food goes in: quarantine, west\."
    neap test west no3=5 po4=0.05 quarantine no3=5 po4=0.05
    neap plan
    neap sheet | never grep "Tests due, "
}

# bats test_tags=plain
@test "a plan for a time gone by is asked about" {
    has demo
    refuses_and_keeps 1 "it is 09:30; expected --start HH:MM from now on" --on 2026-11-27T09:30 plan
    run neap --on 2026-11-27T09:30 plan --start 09:45
    [ "$status" -eq 0 ]
    run neap --on 2026-11-27T09:30 plan --yes
    [ "$status" -eq 0 ]
}

# bats test_tags=plain
@test "a flow that was off too long is told, with what to do, in the log and in the week" {
    has morning
    off=$(sql "SELECT min(number) FROM line WHERE tank = 'D1' AND action = 'flow-off'")
    on=$(sql "SELECT min(number) FROM line WHERE tank = 'D1' AND action = 'flow-on'")
    run neap log "$off=@08:15" "$on=@08:34"
    [[ $output != *"the flow was off"* ]]
    run neap log "$on=@09:04" --again
    [[ $(flat) == *"D1: the flow was off for 49 min, 20 at most. Look at corals and fish now"*"bring the flow back in steps"* ]]
    run neap log --show
    [[ $(flat) == *"! D1: the flow was off for 49 min, 20 at most."* ]]
    run neap trend
    [[ $(flat) == *"! D1, 2026-11-27: the flow was off for 49 min, 20 at most."* ]]
    run neap log "$on=n" --again
    [[ $(flat) == *"D1: the flow was turned off and, by the log, not on again. Go and look"* ]]
    neap sheet | sed -n '/^FLOWS TO TURN BACK ON/,/^$/p' >flows
    grep ' D1 .*STILL OFF$' flows
    [ "$(grep -c 'STILL OFF' flows)" -eq 1 ]
    neap trend --json | python3 -c "import json, sys
stop = json.load(sys.stdin)['life']['long_flow_stops'][0]; assert stop['tank'] == 'D1' and stop['off_for_min'] is None, stop"
    neap log "$off=n" --again # it never went off
    neap sheet | grep -c 'STILL OFF' | grep -qx 0
}

# bats test_tags=plain
@test "the week tells who went unfed, what was sold, died, held, treated and thrown away, once each" {
    has demo
    neap count N3-005 2 sold
    neap count N3-005 1 died
    neap hold colony N3-001 --reason bitten
    neap release colony N3-001
    neap hold tank W1 --reason crashed
    neap treat Q1 "iodine dip" --minutes 5
    neap stock --waste RP-113=2 --reason spilt
    run neap trend
    text=$(flat)
    for words in "Corals: 2 sold, 1 died." "N3-001 held: bitten." "N3-001 released." "W1 held: crashed." \
        "treated: all in Q1: iodine dip, 5 min." "thrown away: 2 g of rich powder, lot RP-113: spilt." \
        "E1-002 in E1, goniopora and alveopora: not fed for 9 days, 2 wanted; held:"; do
        [ "$(grep -oF "$words" <<<"$text" | wc -l)" -eq 1 ] || { echo "$words"; false; }
    done
    # what stands in short is not said again
    sentences() { sed -nE 's/^ *([-!?>]+)? +//; p' | tr '\n' ' ' | sed 's/\. /.\n/g' | grep -E '.{25}' | sort -u; }
    sed -n '/^IN SHORT/,/^SYSTEM/p' <<<"$output" | sentences >short
    sed -n '/^SYSTEM/,$p' <<<"$output" | sentences | comm -12 short - >twice
    never grep . twice
    neap undo --yes
    neap trend | never grep "thrown away"
    # a week later it is another week
    "$NEAP" --on 2026-12-10 trend | never grep "Corals: 2 sold"
}

@test "holds that begin with a cut are news of the week" {
    has demo
    neap split N3-008 2 --cut --heal 7 --as N3-frags
    run neap trend
    [[ $(flat) == *"N3-008 held: healing after the cut."* ]]
    [[ $(flat) == *"N3-frags held: healing after the cut."* ]]
    neap undo --yes
    neap trend | never grep "healing after the cut"
}

# bats test_tags=plain
@test "redo brings again what undo took back, until something else is entered" {
    has demo
    refuses_and_keeps 1 "there is no undo to take back" redo --yes
    neap count N3-005 2 sold
    neap count N3-005 1 died
    neap dump >both.json
    neap undo --yes
    neap undo --yes
    neap redo --yes
    [ "$(sql "SELECT count FROM colony WHERE code = 'N3-005'")" -eq 10 ]
    neap redo --yes
    same_dump both.json
    refuses_and_keeps 1 "there is no undo to take back" redo --yes
    # it can be undone again, and an entry in between ends it
    neap undo --yes
    neap redo --dry-run | grep "count N3-005 1 died"
    refuses_and_keeps 2 "nobody can be asked here" redo
    neap count N3-005 3 found
    refuses_and_keeps 1 "something was entered since" redo --yes
    neap undo --yes
    neap undo --yes
    neap history | grep "sold (taken back by"
    neap audit | grep sound
}

@test "a begun round leaves out what --skip names, and its list says so" {
    has morning
    neap log today 15
    run neap plan --from-now --now 08:20 --skip D1
    [ "$status" -eq 0 ]
    [[ $output == *"14 lines not given any more"* ]]
    run neap sheet --tank D1 --no-pages
    [ "$(grep -cE ' none +_* ?____$' <<<"$output")" -eq 14 ]
    refuses_and_keeps 1 'no tank "D9"' plan --from-now --now 08:20 --skip D9
    refuses_and_keeps 2 "expected no --first beside it" plan --from-now --now 08:20 --first D2
}

# bats test_tags=plain
@test "what was held since stands as skip in the lists, too" {
    has morning
    neap hold tank D1 --reason crashed
    run neap sheet --tank D1 --no-pages
    [ "$(grep -cE ' skip +_* ?____$' <<<"$output")" -eq 14 ]
}

# bats test_tags=plain
@test "corals are said to be due when there is no food for them" {
    has demo
    sql "UPDATE lot SET retired = 1"
    neap plan
    run neap sheet --no-pages
    [[ $(flat) == *"corals are due and get nothing: no food that they take can be used today"* ]]
    [[ $output != *"No coral is due"* ]]
}

# bats test_tags=plain
@test "no message offers undo where something else was wanted" {
    has morning
    neap log today 15
    run neap plan --start 10:00
    [ "$status" -eq 2 ]
    [[ $output == *"plan --from-now goes on from there"* && $output != *undo* ]]
    run neap log 15 --revision 7
    [ "$status" -eq 1 ]
    [[ $output != *undo* ]]
}

# bats test_tags=plain
@test "a pot that is not mixed yet is mixed for those who are left, from a lot that may be used" {
    has morning
    neap log today 38 # E1: the round is begun
    pot=$(sql "SELECT pot FROM line WHERE tank = 'N2' AND action = 'target' LIMIT 1")
    made=$(sql "SELECT made_ml FROM pot WHERE pot = '$pot'")
    neap hold tank N2 --reason crashed
    lot=$(sql "SELECT lot FROM pot_food WHERE food = 'rich powder' AND pot = '$pot' LIMIT 1")
    neap retire lot "$lot"
    neap plan --from-now --now 08:20
    run neap sheet --no-pages
    page=$(sed -n "/^POT $pot /,/^POT [^$pot]/p" <<<"$output")
    other=$(sql "SELECT lot FROM pot_food WHERE food = 'rich powder' AND pot = '$pot' AND revision = 2")
    [[ -n $other && $page == *"$other"* && $page != *"$lot"* && $output != *"Do not use it"* ]]
    mixed=$(sed -nE 's/.*mixes ([0-9]+) mL, 0\.[0-9]+ of every amount.*/\1/p' <<<"$page")
    awk -v mixed="$mixed" -v made="$made" 'BEGIN { exit !(mixed + 0 < made + 0) }'
    neap log --all --revision 2
    [ "$(sql "SELECT count(*) FROM lot_use WHERE lot = '$lot'")" -eq 0 ]
    [ "$(sql "SELECT opened FROM lot WHERE code = '$other'")" = 2026-11-27 ]
}

# bats test_tags=plain
@test "what was given keeps its lot when that is retired, and what is to come takes another" {
    has demo
    neap plan
    neap log 1 1
    [ "$(sql "SELECT food, lot FROM line WHERE number = 1")" = "amino-acid liquid|AA-31" ]
    neap retire lot AA-31
    neap plan --from-now --now 08:20
    [ "$(sql "SELECT group_concat(number) FROM line WHERE revision = 2 AND lot = 'AA-31'")" = 1 ]
    [ "$(sql "SELECT count(*) > 1 FROM line WHERE revision = 2 AND lot = 'AA-34'")" = 1 ]
}
