# SPDX-License-Identifier: GPL-3.0-or-later
load helper

# A shop with one system that is tested as told: readings DAY VALUES…
water() {
    neap start
    neap add system s test_every_d=3
    neap add tank T system=s shape=box length_cm=200 width_cm=100 water_cm=50
    neap add colony A-1 tank=T kind="acans and micromussids" count=6 heads=6
    neap add lot RP-1 food="rich powder" amount_units=100 received=2026-11-01 use_by=2027-06-01
} >/dev/null

read_on() { "$NEAP" --on "2026-11-$1T07:00" test s "${@:2}" </dev/null >/dev/null 2>&1; }

strength() { neap --json trend --system s | jq '.systems[0].strength'; }

steady() {
    water
    for day in 05 08 11 14 17 20 23; do read_on $day no3=8 po4=0.07; done
}

# bats test_tags=plain
@test "one reading far above the band caps the strength and is named on sheet, report and JSON" {
    steady
    [ "$(strength)" = 1 ]
    read_on 27 no3=45 po4=0.4
    [ "$(strength)" = 0.5 ]
    neap plan
    run neap sheet --no-pages
    [[ $(flat) == *"s: latest reading: nitrate 45 mg/L on 2026-11-27 (the line is at 8.0). Test again before it is believed."* ]]
    [[ $(flat) == *"the latest reading is above the band: less until it is repeated"* ]]
    run neap trend --system s
    [[ $(flat) == *"Latest reading: nitrate 45 mg/L on 2026-11-27 (the line is at 8.0)"* ]]
    neap --json trend --system s | jq -e '.systems[0].latest_no3 | startswith("nitrate 45")'
    run neap why s
    [[ $(flat) == *"Latest reading: nitrate 45 mg/L"* ]]
}

# bats test_tags=plain
@test "a second reading that agrees is the state" {
    steady
    read_on 26 no3=28 po4=0.31
    read_on 27 no3=28 po4=0.31
    neap --json trend --system s | jq -e '.systems[0].rule == "nitrate and phosphate both high: half strength"'
    [ "$(strength)" = 0.5 ]
}

# bats test_tags=plain
@test "a reading that its repeat refutes leaves the strength as it was" {
    steady
    read_on 26 no3=45 po4=0.4
    read_on 27 no3=8 po4=0.07
    [ "$(strength)" = 1 ]
    run neap trend --system s
    [[ $output != *"Latest reading"* ]]
}

# bats test_tags=plain
@test "water that has recovered is no longer starved" {
    water
    for day in 03 05 07 09 11 13; do read_on $day no3=8 po4=below0.02; done
    read_on 16 no3=8 po4=0.06
    read_on 19 no3=8 po4=0.10
    read_on 22 no3=8 po4=0.14
    read_on 25 no3=8 po4=0.18
    neap --json trend --system s | jq -e '.systems[0].rule == "phosphate high: three-quarter strength"'
    [ "$(strength)" = 0.75 ]
}

# bats test_tags=plain
@test "a limit above the band's low edge says nothing of starving" {
    water
    for day in 03 06 09 12 15 18 21 24 26 27; do read_on $day no3=8 po4=below0.25; done
    neap --json trend --system s | jq -e '.systems[0].rule | contains("cannot see the band")'
    neap --json trend --system s | jq -e '.systems[0].attention != "phosphate starved"'
}

# bats test_tags=plain
@test "starved water with an old nitrate reading is never answered by less food" {
    water
    read_on 01 no3=8
    for day in 13 16 19 22 25 27; do read_on $day po4=below0.02; done
    neap --json trend --system s | jq -e '.systems[0].strength >= 1'
    neap --json trend --system s | jq -e '.systems[0].rule | contains("never less food")'
}

# bats test_tags=plain
@test "a high nitrate reading takes no food from water that is poor in phosphate" {
    water
    for day in 03 06 09 12 15 18 21 24; do read_on $day no3=8 po4=below0.02; done
    before=$(strength)
    read_on 27 no3=45 po4=below0.02
    [ "$(strength)" = "$before" ]
}

# bats test_tags=plain
@test "two readings that agree are told as the state, in report, sheet and JSON alike, and not to be repeated" {
    steady
    read_on 26 no3=45 po4=0.4
    read_on 27 no3=45 po4=0.4
    run neap trend --system s
    [[ $(flat) == *"nitrate 45.0 mg/L, above the band by the latest tests (the line is at 8.0)"* ]]
    [[ $output != *"Test again"* && $output != *"test again"* ]]
    neap --json trend --system s | jq -e '.systems[0] | .attention == "outside the band" and
        (.analytes[0] | .level_verdict == "above band" and .line_verdict == "in band")'
    neap plan
    run neap sheet --no-pages
    [[ $(flat) == *"nitrate 45 mg/L on 2026-11-27 (the line is at 8.0). The reading before it agrees, so it is believed."* ]]
}

# bats test_tags=plain
@test "what is detected is never printed as below a limit" {
    water
    for day in 03 05 07 09 11 13; do read_on $day no3=8 po4=below0.02; done
    for day in 16 19 22 25; do read_on $day no3=8 po4=0.$day; done
    run neap trend --system s
    [[ $(flat) == *"phosphate 0.250 mg/L, above the band by the latest tests (the line is below detection)"* ]]
    [[ $output != *"<0.25"* && $output != *"under 0.25"* ]]
}

# bats test_tags=plain
@test "a limit above the band's low edge is said not to tell, and takes nothing from a finer reading" {
    water
    for day in 05 08 11 14 17 20 23 26; do read_on $day no3=8 po4=below0.25; done
    run neap trend --system s
    [[ $(flat) == *"phosphate under 0.250 mg/L, which does not tell where in its band it is"* ]]
    neap --json trend --system s | jq -e '.systems[0].attention == "untested"'
    read_on 27 no3=8 po4=below0.02
    neap --json trend --system s | jq -e '.systems[0] | .attention == "phosphate starved" and .strength >= 1'
    "$NEAP" --on 2026-11-27T09:00 test s no3=8 po4=below0.25 </dev/null
    neap --json trend --system s | jq -e '.systems[0] | .attention == "phosphate starved" and .strength >= 1'
}

# bats test_tags=plain
@test "phosphate gone by one reading is to be repeated before more is fed, and nothing lowers it meanwhile" {
    steady
    read_on 27 no3=8 po4=below0.02
    neap --json trend --system s | jq -e '.systems[0] | .strength == 1 and .foods_po4 == "richer" and
        (.held_by | startswith("phosphate is gone by one reading"))'
    run neap trend --system s
    [[ $(flat) == *"phosphate below 0.02 mg/L on 2026-11-27 (the line is at 0.070); test again before it is believed"* ]]
}

# bats test_tags=plain
@test "a zero is taken as below what a test tells from nothing, and that is said" {
    water
    for day in 05 08 11 14 17 20 23; do read_on $day no3=8 po4=0; done
    run -0 --separate-stderr neap test s no3=8 po4=0
    [[ $stderr == *"s: phosphate of 0 is taken as below 0.015 mg/L"*"po4=below0.015"* ]]
    neap --json trend --system s | jq -e '.systems[0] | .attention == "phosphate starved" and .strength == 1.25'
}
