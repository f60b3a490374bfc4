# SPDX-License-Identifier: GPL-3.0-or-later
load helper

@test "a file with every kind of fault is refused as a whole, each fault by its place" {
    has demo
    cat >tank.csv <<'X'
name,system,shape,net_volume_l,position_m
good,north,stated,80.25,1
bad volume,north,stated,-80,1
no system,,stated,80,1
unknown system,nroth,stated,80,1
comma,north,stated,"80,5",1
short,north,stated
unknown shape,north,statd,80,1
X
    refuses_and_keeps 1 "tank.csv:3:" load tank.csv
    [[ $output == *"tank.csv:3:25: net_volume_l is -80; expected 0.1 to 1000000"* ]]
    [[ $output == *"tank.csv:4:"*"system is empty"* ]]
    [[ $output == *"tank.csv:5:"*'"nroth"'*'did you mean "north"?'* ]]
    [[ $output == *"tank.csv:6:"*"a decimal point"* ]]
    [[ $output == *"tank.csv:7:1: has 3 cells; expected 5"* ]]
    [[ $output == *"tank.csv:8:"*'did you mean "stated"?'* ]]
    [[ $output == *"nothing stored, for 6 faults: read 7, new 1, changed 0, same 0, refused 6"* ]]
}

# bats test_tags=plain
@test "a load of many rows is one entry: undone, redone and audited as one" {
    has demo
    neap dump >before.json
    awk 'BEGIN { print "code,tank,kind,count,heads"; for (i = 1; i <= 9000; i++) print "Z" i ",D1,sun corals,1," 1 + i % 9
                 print "Z1,D1,sun corals,2,5" }' >colony.csv # the last row changes the first
    neap load colony.csv | grep "read 9001, new 9000, changed 1"
    neap dump >after.json
    neap history --last 1 | grep "load colony.csv"
    refuses 0 sound audit
    neap undo --yes
    diff before.json <(neap dump)
    refuses 0 sound audit
    neap redo --yes
    diff after.json <(neap dump)
    sql "DELETE FROM entry_part WHERE number = 2 AND entry = 2"
    refuses 1 "is damaged, its changes are not as they were kept" audit
    refuses 1 "is damaged, its changes are not as they were kept" undo --yes
    diff after.json <(neap dump)
}

# More than is held of a file at once.
large_csv() {
    awk 'BEGIN { print "name,system,shape,net_volume_l,note"; for (i = 1; i <= 4000; i++)
                 printf "Z%d,north,stated,%d,\"tank %d, \303\251 %0350d\"\n", i, 50 + i % 9, i, i }'
}

# bats test_tags=plain
@test "a large file is read as a small one: rows, places of faults, other encodings" {
    has demo
    large_csv >tank.csv
    [ "$(stat -c %s tank.csv)" -gt 1400000 ]
    neap load tank.csv | grep "read 4000, new 4000"
    sql "SELECT note FROM tank WHERE name = 'Z3999'" | grep "^tank 3999, é 0*3999$"
    neap undo --yes
    neap dump >before.json
    { cat tank.csv; echo 'Z4001,nroth,stated,80,'; } >tanks.csv
    refuses_and_keeps 1 'tanks.csv:4002:7: system is "nroth"' load tanks.csv
    iconv -f utf-8 -t utf-16 tank.csv >tanks.csv
    neap load tanks.csv | grep "read 4000, new 4000"
    neap undo --yes
    { printf '\xef\xbb\xbf'; sed 's/north/n\xf6rth/' tank.csv; } >tanks.csv
    refuses_and_keeps 1 "byte 0xF6 is not UTF-8, as other characters of the file are" load tanks.csv
    diff before.json <(neap dump)
}

@test "a large file is given back once it was read, or refused" {
    has demo
    leaks_fail
    large_csv >tank.csv
    neap load --dry-run tank.csv >out
    grep "read 4000, new 4000" out
    echo 'Z4001,nroth,stated,80,' >>tank.csv
    refuses_and_keeps 1 'tank.csv:4002:7: system is "nroth"' load tank.csv
    [[ $output != *Sanitizer* ]]
}

# bats test_tags=plain
@test "a large file that is written to while it is read is refused" {
    has demo
    large_csv >tank.csv
    mkfifo system.csv
    (exec 4>system.csv && echo >>tank.csv && echo name >&4) & # the pipe is opened once tank.csv is
    refuses_and_keeps 1 "tank.csv: was changed while it was read" load tank.csv system.csv
    wait
}

# bats test_tags=plain
@test "rows that point to a refused row are counted, not told one by one" {
    neap start
    echo "name" >system.csv && echo "north" >>system.csv
    printf 'name,system,shape,net_volume_l\nA,north,stated,-5\n' >tank.csv
    echo "code,tank,kind" >colony.csv
    for i in $(seq 50); do echo "c$i,A,sun corals"; done >>colony.csv
    refuses_and_keeps 1 "50 rows are refused only for pointing to refused ones" load colony.csv tank.csv system.csv
    [[ $output == *"for 1 fault: read 52, new 1, changed 0, same 0, refused 51"* ]]
    printf 'name,system,shape,net_volume_l\n\x81t\x81,north,stated,5\n' >tank.csv
    refuses_and_keeps 1 "is no character of Windows-1252" load colony.csv tank.csv system.csv
    [[ $output == *"for 1 fault:"* ]]
}

# bats test_tags=plain
@test "files that are no tables are refused" {
    has demo
    : >tank.csv
    refuses_and_keeps 1 "tank.csv" load tank.csv
    printf 'name,sys\0tem\nx,y\n' >tank.csv
    refuses_and_keeps 1 "has a NUL byte" load tank.csv
    printf '\xff\xfen\0a' >tank.csv
    refuses_and_keeps 1 "looks like UTF-16 and ends in half a character" load tank.csv
    printf 'name,note\nnorth,caf\xe9\nsouth,caf\xc3\xa9\n' >system.csv
    refuses_and_keeps 1 "system.csv:2:10: byte 0xE9 is not UTF-8, as other characters of the file are" load system.csv
    { printf 'name,note\nnorth,'; head -c 100000 /dev/zero | tr '\0' a; echo; } >system.csv
    refuses_and_keeps 1 "system.csv:2:" load system.csv
    { printf '{"schema": 1, "system": '; head -c 2000 /dev/zero | tr '\0' '['; } >deep.json
    refuses_and_keeps 1 "deep.json:1:" load deep.json
    echo "name" >tonk.csv
    refuses_and_keeps 1 'did you mean "tank"?' load tonk.csv
    refuses_and_keeps 1 "nowhere.csv: No such file" load nowhere.csv
    mkdir empty
    refuses_and_keeps 1 "has no table in it" load empty
    printf 'name,note\n' >system.csv
    run neap load system.csv
    [ "$output" = "read 0, new 0, changed 0, same 0, refused 0" ]
}

# bats test_tags=plain
@test "a name given twice in one file is one row, and the later one stands" {
    neap start
    printf 'name,note\nnorth,a\nnorth,b\n' >system.csv
    run neap load system.csv
    [ "$output" = "read 2, new 1, changed 1, same 0, refused 0" ]
    neap dump system | grep -qE "^north,.*,b,"
}

# bats test_tags=plain
@test "headings may name another unit, and --as another file" {
    neap start
    printf 'name\nnorth\n' >system.csv
    printf '\xef\xbb\xbfshape,net_volume_usgal,system,name\r\nstated,80,north,A\r\n' >"my tanks.txt"
    neap load system.csv
    refuses 1 "does not say which register" load "my tanks.txt"
    neap load --as tanks "my tanks.txt"
    neap dump tank | grep -q "^A,north,stated,.*,302.83294272,"
    printf 'Name,Displacement %%,Length in,Net volume (US gal)\nA,,,300 L\n' >tank.csv # a unit in the cell holds
    neap load tank.csv
    printf 'Name,System,Shape,Displacement %%,Length in,Width in,Water in\nB,north,box,8 %%,90 cm,50 cm,20\n' >tank.csv
    neap load tank.csv
    [ "$(neap --json list tank | jq -c '.tank | map([.displacement_frac, .length_cm, .water_cm, .net_volume_l])')" = "[[null,null,null,300],[0.08,90,50.8,null]]" ]
    printf 'name,length_in\nB,90 kg\n' >tank.csv
    refuses 1 "tank.csv:2:3: length_in" load tank.csv
}

# bats test_tags=plain
@test "the same files twice change nothing, not even the journal" {
    has demo
    neap dump --into tables
    run neap load tables
    [ "$output" = "read 576, new 0, changed 0, same 576, refused 0" ]
    [ "$(neap history --all | grep -c 2026)" -eq 1 ]
}

# bats test_tags=plain
@test "a dry run counts and stores nothing" {
    neap start
    printf 'name\nnorth\n' >system.csv
    neap dump >before.json
    run neap load --dry-run system.csv
    [ "$output" = 'system "north": new
read 1, new 1, changed 0, same 0, refused 0
(dry run: nothing stored)' ]
    same_dump before.json
}

# bats test_tags=plain
@test "a table of any length is one entry, and one undo" {
    has demo
    neap dump >before.json
    awk 'BEGIN { print "code,tank,kind,count"; for (i = 0; i < '"${ROWS:=20000}"'; i++) print "big-" i ",D1,sun corals,2" }' >colony.csv
    run neap load colony.csv
    [ "$output" = "read $ROWS, new $ROWS, changed 0, same 0, refused 0" ]
    neap undo --yes
    same_dump before.json
}

# bats test_tags=plain
@test "a setting's clock past midnight is refused with its place, typed or from a file" {
    neap start
    printf 'name,value\nfeeders,2\nstart_min,25:00\n' >setting.csv
    refuses_and_keeps 1 'setting.csv:3:11: value is "25:00"; expected a time of the day, 00:00 to 23:59' load setting.csv
    refuses_and_keeps 1 'start_min is "24:00"; expected a time of the day, 00:00 to 23:59' set setting start_min=24:00
    neap set setting start_min=00:00
}

# bats test_tags=plain
@test "thousands of rows that point to nothing are each counted as a fault, and nothing is stored" {
    has demo
    neap dump >before.json
    awk 'BEGIN { print "code,tank,kind,count"; for (i = 0; i < 3000; i++) print "big-" i ",NOPE" i ",sun corals,2" }' >colony.csv
    run neap load colony.csv
    [ "$status" -eq 1 ]
    [[ $output == *"colony.csv:2:7: tank is \"NOPE0\", and no tank has that name"* ]]
    [[ $output == *"for 3000 faults"* ]]
    same_dump before.json
}

# bats test_tags=plain
@test "a spreadsheet's file is read as it is, and what was recognised is said" {
    neap start
    printf 'Name\nnorth\n' >systems.csv
    printf 'Name;System;Shape;Length (in);Width in;Water in;Displacement %%;Fish;;\r\nGr\xfcn;north;Box;48;24,5;20;8;TRUE;;\r\n;;;;;;;;;\r\n' >tanks.csv
    printf 'Code\tTank\tKind\tCount\tArrived\nc1\tGr\xc3\xbcn\tsun corals\t12.0\t11/27/2026\n' >colonies.csv
    run neap load systems.csv tanks.csv colonies.csv
    [ "$status" -eq 0 ]
    [[ $output == *"tanks.csv: read as Windows-1252, with semicolons, with decimal commas"* ]]
    [[ $output == *"colonies.csv: read with tabs, with the month before the day"* ]]
    [[ $output == *"read 3, new 3, changed 0, same 0, refused 0"* ]]
    neap dump tank | grep -q "^Grün,north,box,121.92,62.23,50.8,.*,0.08,"
    neap dump colony | grep -q "^c1,,Grün,sun corals,12,,2026-11-27,"
    iconv -f UTF-8 -t UTF-16 colonies.csv >c.csv
    run neap load --as colony c.csv
    [[ $output == *"c.csv: read as UTF-16, with tabs"* && $output == *"same 1, refused 0"* ]]
}

# bats test_tags=plain
@test "what a file leaves open is asked, and an option answers" {
    has demo
    printf 'code,arrived\nD1-002,3/4/2026\n' >colony.csv
    refuses_and_keeps 1 'arrived is "3/4/2026", which may be 2026-03-04 or 2026-04-03' load colony.csv
    neap load --dates dmy colony.csv
    [ "$(sql "SELECT arrived FROM colony WHERE code = 'D1-002'")" = 2026-04-03 ]
    printf 'name;sump_volume_l\nnorth;1.200\n' >system.csv
    refuses_and_keeps 1 'system.csv:2:7: sump_volume_l is "1.200"; expected it to be clear whether this parts thousands' load system.csv
    neap load --decimal point --dry-run system.csv
    printf 'Rack label,Dealer,count\nD1-002,x,5\n' >colony.csv
    refuses_and_keeps 1 '"Rack label" is no heading of colony' load colony.csv
    neap load --map "Rack label=code" --map Dealer= colony.csv
    [ "$(sql "SELECT count FROM colony WHERE code = 'D1-002'")" = 5 ]
    refuses 2 '--sep is "pipe"; expected comma, semicolon or tab' load --sep pipe colony.csv
    refuses 2 '--map is "code"; expected OWN=FIELD' load --map code colony.csv
    printf 'Colony;Sold\nD1-002;1\n' >sales.csv
    run neap count --from sales.csv
    [[ $output == *"sales.csv: read with semicolons"* && $output == *"1 sold"* ]]
}

# bats test_tags=plain
@test "the headings there are, are listed once" {
    has demo
    printf 'zzzzzzzz,yyyyyyyy,xxxxxxxx,code\n' >colony.csv
    run neap load colony.csv
    [ "$(grep -c "expected some of code, label" <<<"$output")" -eq 1 ]
    [ "$(grep -c "expected one of those named above" <<<"$output")" -eq 2 ]
}
