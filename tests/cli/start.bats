load helper

@test "the example tables load as they are, and never replace a file" {
    neap start --templates sheets
    [ "$(ls sheets | wc -l)" -eq 8 ]
    neap start
    run neap load sheets
    [ "$status" -eq 0 ] && [[ $output == *"refused 0"* ]]
    neap plan | grep -q "^round 1 revision 1: .* lines, 31 colonies"
    find sheets -name '*.csv' ! -name tank.csv -delete
    refuses 1 "sheets/tank.csv is there already" start --templates sheets
    [ "$(ls sheets)" = tank.csv ]
    refuses 2 "--templates makes no store" start --templates other --demo
}
