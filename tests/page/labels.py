#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Lies every word of each label within its label? The sheets' measures stand here, not taken from the program.

Usage: neap labels … --json | labels.py FILE.pdf SHEET FROM
"""
import html
import json
import re
import subprocess
import sys

MM = 72 / 25.4
# columns, rows, paper in points; width, height, left, top, across from one to the next, down; mm
SHEETS = {
    "3x8": (3, 8, (595, 842), 70, 37, 0, (297 - 8 * 37) / 2, 70, 37),
    "3x7": (3, 7, (595, 842), 63.5, 38.1, (210 - 3 * 63.5 - 2 * 2.5) / 2, (297 - 7 * 38.1) / 2, 66, 38.1),
    "3x10": (3, 10, (612, 792), 25.4 * 2.625, 25.4, 25.4 * 3 / 16, 25.4 / 2, 25.4 * 2.75, 25.4),
}

pdf, sheet, first = sys.argv[1], sys.argv[2], int(sys.argv[3]) - 1
columns, rows, paper, width, height, left, top, across, down = SHEETS[sheet]
labels = [b for b in json.load(sys.stdin)["blocks"] if b["type"] == "labels"][0]["labels"]
boxes = subprocess.run(["pdftotext", "-bbox", pdf, "-"], check=True, capture_output=True, text=True).stdout
found = {}
for page, part in enumerate(boxes.split("<page ")[1:]):
    size = [float(x) for x in re.search(r'width="([\d.]+)" height="([\d.]+)"', part).groups()]
    assert [int(x + 0.5) for x in size] == list(paper), f"the paper is {size}"
    for *box, word in re.findall(r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>', part):
        x0, y0, x1, y1 = (float(v) / MM for v in box)
        column, row = int((x0 - left) // across), int((y0 - top) // down)
        assert 0 <= column < columns and 0 <= row < rows, f"{word} is on no label"
        assert x1 <= left + column * across + width and y1 <= top + row * down + height, f"{word} sticks out"
        found.setdefault(page * columns * rows + row * columns + column - first, []).append(html.unescape(word))
assert sorted(found) == list(range(len(labels))), f"labels {sorted(found)} of {len(labels)}"
for i, words in found.items():
    wanted = f"{labels[i]['title']} {labels[i]['text']}".split()
    assert sorted(" ".join(words).split()) == sorted(wanted), f"{words} for {labels[i]}" # dots carry what they stand for
