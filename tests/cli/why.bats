# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# bats test_tags=plain
@test "every line, pot, system, tank and waiting colony of the demo round is explained to the sheet's number" {
    has round
    local lines pots
    lines=$(sql "SELECT count(*) FROM line")
    pots=$(sql "SELECT pot FROM pot ORDER BY pot")
    neap --json why $(seq "$lines") $pots >lines.json
    jq -r '.why[] | select(.unit != "clock") | "\(.subject) \((.answer * 1e6 | round) / 1e6)"' lines.json >explained
    sql "SELECT 'line ' || number || ' ' || printf('%.6f', amount) FROM line WHERE amount IS NOT NULL ORDER BY number;
        SELECT 'pot ' || pot || ' ' || printf('%.6f', made_ml) FROM pot ORDER BY pot" |
        sed 's/0*$//; s/\.$//' >sheet
    [ "$(wc -l <explained)" -gt 100 ]
    diff explained sheet
    jq -e '[.why[] | select(.unit == "clock") | .steps[-1].rows[-1].clock | test("^[0-9][0-9]:[0-9][0-9]")] | all and length > 20' lines.json
    sql "SELECT name FROM system UNION ALL SELECT name FROM tank" >places
    neap --json why $(cat places) | jq -e '[.why[] | (.answer >= 0) and (.steps | length > 0)] | all'
    sql "SELECT colony FROM waiting ORDER BY colony" >waiting
    neap --json why $(cat waiting) | jq -r '.why[].says' >reasons
    sql "SELECT reason FROM waiting ORDER BY colony" | diff reasons -
}

# bats test_tags=plain
@test "every number that the sheet and the stock list print is answered, kind by kind" {
    has round
    /usr/bin/python3 -B "$BATS_TEST_DIRNAME/why_sheet.py"
}

# bats test_tags=plain
@test "stock is explained as of now, with no round planned and beside what is" {
    has demo
    neap --json why stock "rich powder" >now.json
    jq -e '.why[0].subject == "stock rich powder" and (has("round") | not)' now.json
    neap stock --waste RP-113=1 --reason "wet"
    [ "$(neap --json why stock "RICH powder" | jq '.why[0].answer * 1000 | round')" = "$(jq '(.why[0].answer - 1) * 1000 | round' now.json)" ]
    neap plan
    neap --json why totals stock copepods head | jq -e '[.why[].subject] == ["round totals", "stock copepods", "round head"]'
    refuses 1 'there is no food "mud"' why stock mud
    refuses 1 "is no line, pot, system, tank, colony or switch" why switch sw99
}

# bats test_tags=plain
@test "a logged round explains itself as it was planned" {
    has round
    neap --json why 1 5 A south >before.json
    printf 'round,line,sheet_revision,outcome,amount\n1,1,1,given,30\n1,5,1,given,2\n' >given.csv
    neap load given.csv
    neap --json why 1 5 A south >after.json
    diff <(jq .why before.json) <(jq .why after.json)
    [ "$(jq .entries_since after.json)" -eq 1 ]
}

# bats test_tags=plain
@test "what a plan made now would find otherwise is named, number by number" {
    has round
    colony=$(sql "SELECT colony FROM line JOIN colony ON code = colony JOIN kind ON kind.name = kind
        WHERE action = 'target' AND feeding = 'target' ORDER BY number LIMIT 1")
    kind=$(sql "SELECT kind FROM colony WHERE code = '$colony'")
    portion=$(sql "SELECT portion_ml FROM kind WHERE name = '$kind'")
    neap set kind "$kind" portion_ml=0.17
    run neap why "$colony"
    [ "$status" -eq 0 ]
    flat=$(echo "$output" | tr -s '\n ' ' ')
    [[ $flat == *"1 entry was made since the round was kept"* ]]
    [[ $flat == *"portion per mouth: was $portion mL, is 0.17 mL now."* ]]
}

# bats test_tags=plain
@test "an unknown name, a line that is not there and a day without a round are told" {
    has demo
    refuses 1 "no round is planned for 2026-11-27" why 5
    neap plan
    refuses 1 'did you mean "south"' why sotuh
    refuses 1 "its lines are 1 to" why 4711
    refuses 2 "" why
}

@test "a name is taken in the order line, pot, system, tank, colony, and its kind may stand before it" {
    has round
    neap --json why tank D1 | jq -e '.why[0].subject == "tank D1"'
    neap --json why Tank d1 POT a Round HEAD | jq -e '[.why[].subject] == ["tank D1", "pot A", "round head"]'
    neap --json why D1 colony D1-001 | jq -e '[.why[].subject] == ["tank D1", "colony D1-001"]'
}

@test "no line of a working is wider than the terminal" {
    has round
    neap why 1 5 A B C D E F G south north D1 Q2 Q1-001 head totals sw1 stock copepods >working
    [ "$(awk '{ if (length($0) > w) w = length($0) } END { print w }' working)" -le 80 ]
}

# bats test_tags=plain
@test "the written programme has the solver's optimum" {
    command -v glpsol >/dev/null || skip "glpsol is not here"
    has demo
    neap plan --lp day.lp --dry-run
    glpsol --lp day.lp >log
    grep -Eq "OPTIMAL (LP )?SOLUTION FOUND" log
    refuses 1 "no/such" plan --lp no/such/day.lp
}

# bats test_tags=plain
@test "a pot that came out larger is given out larger, and what was logged of it counts" {
    has round
    made=$(sql "SELECT made_ml FROM pot WHERE pot = 'A'")
    neap sheet --made "A=$made" >same
    [ "$(grep -c ' mL ________' same)" -eq "$(sql "SELECT count(*) FROM line WHERE pot = 'A'")" ]
    never grep -q "less food" same
    neap sheet --made "A=$(awk "BEGIN { print 1.5 * $made }")mL" >larger
    awk '/________$/ { if ($(NF - 2) < 1.3 * $(NF - 4) || $(NF - 2) > 1.5 * $(NF - 4) + 0.005) { print; bad = 1 } } END { exit bad }' larger
    line=$(sql "SELECT min(number) FROM line WHERE pot = 'A'")
    printf 'round,line,sheet_revision,outcome,amount\n1,%d,1,given,2\n' "$line" >given.csv
    neap load given.csv
    neap sheet --made "A=$made" >rest
    never grep -q "^ *$line " rest
    [ "$(grep -c ' mL ________' rest)" -eq "$(sql "SELECT count(*) - 1 FROM line WHERE pot = 'A'")" ]
    refuses 1 "expected one of A, B" sheet --made Z=10
    refuses 2 "not a quantity" sheet --made A=lots
    refuses 2 "expected NAME=VALUE" sheet --made A
}

@test "the plan stands beside the house blend and the round before" {
    has demo
    "$NEAP" --on 2026-11-26 plan
    neap plan --compare >text
    grep -q "HOUSE BLEND" text
    grep -q "SINCE ROUND 1, 2026-11-26" text
    [ "$(awk '{ if (length($0) > w) w = length($0) } END { print w }' text)" -le 80 ]
    neap --json plan --compare >compare.json
    jq -e '.round_before == 1 and .house_cents > .plan_cents' compare.json
    jq -e '.foods | length > 3 and all(.plan_units > 0 or .house_units > 0 or (.before_units // 0) > 0)' compare.json
    # north is told to be fed half, and foods poorer in nitrate: about half of the house's (fish food, alike in both, with it)
    jq -e '.systems[] | select(.system == "north") | .no3.plan_mg / .no3.house_mg | . > 0.4 and . < 0.6' compare.json
}

# bats test_tags=plain
@test "a water whose corals wait for good says so on the sheet, in why and in the report, with what would help" {
    has demo
    neap set food "rich powder" ceiling_units_per_100l=0.003
    neap plan
    neap sheet --no-pages | tr -s '\n ' ' ' |
        grep "! Over today's ceiling: small-polyp stony in south, due every 3 d, can be fed about every 7 d, even with a round every day"
    neap why system south | grep "What would help: 57 % of its corals elsewhere"
    neap why system display | grep -A60 "How often" | grep "each waits, x its interval *1$"
    neap trend --system south | tr -s '\n ' ' ' | grep "! Over the day's ceiling: small-polyp stony in south"
    neap --json trend --system south | jq -e '.systems[0].overfull[0] | .system == "south" and .can_be_fed_every_d > 6'
    neap --json trend --system display | jq -e '.systems[0].overfull == []'
}

# Before anybody goes without, the broadcast yields and then portions get smaller; each is said, and each number can be asked for.
# bats test_tags=plain
@test "a short ceiling takes from the broadcast, then from portions, and says so" {
    has demo
    neap set food "rich powder" ceiling_units_per_100l=0.02
    neap plan
    neap sheet --no-pages >sheet
    tr -s '\n ' ' ' <sheet | grep -E "south: broadcast at 25 %, portions at [5-9][05] %; its ceiling for the day allows no more"
    [ "$(sql "SELECT count(*) FROM waiting WHERE reason LIKE '%ceiling%'")" = 0 ]
    line=$(sql "SELECT number FROM line WHERE colony = 'S1-005'")
    share=$(tr -s '\n ' ' ' <sheet | sed -E 's/.*south: broadcast at 25 %, portions at ([0-9]+) %.*/\1/')
    [ "$(sql "SELECT abs(amount - 10 * 0.5 * $share / 100.0) < 1e-9 FROM line WHERE number = $line")" = 1 ]
    neap why "$line" | grep -E "of the portion, today +0\.[5-9]"
    neap why system south | grep -A6 "shared out" | grep -E "broadcast .* cut to 25 %"
}

# bats test_tags=plain
@test "a tank set to get no broadcast gets none, and its corals are fed all the same" {
    has demo
    neap set tank D1 broadcast=no
    neap plan
    [ "$(sql "SELECT count(*) FROM line WHERE tank = 'D1' AND action = 'broadcast'")" = 0 ]
    [ "$(sql "SELECT count(*) FROM line WHERE tank = 'D1' AND action = 'target'")" -gt 0 ]
    [ "$(sql "SELECT count(*) FROM line WHERE tank = 'D2' AND action = 'broadcast'")" -gt 0 ]
}

# bats test_tags=plain
@test "a flow on is switched at the minute that the sheet, its clock and why name alike" {
    has demo
    neap plan
    local line on runs
    line=$(sql "SELECT number FROM line WHERE action = 'flow-on' AND tank = 'N1' ORDER BY number LIMIT 1")
    on=$(sql "SELECT start_min FROM line WHERE number = $line")
    runs=$(sql "SELECT end_min FROM line WHERE number = $line")
    neap sheet --no-pages >sheet
    grep "^$on *$line N1: FLOW ON, look; by " sheet
    grep "^$on .* N1 .*\[ \] __:__$" sheet
    neap why "$line" | grep "^$on: switch it on then; the water runs at $runs$"
}

# bats test_tags=plain
@test "a tank may be called what an option is called: what was asked of a plan is kept as rows" {
    has demo
    neap add tank "X1 --feeders 1" system=display shape=stated net_volume_l=100 >/dev/null
    neap add tank "X2 --colour red" system=display shape=stated net_volume_l=100 >/dev/null
    neap plan --feeders 2 --skip "X1 --feeders 1" --skip "x2 --COLOUR red" --first D2 >plan.txt
    [ "$(neap list asked --json | jq -c '[.asked[] | [.what, .tank]]')" = \
        '[["feeders",null],["effort",null],["first","D2"],["skip","X1 --feeders 1"],["skip","X2 --colour red"]]' ]
    [ "$(neap list round --json | jq '.round[0].feeders')" = 2 ]
    neap why system display | grep -q "Net effect\|mg/L"
    neap plan --feeders 2 --skip "X1 --feeders 1" --skip "X2 --colour red" --first D2 | grep "as kept before"
    neap undo --yes >/dev/null
    [ "$(neap list asked --json | jq '.asked | length')" = 0 ]
}

# bats test_tags=plain
@test "the working of a water says which tests are fitted where methods differ" {
    has demo
    cp "$NEAP_DB" demo.neap
    tested() { # MOMENT…: nitrate of north by a strip, at each
        local at
        cp demo.neap "$NEAP_DB"
        for at; do neap test north no3=9.1 --method strip --at "$at" 2>/dev/null; done
        neap plan
        neap why system north >why
    }
    tested 2026-11-01T09:00 2026-11-08T09:00
    grep "cross-checks in it  *2 not fitted: another scale" why
    # six pairs within half a year, four of them within the window
    tested 2026-10-15T09:00 2026-10-25T09:00 2026-11-03T09:00 2026-11-10T09:00 2026-11-16T09:00 2026-11-20T09:00
    grep "tests by another method  *4 fitted, less what sets it apart" why
    grep "it reads more by  *-[0-9.]* mg/L median of 6 pairs" why
    tested 2026-11-26T20:00 2026-11-27T06:00 2026-11-27T07:00
    grep "method changed  *2026-11-26 (from comparator" why
}

# bats test_tags=plain
@test "the working of a pot says what of a premix goes into it, and of a clock set anew that no bound is known" {
    has demo
    neap set setting scale_step_g=0.5
    neap plan
    for pot in A B C D E F G; do
        neap why pot "$pot" >why
        ! grep -q "premix: put in" why || break
    done
    grep "premix of the round: weigh" why
    grep "premix: make up to .*mL" why
    put=$(sed -n 's/.*premix: put in *\([0-9.]*\) mL.*/\1/p' why | head -1)
    neap sheet | grep "^\[ \] premix of .* $put\(\.0\)* mL"
    neap log 1=@08:01
    neap plan --from-now --now 08:20
    neap why head | grep "^= bound  *not known: the clock was set"
}

# bats test_tags=plain
@test "the working of a food on the shelf divides what was fed by its days" {
    neap start --demo
    neap plan
    neap why stock "rich powder" >why
    fed=$(sed -n 's/.*fed, with losses of pots *\([0-9.]*\) g.*/\1/p' why)
    days=$(sed -n 's/^  days  *\([0-9]*\) d .*/\1/p' why)
    a_day=$(sed -n 's/^= a day *\([0-9.]*\) g\/d.*/\1/p' why)
    awk "BEGIN { exit !($days == 28 && $fed > 1 && $fed / $days / $a_day > 0.999 && $fed / $days / $a_day < 1.001) }"
    grep "^  goes out of date unused  *[0-9.]* g" why
    grep "^= days  *[0-9]* d" why
}
