#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Are two grey pictures (PGM, either may be packed by gzip) the same page? Letters may lie a little elsewhere with another
version of the fonts or of cairo; a line that is missing or has moved may not.

Usage: likeness.py KEPT.pgm.gz MADE.pgm
"""
import gzip
import sys

NEAR = 1  # a pixel may find its like so many pixels away
DIFFERENT = 90  # of 255
MOST = 0.001  # share of pixels without a like


def read(path):
    data = (gzip.open if path.endswith(".gz") else open)(path, "rb").read()
    fields = data.split(maxsplit=4)
    assert fields[0] == b"P5" and fields[3] == b"255", path
    width, height = int(fields[1]), int(fields[2])
    return width, height, data[-width * height:]


def strangers(a, b, width, height):
    n = 0
    for y in range(height):
        for x in range(width):
            v = a[y * width + x]
            if abs(v - b[y * width + x]) < DIFFERENT:
                continue
            around = [b[j * width + i] for j in range(max(0, y - NEAR), min(height, y + NEAR + 1))
                      for i in range(max(0, x - NEAR), min(width, x + NEAR + 1))]
            n += min(around) - DIFFERENT > v or max(around) + DIFFERENT < v
    return n


(w, h, kept), (w2, h2, made) = read(sys.argv[1]), read(sys.argv[2])
if (w, h) != (w2, h2):
    sys.exit(f"{sys.argv[2]} is {w2} x {h2}; expected {w} x {h}")
share = max(strangers(kept, made, w, h), strangers(made, kept, w, h)) / (w * h)
if share > MOST:
    sys.exit(f"{sys.argv[2]}: {share:.2%} of it is not as kept; expected at most {MOST:.2%}")
