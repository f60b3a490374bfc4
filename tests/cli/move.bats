#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Corals move, are sold, die, divide and are found again, each with its reason.
load helper

# bats test_tags=plain
@test "a whole lot moves" {
    has demo
    run neap move N3-005 to N1
    [ "$output" = "N3-005 (12) moved from N3 to N1" ]
    [ "$(sql "SELECT tank, count FROM colony WHERE code = 'N3-005'")" = "N1|12" ]
    [ "$(sql "SELECT change, reason, tank, from_tank FROM live_tally")" = "0|moved|N1|N3" ]
}

# bats test_tags=plain
@test "a part becomes a lot of its own, fed when the others were" {
    has round
    neap log 1 --all >/dev/null
    run neap move N3-001 4 to D1
    [[ $output == "4 of N3-001 are in D1 now, as N3-001/2; 10 stay"* ]]
    [ "$(sql "SELECT tank, count, fed_before FROM colony WHERE code = 'N3-001/2'")" = "D1|4|2026-11-27" ]
    [ "$(sql "SELECT count FROM colony WHERE code = 'N3-001'")" = 10 ]
    run neap move N3-001 2 to D2 --as TORCH-9
    [[ $output == *"as TORCH-9; 8 stay"* ]]
    neap move N3-001 1 to D2
    [ "$(sql "SELECT count FROM colony WHERE code = 'N3-001/3'")" = 1 ]
    neap --on 2026-11-28 plan >/dev/null
    [ "$(sql "SELECT count(*) FROM line WHERE round = 2 AND colony LIKE 'N3-001%'")" = 0 ]
}

@test "a move that cannot be is refused, and nothing changes" {
    has demo
    before=$(sql "SELECT * FROM colony")
    refuses 1 'did you mean "N3-001"?' move N3-01 to N1
    refuses 1 'tank is "N9", and no tank has that name' move N3-001 to N9
    refuses 1 'tank is "N9", and no tank has that name' move N3-001 3 to N9
    refuses 1 "N3-001 stands in N3 already; expected another tank" move N3-001 to N3
    refuses 1 "99 are to move and 14 are there" move N3-001 99 to N1
    refuses 1 'there is a colony "D1-002" already' move N3-001 3 to N1 --as D1-002
    refuses 2 "expected neap move COLONY [COUNT] to TANK" move N3-001 in N1
    [ "$before" = "$(sql "SELECT * FROM colony")" ]
    [ "$(sql "SELECT count(*) FROM tally")" = 0 ]
}

@test "a round that was planned before the move says so" {
    has round
    run neap move N3-001 to N1
    [[ $output == *"round 1 of today has N3-001 in N3, line "* ]]
}

# bats test_tags=plain
@test "counts change with their reason; none left retires, found brings back" {
    has demo
    [ "$(neap count N3-008 2 sold)" = "N3-008: 2 sold, 9 left" ]
    [ "$(neap count N3-008 =5 died)" = "N3-008: 4 died, 5 left" ]
    [ "$(neap count N3-008 1 divided)" = "N3-008: 1 divided, 6 in all" ]
    [ "$(neap count N3-008 6 died)" = "N3-008: 6 died, 0 left; it is retired" ]
    [ "$(neap count N3-008 2 found)" = "N3-008: 2 found, 2 in all" ]
    [ "$(sql "SELECT count, coalesce(retired, 0) FROM colony WHERE code = 'N3-008'")" = "2|0" ]
    [ "$(sql "SELECT group_concat(change) FROM (SELECT change FROM live_tally ORDER BY repeat)")" = "-2,-4,1,-6,2" ]
    refuses 1 "50 are to go and 2 are there" count N3-008 50 sold
    refuses 1 "=1 is fewer; expected sold or died" count N3-008 =1 found
    refuses 2 'expected sold, died, divided or found (did you mean "sold"?)' count N3-008 1 solt
}

@test "a till's file lowers counts, all or nothing, and only once" {
    has demo
    cd "$(dirname "$NEAP_DB")"
    printf 'colony,sold,day\nD1-002,1,2026-11-26\nD1-004,2,\nD1-002,1,\n' >sales.csv
    [ "$(neap count --from sales.csv)" = "read 3, booked 3: 4 sold, 1 lot with none left retired" ]
    [ "$(sql "SELECT count FROM colony WHERE code = 'D1-004'")" = 1 ]
    cp sales.csv other-name.csv
    refuses 1 "this file was booked before" count --from other-name.csv
    printf 'colony,sold\nD1-022,1\nD1-004,99\nD1-9,1\nD1-020,0\n' >bad.csv
    refuses 1 "3 faults in 4 rows; nothing was stored" count --from bad.csv
    [[ $output == *"bad.csv:3:1: D1-004: 99 are to go and 1 are there"* ]]
    [[ $output == *'bad.csv:4:1: colony is "D1-9"'*'did you mean "D1-009"?'* ]]
    [ "$(sql "SELECT count FROM colony WHERE code = 'D1-022'")" = 2 ]
}
