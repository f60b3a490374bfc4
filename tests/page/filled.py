#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""How far down each page of a PDF is filled, as a share of its height, a line each.

Usage: filled.py FILE.pdf
"""
import subprocess
import sys

data = subprocess.run(["pdftoppm", "-r", "20", "-gray", sys.argv[1]], check=True, capture_output=True).stdout
while data:
    magic, width, height, most, rest = data.split(maxsplit=4)
    assert magic == b"P5" and most == b"255"
    width, height = int(width), int(height)
    # what follows the last separator byte; a pixel may look like white space
    at = data.index(b"255", len(b"P5")) + 4
    rows, data = data[at:at + width * height], data[at + width * height:]
    inked = [y for y in range(height) if min(rows[y * width:(y + 1) * width]) < 160]
    print(f"{(max(inked, default=-1) + 1) / height:.2f}")
