# SPDX-License-Identifier: GPL-3.0-or-later
# Data is printed in the shapes that docs/schema publishes.
load helper

# bats test_tags=plain
@test "what --json prints is as docs/schema says, in a young, an old and a small shop" {
    NEAP=$(realpath "$NEAP") run /usr/bin/python3 -B "$BATS_TEST_DIRNAME/schema.py"
    echo "$output"
    [ "$status" -eq 0 ]
    [[ $output == *"answers are as docs/schema says"* ]]
}

@test "where a lot went, and how long a treatment took, are data too" {
    has demo
    neap treat Q1-001 "iodine dip" --minutes 10
    neap --json treat | jq -e '.treatments[0].duration_min == 10'
    neap plan
    neap log --all
    neap --json stock --lot WM-41 --where | jq -e '.food == "whole mysid" and .unit == "g" and (.uses | length > 0)
        and (.uses | map(.as == "fish" and .colony == "" and .amount_units > 0) | all)'
}
