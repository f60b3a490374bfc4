# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# What came out goes into a store without anything, and comes out again.
round_trip() {
    neap dump >1.json
    neap dump --into tables
    NEAP_DB=two.neap neap start --empty
    NEAP_DB=two.neap neap load 1.json
    NEAP_DB=two.neap neap dump | cmp - 1.json
    NEAP_DB=three.neap neap start --empty
    NEAP_DB=three.neap neap load tables
    NEAP_DB=three.neap neap dump | cmp - 1.json
}

# bats test_tags=plain
@test "a dump read into an empty store gives the same dump, with rounds and what was given" {
    has demo
    neap set setting feeders=3 loss_frac=7%
    neap plan
    neap plan --feeders 1
    printf 'round,line,sheet_revision,outcome,amount\n1,1,2,given,30\n1,2,2,not-given,\n' >given.csv
    neap load given.csv
    round_trip
    grep -q '"given": \[' 1.json
    [ "$(grep -c '"revision":2,"day"' 1.json)" -eq 1 ]
}

# bats test_tags=plain
@test "names with quotes, commas and other scripts come back as they were" {
    neap start
    neap add system 'north, "old" room' note="Zoë said: ,;\"' – ok"
    round_trip
}

# bats test_tags=plain
@test "text that a spreadsheet would run is marked in a table, and comes back as it was" {
    neap start
    local n=0 t
    for t in '=HYPERLINK("x")' '+1' '- by hand' '@x' "'=x" "'plain'"; do
        neap add system "s$((n += 1))" note="$t"
    done
    round_trip
    never grep -E '(^|,)"?[=+@-]' tables/system.csv
}

@test "a dump of one register is CSV, or JSON where asked" {
    has demo
    [ "$(neap dump tank | wc -l)" -eq 15 ]
    [ "$(neap dump tanks --json | jq '.tank | length')" -eq 14 ]
    [ "$(neap dump | jq '.schema')" -eq 1 ]
    # a moment, a day and a clock are written as the schema of such files says
    neap help --schema >schema.json
    for where in test.taken lot.received daily_round.start_min; do
        jq -e ".properties.${where%.*}.items.properties.${where#*.}.pattern" schema.json
    done
    refuses 2 'did you mean "tank"?' dump tnak
}

@test "a dump for a spreadsheet that writes decimal commas loads back the same" {
    has demo
    neap set setting loss_frac=0.07
    neap dump --into tables --sep semicolon --decimal comma
    grep -q "^D2;display;cylinder;.*;0,18;" tables/tank.csv
    grep -qx "loss_frac;0,07" tables/setting.csv
    run neap load tables
    [ "$status" -eq 0 ]
    [[ $output == *"changed 0, same 577, refused 0"* ]]
    neap dump --sep tab tank | grep -q $'^D2\tdisplay\t'
    refuses 2 "expected a register, or --into FOLDER" dump --sep tab
}

# A hand that mends yesterday's amounts in a file, or puts in a line that was forgotten, would make the sheet a lie.
@test "a kept plan is never changed by a file: a line is neither altered nor added" {
    has round
    neap dump >1.json
    neap dump --into tables
    neap load 1.json | grep "new 0, changed 0"
    for change in '.line[3].amount += 1' '.pot_food[1].amount_units += 5' '.round[0].revision = 1 | .round[0].start_min = "09:00"'; do
        jq -c "$change" 1.json >2.json
        refuses_and_keeps 1 "differs from the kept plan; a kept plan never changes" load 2.json
    done
    for change in '.line += [.line[3] | .number = 400]' '.waiting += [.waiting[0] | .colony = "D1-001"]' \
        '.pot_food += [.pot_food[0] | .rank = 40]'; do
        jq -c "$change" 1.json >2.json
        refuses_and_keeps 1 "is not in the kept plan; a kept plan never changes" load 2.json
    done
    sed -n '1p; $ s/^1,1,[0-9]*,/1,1,400,/p' tables/line.csv >line.csv
    refuses_and_keeps 1 "line.csv:2:1: is not in the kept plan; a kept plan never changes" load line.csv
    jq -c '(.round, .line, .pot, .pot_food, .waiting, .asked, .caution, .switching)[] |= if .round then .round = 2 else .number = 2 end' 1.json >2.json
    neap load 2.json | grep "changed 0" # another one, whole
    diff <(sql "SELECT tank, amount FROM line WHERE round = 1") <(sql "SELECT tank, amount FROM line WHERE round = 2")
}

# Such a row would count nowhere, or for what nobody gave; and no file is to leave a store that audit calls unsound.
@test "a file brings no log that the plan does not bear out: of what is not there, without an amount, more than the pot held" {
    has round
    neap log 1 --note calm >/dev/null
    line=$(sql "SELECT min(number) FROM line WHERE pot = 'A' AND action = 'target'")
    while IFS='|' read -r register headings row words; do
        row=${row/LINE/$line} words=${words/LINE/$line}
        printf '%s\n%s\n' "$headings" "$row" >"$register.csv"
        refuses_and_keeps 1 "nothing stored: $words; expected a log that the round's plan bears out" load "$register.csv"
        neap audit
        # past the program, audit says so
        cp "$NEAP_DB" sound.neap
        sql "INSERT INTO $register ($headings, version) VALUES ('${row//,/\',\'}', 1)"
        refuses 1 "$words" audit
        cp sound.neap "$NEAP_DB"
        rm "$register.csv"
    done <<'ROWS'
given|round,line,sheet_revision,outcome|1,999,1,given|round 1 line 999: was logged, and is not in the plan
given|round,line,sheet_revision,outcome|1,5,7,given|round 1 line 5: was logged by revision 7 of its sheet, which is not there
given|round,line,sheet_revision,outcome|1,LINE,1,given|round 1 line LINE: was logged without its amount
given|round,line,sheet_revision,outcome,amount|1,LINE,1,given,99|round 1 pot A: 99 mL given of 32 mL mixed
given|round,line,sheet_revision,outcome|2,5,1,given|round 2 line 5: was logged, and is not in the plan
mixed|round,pot,made_ml|1,Z,30|round 1 pot Z: was mixed, and is not in the plan
weighed|round,pot,rank,amount_units|1,A,9,2|round 1 pot A food 9: was weighed, and is not in the plan
extra|round,number,tank,food,amount_units|9,1,D1,rich powder,1|round 9: something was given beside its plan, and it is not there
crew|round,feeder,name|9,1,JK|round 9: its feeders are named, and it is not there
remark|round,number,text|9,1,calm|round 9: a note was made of it, and it is not there
switched|round,system,device|9,north,skimmer|round 9: its switches are logged, and it is not there
ROWS
    printf 'round,pot,made_ml\n1,A,30\n' >mixed.csv
    neap load mixed.csv | grep "new 1"
    neap audit
}
