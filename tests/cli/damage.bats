load helper

# damaged SQL: the store with the day's round, and one thing in it as no neap would ever write it.
damaged() {
    has round
    sqlite3 "$NEAP_DB" "PRAGMA ignore_check_constraints = 1; PRAGMA foreign_keys = 0; $1"
}

# audit finds it, and whatever reads the store says what is wrong or goes on: nothing dies, nothing hangs.
@test "a value that no neap would write is found by audit and never taken for a figure" {
    while IFS='|' read -r sql words; do
        damaged "$sql"
        run neap audit
        [ "$status" -eq 1 ] || { echo "$sql: audit $status $output"; return 1; }
        for command in plan sheet stock trend "why D1" "list tank" dump; do
            run timeout 20 "$NEAP" --on 2026-11-27 $command
            [ "$status" -le 1 ] || { echo "$sql: $command $status $output"; return 1; }
        done
        run neap sheet
        [[ $output == *"$words"* ]] || { echo "$sql: $output"; return 1; }
    done <<'DAMAGES'
UPDATE tank SET shape = 'blob' WHERE name = 'D1'|a tank whose shape is damaged
UPDATE food SET form = 'plasma'|a food whose form is damaged
UPDATE kind SET feeding = ''|a kind whose feeding is damaged
UPDATE tank SET flow_off_limit_min = 1e300 WHERE name = 'D1'|a tank whose flow_off_limit_min is damaged
UPDATE tank SET system = 'nowhere' WHERE name = 'D1'|a tank points to "nowhere"
UPDATE setting SET value = 'x'|the store is damaged: setting
UPDATE line SET action = 'dance' WHERE number = 1|a line whose action is damaged
DAMAGES
}
