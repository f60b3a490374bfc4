# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# The log as it is typed with wet hands: names as well as numbers, notes, who it was, and what is asked before it is believed.

says() {
    local words=$1
    shift
    run neap "$@"
    [ "$status" -eq 0 ] || { echo "status $status: $output"; return 1; }
    [[ $(tr '\n' ' ' <<<"$output") == *"$words"* ]] || { echo "no \"$words\" in: $output"; return 1; }
}

# bats test_tags=plain
@test "log without a number is today's round, and a line's number alone is asked for with today" {
    has morning
    says "round 1 revision 1: logged 1 line: 1 as planned" log today 3
    says "logged 2 lines: 1 late, 1 not given" log 1=l 2=n
    says "WHAT WAS GIVEN 137 lines" log --show
    refuses_and_keeps 1 "line 14 of today's round is meant by: neap log today 14" log 14
    "$NEAP" --on 2026-11-29 log --show >out 2>&1 && return 1
    grep "no round is planned for 2026-11-29" out
}

# bats test_tags=plain
@test "a colony's code and a tank's name stand for their lines" {
    has morning
    code=$(sql "SELECT colony FROM line WHERE number = 6")
    says "logged 1 line: 1 refused" log "$code=r"
    [ "$(sql "SELECT line, outcome FROM live_given")" = "6|refused" ]
    # the rest of the tank not given; what is logged stays, and a line named beside it has its own word
    says "logged 13 lines: 1 as planned, 12 not given" log D1=n 5=:3
    [ "$(sql "SELECT count(*), sum(outcome = 'refused'), sum(response = 3) FROM live_given")" = "14|1|1" ]
    # r means the mouths only
    says "refused" log D2=r
    [ "$(sql "SELECT count(*) FROM live_given JOIN line ON line.number = live_given.line
        WHERE tank = 'D2' AND action <> 'target'")" -eq 0 ]
    says "taken back" log D2=-
    [ "$(sql "SELECT count(*) FROM live_given JOIN line ON line.number = live_given.line WHERE tank = 'D2'")" -eq 0 ]
}

# bats test_tags=plain
@test "a colony on two lines takes a score for both and an amount for neither" {
    has morning
    twice=$(sql "SELECT colony FROM line WHERE action = 'target' GROUP BY colony HAVING count(*) = 2 LIMIT 1")
    [ -n "$twice" ]
    refuses_and_keeps 1 "expected the amounts line by line" log "$twice=1"
    says "logged 2 lines: 2 as planned" log "$twice=:4"
    refuses_and_keeps 1 "an amount is that of one line" log D1=2
    refuses_and_keeps 2 "is no line, tank or colony of round 1" log D9=n
    held=$(sql "SELECT code FROM colony WHERE code NOT IN (SELECT colony FROM line WHERE colony IS NOT NULL) LIMIT 1")
    refuses_and_keeps 1 "$held is not fed in round 1" log "$held=r"
}

# bats test_tags=plain
@test "more than planned wants to be said, and is then believed" {
    has morning
    plan=$(sql "SELECT amount FROM line WHERE number = 5")
    plan=${plan%.0} more=$(awk "BEGIN { print $plan * 1.5 }") bit=$(awk "BEGIN { print $plan * 1.05 }")
    refuses_and_keeps 1 "is more than the plan, $plan mL; --more says that it is right" log "5=$more"
    says "logged 1 line" log "5=$more" --more
    says "logged 1 line" log "5=$bit" --again
    printf 'round,line,sheet_revision,outcome,amount\n1,6,1,given,7\n' >given.csv
    refuses_and_keeps 1 "more than the plan" log --from given.csv
}

@test "notes and names are kept, shown, and not lost by the same log again" {
    has morning
    says "line 5: noted" log 5=:1 7 --note "5=spat it out, base pale" --note "lights = out until nine" --by 1=JK --by 2=AM
    says "Fed by: 1 JK, 2 AM." log --show
    [[ $output == *"it out, base pale"* ]]
    [[ $output == *"- lights = out until nine"* ]]
    says "2 as logged before" log 5=:1 7
    [ "$(sql "SELECT note FROM live_given WHERE line = 5")" = "spat it out, base pale" ]
    refuses_and_keeps 1 "line 5 has a note already" log --note "5=took it"
    refuses_and_keeps 1 "feeder 1 was JK by the log" log --by 1=ZZ
    refuses_and_keeps 2 "round 1 has feeders 1 to 2; expected such as 1=JK" log --by 3=ZZ
    refuses_and_keeps 2 "expected such as 1=JK" log --by ZZ
    refuses_and_keeps 1 "line 9 is not logged" log --note "9=took it"
    says "line 5: noted" log --note "5=took it" --again
    neap log --show --json >log.json
    python3 -c "import json; j = json.load(open('log.json')); assert j['crew'] == [{'feeder': 1, 'name': 'JK'}, {'feeder': 2, 'name': 'AM'}], j['crew']
assert j['notes'] == [{'text': 'lights = out until nine'}] and j['lines'][4]['note'] == 'took it'"
    neap dump >first.json
    rm "$NEAP_DB"
    neap start
    neap load first.json >/dev/null
    neap dump | cmp - first.json
}

# bats test_tags=plain
@test "a closed lot is opened by what takes from it, and closed again by undo" {
    has morning
    sql "UPDATE lot SET opened = NULL"
    says "opened 2026-11-27; use until" log D1
    used=$(sql "SELECT count(DISTINCT lot) FROM (SELECT lot FROM line WHERE tank = 'D1' UNION SELECT lot FROM pot_food
        WHERE pot IN (SELECT pot FROM line WHERE tank = 'D1')) WHERE lot IS NOT NULL")
    [ "$(sql "SELECT count(*) FROM lot WHERE opened = '2026-11-27'")" -eq "$used" ]
    neap undo --yes
    [ "$(sql "SELECT count(*) FROM lot WHERE opened IS NOT NULL")" -eq 0 ]
    says "logged 14 lines" log D1=n
    [ "$(sql "SELECT count(*) FROM lot WHERE opened IS NOT NULL")" -eq 0 ]
}

@test "the price of a round never gives back a cent that was not there" {
    has morning
    neap log --all
    neap stock | sed -n '/PRICE/,$p' >price
    grep 2026-11-27 price
    never grep -e "-0.01" price
}

# bats test_tags=plain
@test "a treatment is a record of its own, listed for four weeks" {
    has demo
    says "Q1-001 in Q1: iodine dip, 10 min, 2026-11-27T09:30" treat Q1-001 "iodine dip" --minutes 10 --at 2026-11-27T09:30
    says "all in Q2: worm bath" treat Q2 "worm bath"
    says "TREATED IN THE LAST 28 DAYS" treat
    [[ $output == *"Q1-001       iodine dip"* ]]
    refuses_and_keeps 1 'no colony "Q9"' treat Q9 dip
    refuses_and_keeps 2 "what was done to Q1" treat Q1
    refuses_and_keeps 2 "still to come" treat Q1 dip --at 2026-11-29T09:30
    neap treat --json | python3 -c "import json, sys; assert len(json.load(sys.stdin)['treatments']) == 2"
    "$NEAP" --on 2026-12-27 treat | never grep "TREATED"
    neap undo --yes
    [ "$(sql "SELECT count(*) FROM treatment")" -eq 1 ]
}

@test "corals do not leave quarantine early unasked, nor from a hold" {
    has demo
    refuses_and_keeps 1 "Q1-001 has been in quarantine for 2 of 28 days, since 2026-11-25; --early moves it" move Q1-001 to D1
    refuses_and_keeps 1 "and is on hold" move Q2-001 to D1
    says "moved from Q1 to D1" move Q1-001 to D1 --early
    says "moved from Q1 to Q2" move Q1-004 to Q2
    # what came back in begins anew, and so does a part of it
    neap move D1-001 to Q1
    refuses_and_keeps 1 "for 0 of 28 days, since 2026-11-27" move D1-001 to D1
    neap move N3-001 2 to Q1 --as N3-Q
    refuses_and_keeps 1 "N3-Q has been in quarantine for 0 of 28 days" move N3-Q to N3
    says "Q1-010       Q1            16   28 until 2026-12-09" treat
    neap set setting quarantine_d=10
    says "moved from Q1 to D1" move Q1-010 to D1
}
