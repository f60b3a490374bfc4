#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Has a PDF the words of the text, each as often? Beyond that it may repeat what stands at the head of pages and of tables.

Usage: words.py FILE.pdf <TEXT
"""
import collections
import re
import subprocess
import sys


def words(text):
    return collections.Counter(re.findall(r"\w+", text.replace("_", " ")))


plain = sys.stdin.read()
drawn = words(subprocess.run(["pdftotext", "-raw", sys.argv[1], "-"], check=True, capture_output=True, text=True).stdout)
# letters of the strip and of words parted at a line's end are runs of their own in either
strip = re.compile(r"[brf]+$")
text = words(plain)
lines = [line for line in plain.splitlines() if line]
titles = set()
for before, line in zip(lines, lines[1:]):
    if set(line) == {"-"}:
        titles |= set(words(before))
info = subprocess.run(["pdfinfo", sys.argv[1]], check=True, capture_output=True, text=True).stdout
running, pages = re.search(r"^Title: *(.*)", info, re.M).group(1), int(re.search(r"^Pages: *(.*)", info, re.M).group(1))
for page in range(1, pages + 1):
    drawn.subtract(words(f"{running} page {page} of {pages}"))
missing = {w: n - drawn[w] for w, n in text.items() if drawn[w] < n and not strip.match(w)}
added = {w: n - text[w] for w, n in drawn.items() if n > text[w] and w not in titles and not strip.match(w)}
if missing or added:
    sys.exit(f"missing: {missing}\nadded: {added}")
