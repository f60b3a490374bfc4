# SPDX-License-Identifier: GPL-3.0-or-later
# A pack's label, typed as it is printed.
load helper

value() { neap --json list "$1" "$2" | jq ".$1[0].$3"; }

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

@test "the calculator reads a label as add food does" {
    run neap calc label protein=45% phosphorus=1.2% moisture=8 "rate=5 mL per 50 US gal" "ceiling=2 g per 100 L"
    [ "$status" -eq 0 ]
    [[ $output == *"nitrogen          72 mg/g"* && $output == *"phosphorus        12 mg/g"* ]]
    [[ $output == *"rate              2.642 mL per 100 L"* && $output == *"ceiling           2 g per 100 L"* ]]
    neap --json calc label protein=8% density=1.05 | jq -e '.answers.n_mg_per_unit - 13.44 | fabs < 1e-9'
    refuses 2 "needs some of what the label prints" calc label density=2
    refuses 1 "density is 0" calc label protein=8% density=0
}
