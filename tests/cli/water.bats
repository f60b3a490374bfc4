#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
load helper

changes() {
    sql "SELECT printf('%g', volume_l), printf('%g', coalesce(no3_mg_l, 0)), printf('%g', coalesce(po4_mg_l, 0)) FROM live_water
        WHERE system = '$1' AND exchanged >= '2026-11-27'"
}

@test "a change is stored in litres, whatever it was written in" {
    has demo
    run -0 neap water north 300L
    [ "$output" = "north: 300 L changed, 4.7 % of its water, 2026-11-27T12:00
1 new" ]
    [ "$(changes north)" = "300|0|0" ]
    neap water south 80 usgal --no3 0.2 --po4 "3ppb P" # 302.83 L by definition, 0.0092 mg/L PO4
    [ "$(changes south)" = "302.83|0.2|0.0092" ]
}

@test "a percentage is of the system's water" {
    has demo
    volume=$(neap --json water quarantine 100% --dry-run | jq '.water[0].volume_l')
    neap water quarantine 10%
    awk -v all="$volume" -v part="$(changes quarantine | cut -d'|' -f1)" 'BEGIN { exit !(part - all / 10 < 0.01 && all / 10 - part < 0.01) }'
}

# bats test_tags=plain
@test "the same minute again corrects, another minute adds" {
    has demo
    neap water north 300L --at 2026-11-27T08:00
    run -0 neap water north 320L --at 2026-11-27T08:00
    [ "${lines[1]}" = "1 corrected" ]
    neap water north 100L --at 2026-11-27T09:00
    [ "$(changes north)" = "320|0|0
100|0|0" ]
}

# bats test_tags=plain
@test "dry run stores nothing" {
    has demo
    run -0 neap water north 300L --dry-run
    [ "${lines[1]}" = "1 new" ]
    [ "${lines[2]}" = "(dry run: nothing stored)" ]
    [ "$(changes north)" = "" ]
}

# bats test_tags=plain
@test "slips are named and nothing is stored" {
    has demo
    while IFS='|' read -r status words said; do
        run "-$status" --separate-stderr neap water $words
        [ "$stderr" = "neap: $said" ] || { echo "$words: $stderr"; return 1; }
    done <<'ROWS'
1|nort 300L|there is no system "nort"; did you mean "north"?
1|north 300000L|300000L are more than north holds, 6382 L (1686 US gal)
1|north 101%|101% are more than north holds, 6382 L (1686 US gal)
2|north 300|300 of what? expected 300L, 300usgal or 300%
2|north 5g|"5g" is a mass; expected a volume or a percentage
2|north 80gal|"80gal": a US gallon is 3.785 L, an imperial one 4.546 L; write usgal or impgal
2|north 300L --po4 5ppb|--po4="5ppb" may be of phosphate or of phosphorus; expected 5ppb PO4 or 5ppb P
2|north 300L --at 2026-12-01T08:00|--at is 2026-12-01T08:00, which is still to come; expected a moment up to now
2|north|water needs more: neap water SYSTEM VOLUME
ROWS
    [ "$(changes north)" = "" ]
}

# bats test_tags=plain
@test "water without phosphate has a pot of its own, so that the others keep what lowers it" {
    neap start >/dev/null
    for system in reef lagoon; do
        neap add system $system >/dev/null
        neap add tank $system-1 system=$system shape=stated net_volume_l=900 >/dev/null
        neap add colony $system-001 tank=$system-1 kind='branching euphylliids' count=8 heads=30 >/dev/null
    done
    neap add lot P-1 food='phosphate-lowering powder' amount_units=100 >/dev/null
    neap add lot R-1 food='rich powder' amount_units=100 >/dev/null
    for day in 20 24 27; do
        neap test reef no3=6 po4=0.06 --at 2026-11-${day}T08:00 >/dev/null
        neap test lagoon no3=6 po4='<0.02' --at 2026-11-${day}T08:00 >/dev/null
    done
    neap plan >/dev/null
    run neap sheet
    [[ $(flat) == *"POT A for lagoon:"*"no phosphate-lowering powder: lagoon lacks phosphate"*"POT B for reef:"* ]]
    [[ $(flat) == *"POT B for reef:"*"[ ] phosphate-lowering powder (P-1)"* ]]
}
