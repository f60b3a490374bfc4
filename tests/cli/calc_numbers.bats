#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# bats file_tags=plain
load helper

# number KEY ARGUMENTS…: one number of a calculation's JSON
number() {
    neap calc --json "${@:2}" | jq -r ".answers.$1"
}

# near VALUE EXPECTED TOLERANCE
near() {
    awk -v a="$1" -v b="$2" -v t="$3" 'BEGIN { d = a - b; exit !(a != "" && d <= t && -d <= t) }' ||
        { echo "$1 is not $2 ± $3"; return 1; }
}

@test "a box of 30 by 12 cm with 20 cm of water holds 7.2 L (MSD Veterinary Manual, tank volumes)" {
    run -0 neap calc volume 30cm 12cm 20cm
    [ "${lines[0]}" = "gross volume      7.2 L  =  1.902 US gal  =  1.584 imp gal" ]
}

@test "a round tank of 7.5 m and 2 m of water holds 88.36 m3 (AquaText, bath treatments)" {
    near "$(number gross_l volume cylinder diameter=7.5m water=2m)" 88357.3 0.05
}

@test "displacement is taken off, as a percentage or a part" {
    [ "$(number net_l volume 120 60 50 displacement=10%)" = 324 ]
    [ "$(number net_l volume 120 60 50 displacement=0.1)" = 324 ]
}

@test "80 US gallons in every usual unit (3.785411784 L, exact)" {
    near "$(number l convert 80usgal)" 302.83294272 1e-8
    run -0 neap calc convert 80usgal
    [[ "$output" == *"66.6139 imp gal"* ]]
}

@test "words of a quantity need no quotes" {
    near "$(number mg_l_no3 convert 2.2 mg/L NO3-N to mg/L NO3)" 9.74 0.005 # laboratory note: 9.74 mg/L
    near "$(number mg_l_po4 convert 100 ppb P to mg/L PO4)" 0.30661 5e-6    # by 2021 atomic weights
}

@test "25.0 mL of 15.8 M made up to 1.50 L is 0.263 M (Bishop, An Introduction to Chemistry)" {
    near "$(number conc dilute stock=15.8 amount=25.0mL to=1.50L)" 0.263 0.0005
}

@test "450 mL at 1.80 M from a stock of 9.00 M takes 90 mL (study-site answer)" {
    near "$(number stock_ml dilute stock=9.00 want=1.80 to=450mL)" 90 1e-9
}

@test "1 mL of 285 g per US gallon in 10 gallons is 2 mg/L (Univ. Florida IFAS FA37)" {
    near "$(number rise_mg_l dose volume=10usgal amount=1mL solution=75.29g/L)" 2 0.02
}

@test "160 g of a product make 40 mg/L in 4 m3, and ten times that at a tenth of its strength (fish farmers' note)" {
    [ "$(number amount_g dose volume=4m3 rise=40mg/L)" = 160 ]
    [ "$(number amount_g dose volume=4m3 rise=40mg/L active=10%)" = 1600 ]
}

@test "80 US gallons get 15 and 20 mL by the practice rates (common practice)" {
    [ "$(number dose_ml broadcast 80usgal 4.96)" = 15 ]
    [ "$(number dose_ml broadcast 80usgal 6.61)" = 20 ]
}

@test "a broadcast never passes its ceiling, not even by rounding" {
    [ "$(number dose_ml broadcast 80usgal 6.61 ceiling=5mL/100L step=0.5mL)" = 15 ]
    run -0 neap calc broadcast 80usgal 6.61 ceiling=5
    [[ "$output" == *"Cut to the ceiling."* ]]
}

@test "three changes of 20 % take 50 mg/L to 25.6 (0.8 cubed)" {
    near "$(number after_mg_l change level=50 change=20% times=3)" 25.6 1e-9
    near "$(number after_mg_l change level=50 change=60L volume=300L times=3)" 25.6 1e-9
}

@test "a continuous change to a quarter takes ln 4 volumes" {
    near "$(number change_frac change level=20 to=5 way=continuous)" 1.3862943611 1e-9
}

@test "sea water of 35 at 25 degrees is 1023.343 kg/m3 (UNESCO Tech. Pap. Mar. Sci. 44, p. 19)" {
    # The table is on the temperature scale of 1968; 24.994 degrees of today's are 25 of that.
    near "$(number density_kg_m3 density 35psu 24.994C)" 1023.34306 0.0001
}

@test "specific gravity and salinity come back to each other" {
    sg=$(number specific_gravity density salinity=33psu temp=20C ref=20C)
    near "$(number salinity_psu density sg="$sg" temp=20C ref=20C)" 33 1e-6
}

@test "16 to 1 by moles is 10.446 to 1 by mass of the ions (Redfield)" {
    near "$(number np_ratio_molar ratio no3=10.446 po4=1)" 16 0.001
}

@test "0.8 g per 100 mL are 12 g in 1500 mL, and back" {
    near "$(number dry_g strength 0.8g/100mL 1500mL)" 12 1e-9
    near "$(number strength_g_per_100ml strength 1500mL dry=12g)" 0.8 1e-9
}

@test "35 drops of 17.5 to the mL are 2 mL (Univ. Houston pharmacy module)" {
    near "$(number volume_ml drops 35 per_ml=17.5)" 2 1e-9
}

@test "3 mg/L total ammonia at pH 8.6 and 30 degrees hold 0.73 free (SRAC Publication 463)" {
    near "$(number nh3_mg_l ammonia total=3 ph=8.6 temp=30C)" 0.73 0.005
}

@test "1 mg/L more in 100 L takes 10 mL of a solution of 10 mg/mL, and 2 mL are 40 drops of 20 to the mL" {
    neap calc dose volume=100L rise=1mg/L solution=10mg/mL | grep "^amount  *10 mL "
    neap calc drops volume=2mL per_ml=20 | grep "^drops  *40 drops$"
}

@test "30 % made to 10 % is one part in three, and 30 mg/mL to 10 mg/mL too" {
    neap calc dilute stock=30% want=10% to=1L | grep "^stock  *333.3 mL "
    neap calc dilute stock=30mg/mL want=10mg/mL to=1L | grep "^water  *666.7 mL "
}

@test "100 L of sea water of 35 at 25 degrees weigh 102.33 kg (UNESCO, as above), and a tenth of 200 L is 20 L" {
    neap calc density salinity=35 temp=25C volume=100L | grep "^mass  *10233[34] g "
    neap calc change level=20 change=10% volume=200L | grep "^new water  *20 L "
}

@test "a dose of less than one step of the measure says so" {
    neap calc broadcast 65usgal 4.96 step=100 | grep "less than one step"
}
