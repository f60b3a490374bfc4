# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# damaged SQL: the store with the day's round, and one thing in it as no neap would ever write it.
damaged() {
    has round
    sql "PRAGMA ignore_check_constraints = 1; PRAGMA foreign_keys = 0; $1"
}

# audit finds it, and whatever reads the store says what is wrong or goes on: nothing dies, nothing hangs.
@test "a value that no neap would write is found by audit and never taken for a figure" {
    while IFS='|' read -r sql words named; do
        damaged "$sql"
        run neap audit
        { [ "$status" -eq 1 ] && [[ $output == *"$named"* ]]; } || { echo "$sql: audit $status $output"; return 1; }
        for command in plan sheet stock trend "why D1" "list tank" dump; do
            run timeout 20 "$NEAP" --on 2026-11-27 $command
            [ "$status" -le 1 ] || { echo "$sql: $command $status $output"; return 1; }
        done
        run neap sheet
        [[ $output == *"$words"* ]] || { echo "$sql: $output"; return 1; }
    done <<'DAMAGES'
UPDATE tank SET shape = 'blob' WHERE name = 'D1'|the store is damaged: tank D1: shape is damaged|tank D1: shape is damaged
UPDATE food SET form = 'plasma'|: form is damaged (what it is like)|food rich powder: form is damaged
UPDATE kind SET feeding = ''|: feeding is damaged|kind branching euphylliids: feeding is damaged
UPDATE tank SET flow_off_limit_min = 1e300 WHERE name = 'D1'|the store is damaged: tank D1: flow_off_limit_min is damaged|tank D1: flow_off_limit_min is damaged
UPDATE band SET low = 2 * high WHERE system = 'display' AND analyte = 'no3'|the store is damaged: band display no3: the band's low 20 is not below its high 10; expected low < high|band display no3: the band's low 20 is not below its high 10; expected low < high
UPDATE tank SET system = 'nowhere' WHERE name = 'D1'|a tank points to "nowhere"|reference: a row of tank points to a system that is not there
UPDATE setting SET value = 'x'|the store is damaged: setting|the store is damaged: setting
UPDATE line SET action = 'dance' WHERE number = 1|the store is damaged: a line whose action is damaged|line 1 1 1: action is damaged
UPDATE line SET colony = NULL WHERE action = 'target'|a line whose colony is empty|row: line 1 1
UPDATE line SET action = 'target' WHERE action = 'broadcast'|a line whose colony is empty|row: line 1 1
UPDATE line SET food = NULL WHERE action = 'fish'|a line whose food is empty|row: line 1 1
UPDATE line SET action = 'broadcast' WHERE action = 'target'|a line whose food is empty|row: line 1 1
UPDATE line SET lot = NULL|FEEDING ROUND|row: line 1 1
DAMAGES
}

# A lot that is not there would be food that nobody used, a day that is none a coral that was not fed.
@test "what a damaged log says was done is never taken for a figure, nor for nothing" {
    has round
    neap log 1 --all >/dev/null
    cp "$NEAP_DB" sound.neap
    while IFS='|' read -r sql words; do
        cp sound.neap "$NEAP_DB"
        sql "PRAGMA ignore_check_constraints = 1; PRAGMA foreign_keys = 0; $sql"
        refuses 1 "is not as entry" audit
        for command in "plan --effort 0.1" trend stock "stock --where --lot RP-113" "log 1 --show"; do
            run timeout 20 "$NEAP" --on 2026-11-28 $command
            { [ "$status" -eq 1 ] && [[ $output == "neap: the store is damaged: "*"$words"* ]]; } || { echo "$sql: $command $status $output"; return 1; }
        done
    done <<'DAMAGES'
UPDATE line SET food = 'nothing' WHERE action = 'broadcast'|its log points to the food "nothing", which is not there
UPDATE pot_food SET food = 'nothing'|its log points to the food "nothing", which is not there
UPDATE pot_food SET lot = 'nothing'|its log points to the lot "nothing", which is not there
UPDATE line SET colony = 'nothing' WHERE action = 'target'|its log points to the colony "nothing", which is not there
UPDATE line SET action = 'dance' WHERE action = 'broadcast'|a line whose action is damaged
UPDATE round SET day = 'yesterday'|its log has "yesterday" for a day
DAMAGES
}

# Tables with rows that neap's commands fill.
tables() { sql "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN ('entry', 'entry_part', 'gate') AND name NOT LIKE 'sqlite%'"; }

by_hand() { sql "PRAGMA ignore_check_constraints = 1; PRAGMA foreign_keys = 0; UPDATE gate SET undoing = 1; $1; UPDATE gate SET undoing = 0;"; }

# [store 7]
# bats test_tags=plain
@test "whatever changed, added or took away a row, audit names the row" {
    has round
    neap log 1 1-20 >/dev/null
    neap audit
    cp "$NEAP_DB" sound.neap
    n=0
    for table in $(tables); do
        cp sound.neap "$NEAP_DB"
        column=$(sql "SELECT name FROM pragma_table_info('$table') WHERE pk = 0 ORDER BY cid DESC LIMIT 1")
        keys=$(sql "SELECT group_concat(name) FROM pragma_table_info('$table') WHERE pk > 0")
        [ -n "$column" ] && [ "$(sql "SELECT count(*) FROM $table")" -gt 0 ] || continue
        n=$((n + 1))
        by_hand "UPDATE $table SET $column = CASE typeof($column) WHEN 'text' THEN $column || 'x' ELSE coalesce($column, 0) + 1 END
            WHERE ($keys) = (SELECT $keys FROM $table LIMIT 1)"
        run "$NEAP" audit
        { [ "$status" -eq 1 ] && [[ $output == *"row: $table "*" is not as entry "* ]]; } || { echo "$table.$column: $output"; return 1; }
        cp sound.neap "$NEAP_DB"
        by_hand "DELETE FROM $table WHERE ($keys) = (SELECT $keys FROM $table LIMIT 1)"
        run "$NEAP" audit
        { [ "$status" -eq 1 ] && [[ $output == *"row: $table "*" is gone; entry "* ]]; } || { echo "$table: $output"; return 1; }
    done
    [ "$n" -ge 12 ]
    cp sound.neap "$NEAP_DB"
    by_hand "INSERT INTO system (name) VALUES ('ghost')"
    refuses 1 "row: system ghost is in no entry of the journal" audit
}

# [store 10] Each command takes a second until it gives up: reading the round's lines, or the tests.
# bats test_tags=plain
@test "a store made by hand that never ends is refused, and in a bounded time" {
    has round
    neap log 1 1-3 >/dev/null
    cp "$NEAP_DB" sound.neap
    forever="WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
    while IFS='|' read -r table status_wanted words command; do
        cp sound.neap "$NEAP_DB"
        sql "DROP VIEW live_$table; CREATE VIEW live_$table AS $forever SELECT $table.* FROM $table, n WHERE i < 0"
        run timeout 100 "$NEAP" --on 2026-11-27 $command
        [ "$status" -eq "$status_wanted" ] || { echo "$table: $command: $status $output"; return 1; }
        [[ $output == *"$words"* ]] || { echo "$table: $command: $output"; return 1; }
    done <<'COMMANDS'
given|1|asks for more work than a store of its size can|audit
given|1|asks for more work than a store of its size can|why 5
given|1|the copy is not sound; it was thrown away|backup copy.neap
given|0|is taken back|undo --yes
test|1|asks for more work than a store of its size can|trend
COMMANDS
}

# bats test_tags=plain
@test "a backup tells what its audit found, and never takes the place of a sound one" {
    has round
    neap backup copy.neap | grep -q "^copy.neap: a sound copy of "
    cp copy.neap sound.neap
    by_hand "UPDATE tank SET position_m = position_m + 1 WHERE name = 'D1'"
    refuses 1 "copy.neap: the copy has 1 finding, and the earlier backup of this name stays" backup copy.neap
    cmp copy.neap sound.neap
    refuses 1 "other.neap: a copy of $NEAP_DB with its 1 finding" backup other.neap
    [[ $output == *"row: tank D1 is not as entry 1 of the journal left it"* ]]
    run ls
    [[ $output != *part* ]]
    refuses 1 "with its 1 finding" --db third.neap restore other.neap
    [ "$(sqlite3 third.neap "SELECT position_m FROM tank WHERE name = 'D1'")" = "$(sql "SELECT position_m FROM tank WHERE name = 'D1'")" ]
}

@test "a copy of a damaged file is no backup, and is thrown away" {
    has round
    page=$(sql "SELECT rootpage FROM sqlite_schema WHERE name = 'colony_by_tank'")
    printf '\012\0\0\0\0\020\0\0' | # the head of an index page without a row
        dd of="$NEAP_DB" bs=4096 seek=$((page - 1)) conv=notrunc status=none
    refuses 1 "file: row 1 missing from index colony_by_tank" audit
    refuses 1 "copy.neap: the copy is not sound; it was thrown away" backup copy.neap
    run ls
    [[ $output != *copy* ]]
    [[ $output != *part* ]]
}

# Taking back is putting back what was there before: of a row that is not as the entry left it nobody knows what that is.
# bats test_tags=plain
@test "an entry whose rows were changed by hand is not taken back" {
    has demo
    neap set tank D1 position_m=5 >/dev/null
    neap add system spare >/dev/null
    by_hand "UPDATE system SET sump_volume_l = 7 WHERE name = 'spare'"
    refuses_and_keeps 1 "the entry's rows are not as it left them; nothing was taken back" undo --yes
    by_hand "DELETE FROM system WHERE name = 'spare'"
    refuses_and_keeps 1 "the entry's rows are not as it left them; nothing was taken back" undo --yes
    by_hand "INSERT INTO system (name) VALUES ('spare')"
    [ "$(sql "SELECT position_m FROM tank WHERE name = 'D1'")" = "5.0" ]
}
