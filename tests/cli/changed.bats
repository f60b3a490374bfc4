# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# The round as planned; D1 is lines 1-14 and D2 15-29 there (see has).

# bats test_tags=plain
@test "a tank held after the plan heads the sheet, and its lines are to be skipped" {
    has morning
    run neap hold tank D1 --reason crashed
    [ "$status" -eq 0 ]
    [[ $output == *"round 1 of today no longer fits: Tank D1 is on hold, until released: crashed."* ]]
    run neap sheet --no-pages
    [ "$status" -eq 0 ]
    [[ $(flat) == *"CHANGED SINCE THIS WAS PLANNED !! Tank D1 is on hold, until released: crashed. Do none of its lines. A new plan takes this into account"* ]]
    [ "$(grep -c ' skip ' <<<"$output")" -eq 14 ]
    neap plan
    run neap sheet --no-pages
    [[ $output != *"CHANGED SINCE"* ]]
    [[ $output == *"Tank D1 is on hold"* ]]
}

# bats test_tags=plain
@test "what was held after the plan is not taken as planned by log --all" {
    has morning
    neap hold tank D1 --reason crashed
    run neap log 1 --all
    [ "$status" -eq 0 ]
    [[ $output == *"not taken as planned: Tank D1 is on hold"* ]]
    [[ $(flat) == *"not yet: D1 1-14"* ]]
    neap log 1 1-14=n
    run neap log 1 --all
    [[ $output == *"all 137 lines are accounted for"* || $output == *"lines are accounted for"* ]]
}

# bats test_tags=plain
@test "a begun round drops a tank that was held, and logs its lines as not given" {
    has morning
    neap log 1 15
    neap hold tank D1 --reason crashed
    run neap plan --from-now --now 08:20
    [ "$status" -eq 0 ]
    [[ $output == *"14 lines not given any more, as things stand: logged so"* ]]
    run neap log 1 --show
    [[ $output == *"not given"* ]]
    run neap sheet --no-pages
    [[ $output != *"CHANGED SINCE"* ]]
    [ "$(grep -c ' none ' <<<"$output")" -ge 14 ]
    dropped=$(grep -c 'FLOW ON, look.* none ' <<<"$output")
    [ "$dropped" -ge 1 ]
    grep -F "ALL FLOWS ON: ____ of $(($(grep -c 'FLOW ON, look' <<<"$output") - dropped))" <<<"$output"
    neap undo --yes
    run neap sheet --no-pages
    [[ $output == *"Tank D1 is on hold, until released: crashed."* ]]
}

# bats test_tags=plain
@test "a flow that is off when its tank is held comes on again" {
    has morning
    off=$(sql "SELECT number FROM line WHERE tank = 'D1' AND action = 'flow-off'")
    [ -n "$off" ]
    neap log 1 "1-$off"
    neap hold tank D1 --reason crashed
    run neap plan --from-now --now 09:00
    [ "$status" -eq 0 ]
    neap sheet --tank D1 --no-pages | grep "FLOW ON, look.*\[ \]__:__"
}

# bats test_tags=plain
@test "deaths, a move, a recalled lot and a worse test are told on the sheet" {
    has morning
    dead=$(sql "SELECT colony FROM line WHERE action = 'target' AND count > 1 AND round = 1 LIMIT 1")
    [ -n "$dead" ]
    run neap count "$dead" 1 died
    [ "$status" -eq 0 ]
    [[ $output == *"instead of"* ]]
    gone=$(sql "SELECT colony FROM line WHERE action = 'target' AND colony <> '$dead' AND round = 1 LIMIT 1")
    neap retire colony "$gone"
    lot=$(sql "SELECT lot FROM pot_food WHERE lot IS NOT NULL AND round = 1 LIMIT 1")
    neap retire lot "$lot"
    old=$(sql "SELECT lot FROM pot_food WHERE lot IS NOT NULL AND lot <> '$lot' AND round = 1 LIMIT 1")
    neap set lot "$old" use_by=2026-11-26
    held=$(sql "SELECT colony FROM line WHERE action = 'target' AND colony NOT IN ('$dead', '$gone') AND round = 1 LIMIT 1")
    neap hold colony "$held" --reason "torn tissue"
    neap test display no3=40 po4=0.5 --at 2026-11-27T07:00 </dev/null
    neap test display no3=41 po4=0.5 --at 2026-11-27T07:30 </dev/null
    run neap sheet --no-pages
    [[ $(flat) == *"$gone: none left. Leave it out."* ]]
    [[ $(flat) == *"Lot $lot, "*": used up, discarded or recalled. Do not use it."* ]]
    [[ $(flat) == *"Lot $old, "*": out of date. Do not use it."* ]]
    [[ $(flat) == *"$held: on hold, until released: torn tissue. Leave it out."* ]]
}

# bats test_tags=plain
@test "a command that has nothing to do with the round says nothing of it" {
    has morning
    run neap add system pond
    [ "$status" -eq 0 ]
    [[ $output != *"no longer fits"* ]]
    neap hold tank D1 --reason crashed --dry-run >out 2>&1
    run grep "no longer fits" out
    [ "$status" -eq 1 ]
}
