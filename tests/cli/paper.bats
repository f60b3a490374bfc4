#!/usr/bin/env bats
# SPDX-License-Identifier: GPL-3.0-or-later
# The page model as data and as PDF, by the helper that draws it.
load helper

page() { "$(dirname "$NEAP")/neap-page" "$@"; }
kept=$BATS_TEST_DIRNAME/../page

# The sizes of type in a PDF, in whole points.
sizes() { qpdf --qdf --object-streams=disable "$1" - | grep -aoE '^[0-9.]+ 0 0 -[0-9.]+ [0-9. ]+ Tm' | cut -d. -f1 | cut -d' ' -f1 | sort -nu; }

# A store whose names come in many scripts.
scripts() {
    neap start
    neap add system "κύριο" >/dev/null
    neap add tank "танк 1" system="κύριο" shape=box length_cm=200 width_cm=100 water_cm=50 >/dev/null
    neap add colony A-1 tank="танк 1" kind="acans and micromussids" count=3 heads=6 label="珊瑚 rouge, größer" >/dev/null
    neap add colony A-2 tank="танк 1" kind="acans and micromussids" count=2 heads=6 label="مرجان أحمر" >/dev/null
    neap add colony A-3 tank="танк 1" kind="acans and micromussids" count=2 heads=6 label="ปะการังสีแดง" >/dev/null
    neap add colony A-4 tank="танк 1" kind="acans and micromussids" count=2 heads=6 label="लाल मूंगा אלמוג" >/dev/null
    neap add lot RP-1 food="rich powder" amount_units=100 received=2026-11-01 use_by=2027-06-01 >/dev/null
    neap plan >/dev/null
}

# bats test_tags=plain
@test "the demo's round is at most six sides of A4, eight of letter, sound, and the same bytes each time" {
    has demo
    "$NEAP" --on 2026-11-27 plan >/dev/null # with the whole of the usual search
    for paper in a4 letter; do
        most=$([ $paper = a4 ] && echo 6 || echo 8)
        neap sheet --pdf one.pdf --paper $paper | grep -qx "wrote one.pdf"
        neap sheet --pdf two.pdf --paper $paper >/dev/null
        cmp one.pdf two.pdf
        qpdf --check one.pdf
        [ "$(pdfinfo one.pdf | sed -n 's/^Pages: *//p')" -le $most ]
        n=$(pdfinfo one.pdf | sed -n 's/^Pages: *//p')
        # none before the last is half empty, no letter is smaller than 10 points, and times are larger
        [ $paper = letter ] || /usr/bin/python3 "$kept/filled.py" one.pdf | sed '$d' | awk '$1 < 0.5 { exit 1 }'
        [ "$(sizes one.pdf | head -1)" -ge 10 ]
        neap sheet --feeder 1 --pdf list.pdf --paper $paper >/dev/null
        [ "$(sizes list.pdf | tail -1)" -ge 12 ]
        for i in $(seq "$n"); do
            pdftotext -f "$i" -l "$i" one.pdf - | tr '\n' ' ' | grep -q "round 1 rev 1 .*page $i of $n"
        done
    done
    pdfinfo one.pdf | grep -q "612 x 792 pts (letter)"
    neap sheet --pdf one.pdf >/dev/null
    pdfinfo one.pdf | grep -q "(A4)"
    neap sheet --pdf one.pdf --units us >/dev/null
    pdfinfo one.pdf | grep -q "(letter)"
}

# bats test_tags=plain
@test "paper says what the text says, word for word" {
    has round
    neap sheet --pdf all.pdf >/dev/null
    neap sheet --no-pages | /usr/bin/python3 "$kept/words.py" all.pdf
    neap sheet --feeder 2 --pdf two.pdf >/dev/null
    neap sheet --feeder 2 --no-pages | /usr/bin/python3 "$kept/words.py" two.pdf
    # a word less is seen
    run /usr/bin/python3 "$kept/words.py" two.pdf < <(neap sheet --feeder 2 --no-pages; echo FLOW)
    [ "$status" -ne 0 ]
}

# bats test_tags=plain
@test "every kind of block looks as it was looked at and kept" {
    page <"$kept/every.json" >every.pdf
    qpdf --check every.pdf
    pdftoppm -r 60 -gray every.pdf every
    for n in 1 2; do /usr/bin/python3 "$kept/likeness.py" "$kept/every-$n.pgm.gz" every-$n.pgm; done
    page <"$kept/labels.json" | pdftoppm -r 60 -gray - labels
    /usr/bin/python3 "$kept/likeness.py" "$kept/labels-1.pgm.gz" labels-1.pgm
    jq 'del(.blocks[2])' "$kept/every.json" | page | pdftoppm -r 60 -gray - other # an item less, and all under it moves
    never /usr/bin/python3 "$kept/likeness.py" "$kept/every-1.pgm.gz" other-1.pgm
}

# bats test_tags=plain
@test "names of many scripts are drawn with letters that are in the file" {
    scripts
    neap sheet --pdf s.pdf >/dev/null
    qpdf --check s.pdf
    pdftotext s.pdf s.txt
    for word in κύριο танк 珊瑚 größer; do grep -q "$word" s.txt; done
    # Arabic is joined and runs from the right; the letters are there, whatever order they are taken out in
    grep -qE "[ء-ي]{3}" s.txt
    grep -q "[א-ת]" s.txt
    grep -q "[ก-๙]" s.txt
    grep -q "[ऀ-ॿ]" s.txt
    # and every sign has a face that has it: one for a script at the least
    [ "$(pdffonts s.pdf | tail -n +3 | wc -l)" -ge 6 ]
    neap labels colony --pdf l.pdf >/dev/null
    qpdf --check l.pdf
    fonts=$(pdffonts s.pdf | tail -n +3 | awk '{ print $(NF-4) }')
    [[ $fonts == *yes* ]]
    never grep -qx no <<<"$fonts"
}

@test "the page as data has a schema, and what is on it" {
    has round
    neap sheet --json >sheet.json
    jq -e '.schema == 1 and .day == "2026-11-27" and .code == "neap round 1 rev 1 2026-11-27"' sheet.json
    jq -e '[.blocks[] | select(.type == "heading").text] | any(startswith("FEEDER 1: MY LIST"))' sheet.json
    [ "$(jq '[.blocks[] | select(.type == "table" and .columns[0].title == "clock").rows[] | select(.kind == "cells" and .cells[1] != "")] | length' sheet.json)" -eq \
        "$(sql 'SELECT count(*) FROM line')" ]
    page <sheet.json | cmp - <(neap sheet --pdf a.pdf >/dev/null && cat a.pdf)
    refuses 2 "expected no --pdf" sheet --json --pdf a.pdf
    refuses 2 "expected a4 or letter" sheet --pdf a.pdf --paper a5
    refuses 2 "only beside --pdf" sheet --paper a4
    refuses 2 "--made prints text" sheet --made A=430mL --pdf a.pdf
}

# bats test_tags=plain
@test "the weekly report on paper has its charts, all waters first, and the words of the text" {
    has round
    neap log 1 --all >/dev/null
    neap trend --pdf one.pdf | grep -qx "wrote one.pdf"
    neap trend --pdf two.pdf >/dev/null
    cmp one.pdf two.pdf
    qpdf --check one.pdf
    # an overview, and two charts of each system that was tested twice and more
    pdftotext -f 1 -l 1 one.pdf - >first.txt
    for system in south east north quarantine display; do
        for analyte in nitrate phosphate; do grep -q "^$system: $analyte$" first.txt; done
    done
    pdftotext one.pdf all.txt
    [ "$(grep -c "^nitrate, mg/L$" all.txt)" -eq 5 ]
    [ "$(grep -c "2026-12-25" all.txt)" -ge 4 ] # where the forecast ends
    neap trend --pdf n.pdf --system north >/dev/null
    refuses 2 "expected no --pdf" trend --pdf a.pdf --csv
}

# bats test_tags=plain
@test "without its helper neap says so, makes no file, and prints text all the same" {
    has round
    mkdir alone
    cp "$NEAP" alone/neap
    PATH=/nowhere run alone/neap --on 2026-11-27 sheet --pdf a.pdf
    [ "$status" -eq 1 ]
    [[ $output == *"neap-page is not there; expected it beside neap or on the PATH"* ]]
    alone/neap --on 2026-11-27 sheet | grep -q "FEEDING ROUND 1"
    # one that is killed, one that fails, one that reads nothing
    printf '#!/bin/sh\necho half a file\nkill -KILL $$\n' >alone/neap-page
    chmod +x alone/neap-page
    run alone/neap --on 2026-11-27 sheet --pdf a.pdf
    [ "$status" -eq 1 ]
    [[ $output == *"neap-page was ended by signal 9; nothing was made"* ]]
    printf '#!/bin/sh\necho half a file\necho "the ink is out" >&2\nexit 3\n' >alone/neap-page
    run alone/neap --on 2026-11-27 sheet --pdf a.pdf
    [ "$status" -eq 1 ]
    [[ $output == *"neap-page failed (3): the ink is out"* ]]
    [ -z "$(ls | grep pdf)" ]
    # an older file is left as it is
    echo before >a.pdf
    run alone/neap --on 2026-11-27 sheet --pdf a.pdf
    [ "$(cat a.pdf)" = before ]
    refuses 1 "nowhere" sheet --pdf nowhere/a.pdf
}

# bats test_tags=plain
@test "a printer gets the page, and none is an error" {
    has round
    mkdir bin
    printf '#!/bin/sh\ncat >%s/printed.pdf\necho request id is laser-7\n' "$PWD" >bin/lp
    chmod +x bin/lp
    PATH=$PWD/bin:$PATH run neap sheet --feeder 1 --print
    [ "$status" -eq 0 ]
    [[ $output == *"request id is laser-7"* ]]
    neap sheet --feeder 1 --pdf a.pdf >/dev/null
    cmp a.pdf printed.pdf
    PATH=/nowhere run "$NEAP" --on 2026-11-27 sheet --print
    [ "$status" -eq 1 ]
    [[ $output == *"lp is not there"* ]]
}

# bats test_tags=plain
@test "what is no page model is refused, and nothing is drawn" {
    for bad in '' '{' '{"schema": 1}' '{"schema": 9, "blocks": []}' '{"schema": 1, "blocks": [{"type": "poem"}]}' \
        '{"schema": 1, "blocks": [{"type": "table", "columns": []}]}' \
        '{"schema": 1, "blocks": [{"type": "table", "columns": [{"title": "a", "width_ch": 3}], "rows": [{"kind": "cells", "cells": ["1", "2"]}]}]}'; do
        run page <<<"$bad"
        [ "$status" -eq 1 ]
        [[ $output == "neap-page: "* && $output != *PDF* ]]
    done
    run page --paper a5 </dev/null
    [ "$status" -eq 2 ]
    # nothing at all is a page
    page <<<'{"schema": 1, "blocks": []}' | pdfinfo - | grep -q "^Pages: *1$"
}
