#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# Readings that call for care: ammonia and nitrite, in quarantine above all.

load helper

front() { neap sheet --no-pages | tr '\n' ' ' | tr -s ' '; }

# bats test_tags=plain
@test "ammonia in quarantine is on the first page and at its tanks, with its free part" {
    has demo
    neap --on 2026-11-26 test quarantine ammonia=0.5 ph=8.3 temp=26 salinity=35 >/dev/null
    neap plan >/dev/null
    # by hand: pKa 10.0423 - 0.0315536 x 26 + 0.003071 x 35 = 9.3294, free 0.0855, 0.5 x 0.0855 x 17.031 / 14.007 = 0.052
    front | grep -F "quarantine: ammonia 0.5 mg/L as NH4-N on 2026-11-26, above 0.25; 0.052 mg/L of it free NH3, above 0.035. Change water, feed less, take out what is not eaten, and test again tomorrow."
    front | grep -F "High ammonia in this water: feed less, and take out what is not eaten."
    [ "$(sql "SELECT count(*) FROM caution JOIN tank ON tank.name = caution.tank
        WHERE text LIKE 'High ammonia%' AND system <> 'quarantine'")" = 0 ]
}

# bats test_tags=plain
@test "nitrite is told of too; what is under its limit, below detection or old is not" {
    has demo
    neap --on 2026-11-26 test quarantine nitrite=1 north ammonia=0.25 south 'ammonia=<0.5' display ammonia=0 >/dev/null
    neap --on 2026-10-20 test west nitrite=4 >/dev/null
    neap plan >/dev/null
    front | grep -F "quarantine: nitrite 1 mg/L as NO2 on 2026-11-26, above 0.5. Change water"
    front | never grep -E "(north|south|display|west): (ammonia|nitrite)"
    neap --on 2026-11-27 test quarantine nitrite=0.3 >/dev/null
    neap plan >/dev/null
    front | never grep "nitrite"
}

# bats test_tags=plain
@test "a little ammonia in alkaline water is told of by its free part alone" {
    has demo
    neap --on 2026-11-26 test north ammonia=0.24 ph=8.6 temp=27 salinity=35 >/dev/null
    neap plan >/dev/null
    # by hand: pKa 9.2978, free 0.1670, 0.24 x 0.1670 x 1.2159 = 0.0487
    front | grep -F "north: ammonia 0.24 mg/L as NH4-N on 2026-11-26; 0.049 mg/L of it free NH3, above 0.035. Change water"
    neap --on 2026-11-27 test north ph=8.0 >/dev/null
    neap plan >/dev/null
    front | never grep "ammonia"
}

# bats test_tags=plain
@test "the weekly report shows them with their targets, and a water without ammonia needs no attention for it" {
    has demo
    for day in 06 13 20 26; do
        neap --on 2026-11-$day test display 'ammonia=<0.1' ph=8.1 alk=8 ca=420 mg=1320 quarantine nitrite=0.1 >/dev/null 2>&1
    done
    neap add band display alk low=7.5 high=8.5 >/dev/null
    neap trend >report.txt
    grep "^ammonia mg/L .*<0.10 *0-0.25 .* below" report.txt
    grep "^pH .* 8.10 *7.8-8.5 .*in band" report.txt
    grep "^alkalinity dKH .* 8.0 *7.5-8.5 .*in band" report.txt
    grep "^calcium mg/L .* 420 *380-460 .*in band" report.txt
    grep "^magnesium mg/L .* 1320 *1250-1400 .*in band" report.txt
    never grep "display: .*Ammonia" report.txt
    [ "$(neap --json trend --system display | jq -r '.systems[0].attention')" = "none" ]
}
