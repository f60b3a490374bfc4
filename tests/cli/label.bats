# SPDX-License-Identifier: GPL-3.0-or-later
# A pack's label, typed as it is printed.
load helper

value() { neap --json list "$1" "$2" | jq ".$1[0].$3"; }

# bats test_tags=plain
@test "a food's label is reckoned into the register, and what it was reckoned by is told" {
    neap start
    neap add food flakes form=powder unit=g protein=45% "moisture=min. 8 %" phosphorus=1.2 "rate=1 g per 50 US gal" \
        "ceiling=5 g for 100 L" 'price=$12.50' >said
    grep -q "protein 45%: n_mg_per_unit 72 of nitrogen, protein / 6.25" said
    [ "$(value food flakes n_mg_per_unit)" = 72 ] # 450 mg of protein in a gram, 16 % of it nitrogen
    [ "$(value food flakes p_mg_per_unit)" = 12 ]
    [ "$(value food flakes solids_frac)" = 0.92 ]
    [ "$(value food flakes broadcast_units_per_100l)" = 0.528344 ] # 100 / (50 x 3.785411784)
    [ "$(value food flakes ceiling_units_per_100l)" = 5 ]
    [ "$(value food flakes price_cents)" = 1250 ]
}

# bats test_tags=plain
@test "of a liquid a label's parts count by mL, by the density typed or kept, and spoons by either" {
    neap start
    neap add food broth form=liquid unit=ml density_g_per_ml=1.05 protein=8% "ceiling_units_per_100l=5 mL per 50 US gal"
    [ "$(value food broth n_mg_per_unit)" = 13.44 ] # 84 mg in a mL of 1.05 g, over 6.25
    [ "$(value food broth ceiling_units_per_100l)" = 2.641721 ]
    neap set food broth density_g_per_ml=1.1 protein=8%
    [ "$(value food broth n_mg_per_unit)" = 14.08 ]
    neap set food broth phosphorus=1%
    [ "$(value food broth p_mg_per_unit)" = 11 ]
    neap set food "rich powder" "ceiling=1 tsp per 100 L" # of 0.45 g/mL: 4.929 mL are 2.218 g
    [ "$(value food "rich powder" ceiling_units_per_100l)" = 2.218015 ]
}

# bats test_tags=plain
@test "what no label prints is refused, and nothing is stored" {
    neap start
    refuses_and_keeps 1 "protein: \"120%\" is not within 0 and 100 %" add food x form=powder unit=g ceiling=1 protein=120%
    refuses_and_keeps 1 "expected a percentage" add food x form=powder unit=g ceiling=1 protein=45cm
    refuses_and_keeps 1 "write usgal or impgal" add food x form=powder unit=g "ceiling=1 g per 50 gal"
    refuses_and_keeps 1 "expected such as 5 mL per 50 US gal" add food x form=powder unit=g "ceiling=a spoon"
    refuses_and_keeps 1 "unit is empty" add food x form=powder protein=4% ceiling=1
    refuses_and_keeps 1 "expected such as 12.50" add food x form=powder unit=g ceiling=1 price=12,50
    refuses_and_keeps 1 "parts of a cent" add food x form=powder unit=g ceiling=1 price=12.505
    refuses_and_keeps 1 "no price" add food x form=powder unit=g ceiling=1 price=-3
    refuses_and_keeps 2 "given twice" add food x form=powder unit=g ceiling=1 protein=4% n_mg_per_unit=3
    refuses_and_keeps 2 "given twice" add food x form=powder unit=g ceiling=1 n_mg_per_unit=3 protein=4%
    refuses_and_keeps 2 "" set tank D1 price=3
}

# bats test_tags=plain
@test "prices are typed and loaded as money, and said in the house's currency" {
    has demo
    neap set setting currency=EUR
    neap set food "rich powder" price=56
    neap retire lot RP-127
    neap plan
    neap log --all
    neap stock >page
    tr -s ' \n' ' ' <page | grep -q "rich powder: 1 x 250 g, 56.00 EUR in all"
    grep -q "^PRICE OF THE FOOD, EUR" page
    printf 'Code;Food;Amount units;Price\nA;rich powder;100;12,50\nB;rich powder;100;3\n' >lot.csv
    neap load lot.csv
    [ "$(value lot A price_cents)" = 1250 ]
    [ "$(value lot B price_cents)" = 300 ]
}

# bats test_tags=plain
@test "a file of foods takes a label as add food does, as a spreadsheet writes it" {
    neap start
    printf 'Name;Form;Unit;Density g per ml;Protein %%;Moisture;Phosphorus;Rate;Ceiling;Price\nFlakes;powder;g;;45,5;min. 8 %%;1,2%%;1 g per 50 US gal;5 g for 100 L;12,50 EUR\nBroth;liquid;ml;1,05;8;;;2,5 mL per 100 L;5 mL per 50 US gal;$3\n' >food.csv
    neap load food.csv
    neap add food typed form=powder unit=g protein=45.5% "moisture=min. 8 %" phosphorus=1.2% "rate=1 g per 50 US gal" \
        "ceiling=5 g for 100 L" "price=12.50 EUR"
    [ "$(neap --json list food Flakes | sed 's/Flakes/typed/')" = "$(neap --json list food typed)" ]
    [ "$(value food Broth n_mg_per_unit)" = 13.44 ]
    [ "$(value food Broth ceiling_units_per_100l)" = 2.641721 ]
    [ "$(value food Broth broadcast_units_per_100l)" = 2.5 ]
    [ "$(value food Broth price_cents)" = 300 ]
    [ "$(value food Broth solids_frac)" = null ] # nothing under the heading
    # a file that leaves unit and density out goes by what is stored
    printf 'name,protein,ceiling_units_per_100l\nBroth,4%%,3 mL per 100 L\n' >food.csv
    neap load food.csv
    [ "$(value food Broth n_mg_per_unit)" = 6.72 ]
    [ "$(value food Broth ceiling_units_per_100l)" = 3 ]
}

@test "what a label in a file cannot mean is told at its cell, and nothing is stored" {
    has demo
    printf 'name,protein,ceiling_units_per_100l,price_cents\nrich powder,40%%,3 g per 100 gal,24.90\nx,4%%,3 g per 100 L,2\nsoft pellet,140%%,4,4\ncopepods,8cm,3,3\nminced krill,8,9000000 g per 100 L,3\n' >food.csv
    refuses_and_keeps 1 "nothing stored" load food.csv
    [[ $output == *'food.csv:2:33: price_cents is "24.90"; expected whole cents, such as 1250 for 12.50; 12.50 goes by price'* ]]
    [[ $output == *"food.csv:3:3: unit is empty; expected g or ml"* ]]
    [[ $output == *'food.csv:4:13: protein: "140%" is not within 0 and 100 %'* ]]
    [[ $output == *'food.csv:5:10: protein: "8cm" is a length; expected a percentage'* ]]
    [[ $output == *"food.csv:6:16: ceiling: "*"makes ceiling_units_per_100l 9000000; expected 0.0001 to 10000"* ]]
    printf 'name,ceiling_units_per_100l\nrich powder,3 g per 100 gal\n' >food.csv
    refuses_and_keeps 1 "food.csv:2:13: ceiling: " load food.csv
    printf 'name,protein,n_mg_per_unit\nrich powder,40,3\n' >food.csv
    refuses_and_keeps 1 "n_mg_per_unit is there twice, in heading 2 and in 3" load food.csv
    printf 'name,protien\nrich powder,40\n' >food.csv
    refuses_and_keeps 1 'did you mean "protein"?' load food.csv
    printf 'name;protein;moisture\nrich powder;40,5;8.5 %%\n' >food.csv
    refuses_and_keeps 1 "has a comma in its number" load food.csv
    refuses_and_keeps 1 "makes ceiling_units_per_100l 500000000; expected 0.0001 to 10000" add food y form=powder unit=g "ceiling=5000000 g per 1 L"
    refuses_and_keeps 1 "12.50 goes by price" set food "rich powder" price_cents=24.90
}

@test "the calculator reads a label as add food does" {
    run neap calc label protein=45% phosphorus=1.2% moisture=8 "rate=5 mL per 50 US gal" "ceiling=2 g per 100 L"
    [ "$status" -eq 0 ]
    [[ $output == *"nitrogen          72 mg/g"* && $output == *"phosphorus        12 mg/g"* ]]
    [[ $output == *"rate              2.642 mL per 100 L"* && $output == *"ceiling           2 g per 100 L"* ]]
    neap --json calc label protein=8% density=1.05 | jq -e '.answers.n_mg_per_unit - 13.44 | fabs < 1e-9'
    refuses 2 "needs some of what the label prints" calc label density=2
    refuses 1 "density is 0" calc label protein=8% density=0
}
