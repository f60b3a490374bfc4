#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# After the round: what was given, by line, and what it moves.
load helper

# The file is sound.
whole() { [ "$(sql "PRAGMA integrity_check; PRAGMA foreign_key_check")" = ok ]; }

# says WORDS ARGUMENT…: neap succeeds and what it prints has the words.
says() { refuses 0 "$@"; }

# fails STATUS WORDS ARGUMENT…, and the log is as it was.
fails() {
    local before
    before=$(logged)
    refuses "$@" || return 1
    [ "$before" = "$(logged)" ]
}
logged() { sql 'SELECT count(*), total(version) FROM given; SELECT count(*) FROM mixed; SELECT count(*) FROM extra'; }

# bats test_tags=plain
@test "--all logs every line as planned, but what is named" {
    has morning
    says "logged 137 lines: 130 as planned, 1 part given, 2 late, 1 refused, 3 not given" \
        log 1 --all 7=r:0 12=p0.5:2 20-22=n 23=l@08:22 24=l
    [ "$(sql "SELECT outcome, amount, response FROM live_given WHERE line IN (7, 12)")" = "refused|2.4|0
part|0.5|2" ]
}

# bats test_tags=plain
@test "a blank line is not given: without --all only what is named is logged, and the rest is named" {
    has morning
    says "15 of 137 lines are accounted for; not yet: D1 1-13; " log 1 14-28
    [[ $output == *"-137"$'\n'"switches not accounted for yet: sw1-9" ]]
    [ "$(sql "SELECT count(*) FROM live_given")" = 15 ]
}

# bats test_tags=plain
@test "a tank's name logs what is open there, and leaves the rest" {
    has morning
    line=$(sql "SELECT min(number) FROM line WHERE tank = 'D2' AND action = 'target'")
    open=$(sql "SELECT count(*) - 1 FROM line WHERE tank = 'D2'")
    neap log 1 "$line=r" >/dev/null
    says "logged $open lines: $open as planned" log 1 D2
    [ "$(sql "SELECT outcome FROM live_given WHERE line = $line")" = refused ]
    [ "$(sql "SELECT count(*) FROM live_given")" = $((open + 1)) ]
}

# bats test_tags=plain
@test "a line logged already is told, and replaced only by --again, which shows what it replaces" {
    has morning
    neap log 1 6=p0.2:2 >/dev/null
    fails 1 "line 6 is logged already: part given, 0.2 mL, 2 half; --again replaces that" log 1 6=r
    says "0 lines; 1 as logged before" log 1 6=p0.2:2
    says "line 6: was part given, 0.2 mL, 2 half; now refused, 0 nothing taken" log 1 6=r --again
    [ "$(sql "SELECT version, outcome FROM given WHERE line = 6")" = "1|part
2|refused" ]
    [ "$(sql "SELECT count(*) FROM entry WHERE command LIKE '% log %'")" = 2 ]
}

# bats test_tags=plain
@test "one wrong word and nothing is stored" {
    has morning
    fails 1 "line 3: only what mouths are fed is scored" log 1 1 2 3=:4
    fails 1 "round 1 has no line 138; expected 1 to 137" log 1 137-138
    fails 2 "line 7 is named twice" log 1 5-9 7=r
    fails 2 '"9=q" is not understood' log 1 9=q
    fails 2 '"X1" is no line, tank or colony of round 1' log 1 X1
    fails 1 "there is no round 2" log 2 --all
    fails 2 "nothing to log" log 1
}

# bats test_tags=plain
@test "--dry-run counts and keeps nothing" {
    has morning
    says "(dry run: nothing stored)" log 1 --all --dry-run
    [ "$(sql "SELECT count(*) FROM given")" = 0 ]
}

# bats test_tags=plain
@test "an outdated sheet is refused, and a round planned twice wants its revision" {
    has morning
    neap plan --feeders 1 >/dev/null
    fails 2 "round 1 was planned 2 times; expected --revision 2" log 1 --all
    fails 1 "the sheet in hand is revision 1 of round 1, but revision 2 is in force" log 1 --revision 1 --all
    neap log 1 --revision 2 1-3 >/dev/null
    [ "$(sql "SELECT DISTINCT sheet_revision FROM given")" = 2 ]
    run neap plan --feeders 2
    [ "$status" -eq 2 ]
    [[ $output == *"its plan stands"* ]]
}

# What was mixed is gone from the shelf and what was given is in the water, whatever of the round is still open.
# bats test_tags=plain
@test "a plan stands as soon as anything of it is logged, whatever it is" {
    while read -r words; do
        has morning
        xargs "$NEAP" --on 2026-11-27 log 1 <<<"$words" >/dev/null
        refuses_and_keeps 2 "round 1 has 1 entry logged, so its plan stands" plan --feeders 1
    done <<'WORDS'
1
--made A=27mL
--weighed "A:rich powder=0.38g"
--extra "D1:live phytoplankton=20mL"
WORDS
}

@test "planned, mixed, given and refused are four numbers" {
    has morning
    m=$(sql "SELECT CAST(made_ml + 10 AS INTEGER) FROM pot WHERE pot = 'A'")
    neap log 1 --all --more 5=r --made "A=${m}mL" --left A=15 --weighed "A:rich powder=0.5g" >/dev/null
    [ "$(sql "SELECT made_ml, left_ml FROM live_mixed")" = "$m.0|15.0" ]
    mixed=$(sql "SELECT printf('%.1f', $m + sum(made_ml)) FROM pot WHERE pot <> 'A'")
    says "272.3 mL planned, $mixed mL mixed, 270.3 mL given, 2.0 mL refused" log 1 --show
    # what the scale said left the lot, whatever the plan was
    [ "$(sql "SELECT round(in_pot_units, 6), round(drawn_units, 6) FROM pot_content WHERE pot = 'A' AND food = 'rich powder'")" = "0.5|0.5" ]
    fails 1 "pot A is logged already: $m mL mixed; --again replaces that" log 1 --made "A=$((m + 1))"
    fails 1 "$((m + 5)) mL left over of $m mL mixed" log 1 --left "A=$((m + 5))" --again
    fails 1 'round 1 has no pot "Z"; expected one of A, B' log 1 --made Z=10
    fails 1 'pot A has no "sand" in it' log 1 --weighed "A:sand=0.1"
}

# bats test_tags=plain
@test "what the scale said rescales its pot" {
    has morning
    neap log 1 --weighed "A:rich powder=1.7g" >/dev/null
    neap sheet --made A=32 >made
    grep "The ceilings hold with what is still to give" made
    # four times the powder, so each coral gets a third of the mL
    awk '/D2-001/ { planned = $(NF-4); now = $(NF-2); exit !(now < planned / 2 && now > planned / 4) }' made
}

@test "an amount that takes a water past its ceilings is said at once, and on the sheet of a pot" {
    has morning
    neap log 1 --extra "D1: rich powder = 20 g" >told
    grep "display has got [1-9][0-9][0-9] % of its ceilings for the day: feed nothing" told
    neap sheet --made A=36 >made
    grep "display has got [1-9][0-9][0-9] % of its ceilings" made
    never grep -q "ceilings hold" made
}

# bats test_tags=plain
@test "nothing comes out of a pot that was not mixed, nor more than was in it" {
    has morning
    neap log 1 --all >/dev/null
    fails 1 "pot D was not mixed, yet 21.8 mL of it are logged as given" log 1 --made D=0 --again
    [[ $output == *"=n"* ]]
    fails 1 "21.8 mL given of 20 mL mixed" log 1 --made D=20 --again
    [ "$(sql "SELECT count(*) FROM live_mixed")" = 0 ]
    line=$(sql "SELECT number FROM line WHERE pot = 'A' AND action = 'target' ORDER BY amount DESC LIMIT 1")
    amount=$(sql "SELECT 2.9 * amount FROM line WHERE number = $line AND round = 1")
    neap log 1 --made A=27 >/dev/null
    fails 1 "mL given of 27 mL mixed; expected no more" log 1 "$line=$amount" --again --more
}

# bats test_tags=plain
@test "a larger pot draws more from its lots, a pot not mixed nothing" {
    has morning
    planned=$(sql "SELECT sum(drawn_units) FROM pot_content WHERE pot = 'B'")
    neap log 1 --made "B=$(sql "SELECT 2 * made_ml FROM pot WHERE pot = 'B'")" --made C=0 >/dev/null
    [ "$(sql "SELECT sum(drawn_units) FROM pot_content WHERE pot = 'B'")" = "$(sql "SELECT 2 * $planned")" ]
    [ "$(sql "SELECT sum(drawn_units) FROM pot_content WHERE pot = 'C'")" = 0.0 ]
}

# bats test_tags=plain
@test "what was given beside the plan comes from a lot and counts as fed" {
    has morning
    neap log 1 --all >/dev/null
    before=$(sql "SELECT sum(units) FROM fed WHERE food = 'live phytoplankton' AND system = 'display'")
    says "extra: D1, live phytoplankton 20 mL from LP-1117" log 1 --extra "D1: live phytoplankton = 20 mL"
    [ "$(sql "SELECT sum(units) FROM fed WHERE food = 'live phytoplankton' AND system = 'display'")" = "$(sql "SELECT $before + 20")" ]
    fails 1 "--again, if it was given twice" log 1 --extra "D1:live phytoplankton=20mL"
    fails 1 'did you mean "live phytoplankton"?' log 1 --extra "D1:live phytoplancton=20mL"
    fails 2 "expected TANK:FOOD=AMOUNT" log 1 --extra "live phytoplankton=20mL"
    fails 2 "expected TANK:FOOD=AMOUNT" log 1 --extra "D99:live phytoplankton=20mL"
}

# bats test_tags=plain
@test "14=- takes back: the line is open again" {
    has morning
    neap log 1 5=r >/dev/null
    says "line 5: was refused, 0 nothing taken; now not logged" log 1 5=-
    says "0 of 137 lines are accounted for" log 1 --all --dry-run 5=n || says "dry run: nothing stored" log 1 --all --dry-run
    [ "$(sql "SELECT count(*) FROM live_given")" = 0 ]
    fails 1 "nothing was logged of it" log 1 5=-
    neap log 1 5=:3 >/dev/null
    [ "$(sql "SELECT response FROM live_given")" = 3 ]
}

# bats test_tags=plain
@test "what is logged moves the next plan: who was fed is not due, who refused is, stock falls" {
    has morning
    neap log 1 --all 7=r >/dev/null
    neap --on 2026-11-28 plan >/dev/null
    [ "$(sql "SELECT count(*) FROM line a JOIN line b ON a.colony = b.colony JOIN colony ON colony.code = a.colony
              JOIN kind ON kind.name = colony.kind WHERE a.round = 1 AND b.round = 2 AND kind.interval_d > 1
              AND a.number <> 7 AND a.action = 'target'")" = 0 ]
    [ "$(sql "SELECT count(*) FROM line WHERE round = 2 AND colony = (SELECT colony FROM line WHERE round = 1 AND number = 7)")" = 1 ]
    [[ $(neap --on 2026-11-28 sheet --no-pages) == *"refused last time"* ]]
    [ "$(neap stock --json | jq '.foods[] | select(.food == "whole mysid") | .usable_units')" = \
        "$(sql "SELECT amount_units - (SELECT sum(amount) FROM line WHERE food = 'whole mysid' AND round = 1) FROM lot WHERE code = 'WM-41'")" ]
}

# bats test_tags=plain
@test "a colony not given stays due, and a food not given stays in stock" {
    has morning
    neap log 1 --all 5-13=n 1-2=n >/dev/null
    neap --on 2026-11-28 plan >/dev/null
    [ "$(sql "SELECT count(*) FROM line WHERE round = 2 AND colony IN (SELECT colony FROM line WHERE round = 1 AND number BETWEEN 5 AND 13)")" -ge 9 ]
}

# bats test_tags=plain
@test "two refusals shorten the portion, and the next sheet says to look" {
    has morning
    neap log 1 --all "$(sql "SELECT number FROM line WHERE colony = 'N3-001'")=r" >/dev/null
    neap --on 2026-11-28 plan >/dev/null
    line=$(sql "SELECT number FROM line WHERE round = 2 AND colony = 'N3-001'")
    full=$(sql "SELECT amount FROM line WHERE round = 2 AND colony = 'N3-001'")
    neap --on 2026-11-28 log 2 --all "$line=r" >/dev/null
    neap --on 2026-11-29 plan >/dev/null
    [ "$(sql "SELECT round(amount, 6) FROM line WHERE round = 3 AND colony = 'N3-001'")" = "$(sql "SELECT round(0.75 * $full, 6)")" ]
    run neap --on 2026-11-29 sheet --no-pages
    [[ $output == *"Look closely at N3-001 in N3"* ]]
    [[ $(flat) == *"0.75 of the portion"* ]]
}

@test "a file logs a round, all or nothing, and the same file changes nothing" {
    has morning
    cd "$(dirname "$NEAP_DB")"
    printf 'round,line,sheet_revision,outcome,amount,response\n1,5,1,refused,,0\n1,6,1,part,0.2,2\n1,4,1,given,,\n' >given.csv
    says "logged 3 lines: 1 as planned, 1 part given, 1 refused" log 1 --from given.csv
    says "logged 0 lines; 3 as logged before" log 1 --from given.csv
    printf 'round,line,sheet_revision,outcome\n1,7,1,given\n1,999,1,given\n2,8,1,given\n1,9,2,given\n1,5,1,given\n' >bad.csv
    fails 1 "4 faults in 5 rows; nothing was stored" log 1 --from bad.csv
    [[ $output == *"bad.csv:3"*"has no line 999"* ]]
    [[ $output == *"bad.csv:4:1: round is 2; expected 1"* ]]
    [[ $output == *"bad.csv:5:5: sheet_revision is 2; expected 1"* ]]
    [[ $output == *"bad.csv:6"*"line 5 is logged already"* ]]
}

# bats test_tags=plain
@test "eight people at eight terminals: nothing lost, nothing doubled, one of them wins a line they all claim" {
    has morning
    dir=$(dirname "$NEAP_DB")
    for p in 0 1 2 3 4 5 6 7; do
        (
            for i in 0 4 8 12; do # four entries of four lines, and one of one: 17 lines each
                first=$((p * 17 + 1 + i))
                neap log 1 "$first-$((first + 3))" >/dev/null 2>>"$dir/err.$p" || echo "$first" >>"$dir/failed"
            done
            neap log 1 $((p * 17 + 17)) >/dev/null 2>>"$dir/err.$p" || echo "$p: the last" >>"$dir/failed"
            neap log 1 "137=@10:4$p" >/dev/null 2>"$dir/claim.$p" && echo "$p" >>"$dir/won"
        ) &
    done
    wait
    [ ! -e "$dir/failed" ] || { cat "$dir"/failed "$dir"/err.*; false; }
    [ "$(sql "SELECT count(*), count(DISTINCT line), min(version), max(version) FROM given")" = "137|137|1|1" ]
    [ "$(sql "SELECT count(*) FROM entry WHERE command LIKE '% log %'")" = 41 ]
    [ "$(wc -l <"$dir/won")" -eq 1 ]
    [ "$(grep -l "line 137 is logged already" "$dir"/claim.* | wc -l)" -eq 7 ]
    [ "$(sql "SELECT round(total(amount), 6) FROM live_given")" = "$(sql "SELECT round(total(amount), 6) FROM line")" ]
    whole
}

# bats test_tags=plain
@test "killed at any moment: an entry is whole or was never made" {
    has morning
    for wait in 0.001 0.005 0.01 0.015 0.02 0.025 0.03 0.04 0.05 0.07; do
        "$NEAP" --on 2026-11-27 log 1 1-14 --again >/dev/null 2>&1 &
        victim=$!
        sleep "$wait"
        kill -9 "$victim" 2>/dev/null || true
        wait "$victim" 2>/dev/null || true
        n=$(sql "SELECT count(*) FROM live_given")
        [ "$n" -eq 0 ] || [ "$n" -eq 14 ]
        whole
        [ "$n" -eq 0 ] || neap log 1 1-14=- >/dev/null
    done
    says "logged 14 lines" log 1 1-14
}

@test "the prompt: keys, stops, kills and resumes" {
    MORNING=$BATS_SUITE_TMPDIR/morning.neap NEAP=$(realpath "$NEAP") run /usr/bin/python3 "$BATS_TEST_DIRNAME/prompt.py"
    echo "$output"
    [ "$status" -eq 0 ]
}

# bats test_tags=plain
@test "what is logged so far is printed as data, open lines with it" {
    has morning
    neap log 1 5=p1.5:3@08:50 6=r >/dev/null
    neap log 1 --made A=38 --left A=2 >/dev/null
    neap --json log 1 --show >log.json
    jq -e '.schema == 1 and .round == 1 and (.lines | length) == .n_lines and .n_unaccounted == .n_lines - 2' log.json
    jq -e '.lines[4] | .outcome == "part" and .amount == 1.5 and .response == 3 and .at_min == 530 and .unit == "mL"' log.json
    jq -e '.lines[0] | .outcome == "" and .amount == null and .action == "broadcast"' log.json
    jq -e '.pots[0] | .pot == "A" and .mixed_ml == 38 and .left_ml == 2' log.json
    fails 2 "expected --show" --json log 1 --all
}

@test "a log that comes in several goes adds up: extras and notes stand beside each other, a weighing is not lost unasked" {
    has morning
    neap log 1 --note "calm" --extra "D1:live phytoplankton=20mL" >/dev/null
    neap log 1 --note "one fish hides" --extra "D1:live phytoplankton=15mL" --extra "D1:rich powder=0.1g" >/dev/null
    neap log 1 --extra "D1:live phytoplankton=20mL" --again >/dev/null
    says "1 as logged before" log 1 --note "calm"
    [ "$(sql "SELECT group_concat(text, '; ') FROM live_remark")" = "calm; one fish hides" ]
    [ "$(sql "SELECT total(amount_units) FROM live_extra WHERE food = 'live phytoplankton'")" = 55.0 ]
    [ "$(sql "SELECT total(units) FROM fed WHERE food = 'live phytoplankton'")" = 55.0 ]
    neap log 1 --weighed "A:rich powder=0.4g" >/dev/null
    fails 1 "pot A, rich powder is logged already: 0.4; --again replaces that" log 1 --weighed "A:rich powder=0.5g"
    fails 1 "9 is more than five times the 0.38 on the sheet" log 1 --weighed "A:rich powder=9g" --again
    [ "$(sql "SELECT amount_units FROM live_weighed")" = 0.4 ]
    neap log 1 --weighed "A:rich powder=0.5g" --again >/dev/null
    [ "$(sql "SELECT amount_units FROM live_weighed")" = 0.5 ]
    neap log 1 5 --note "5=spat" >/dev/null
    fails 1 "line 5 has a note already: spat; --again replaces that" log 1 --note "5=spat all"
    [ "$(sql "SELECT note FROM live_given WHERE line = 5")" = spat ]
    fails 1 "D1 is a tank; expected a line or colony for a note" log 1 --note "D1=cloudy"
}
