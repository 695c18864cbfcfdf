#!/usr/bin/env python3
"""Names the mutants that the compiler refuses.

usage: cargo check --lib --tests --message-format=json | refused.py TREE

Prints the number of every woven mutant in which an error lies, or the nearest one around
it: see weave.py.
"""

import json
import re
import sys
from functools import lru_cache
from pathlib import Path

OPENED = re.compile(r"if !?crate::mutant\((\d+)\)")


@lru_cache
def text_of(path):
    text = Path(path).read_text()
    starts = [0]
    starts += [at + 1 for at, sign in enumerate(text) if sign == "\n"]
    # Where the branch of each mutant begins and ends.
    branches = []
    for opened in OPENED.finditer(text):
        end = text.find(f"/*{opened[1]}*/", opened.start())
        branches.append((opened.start(), end, int(opened[1])))
    return text, starts, branches


def main():
    tree, refused, unplaced = Path(sys.argv[1]), set(), 0
    for line in sys.stdin:
        if not line.startswith("{"):
            continue
        message = json.loads(line)
        if message.get("reason") != "compiler-message" or message["message"]["level"] != "error":
            continue
        for span in message["message"]["spans"]:
            while span.get("expansion") and not (tree / span["file_name"]).is_file():
                span = span["expansion"]["span"]
            if not span["is_primary"] or not (tree / span["file_name"]).is_file():
                continue
            text, starts, branches = text_of(tree / span["file_name"])
            at = starts[span["line_start"] - 1] + span["column_start"] - 1
            end = starts[span["line_end"] - 1] + span["column_end"] - 1
            inside = [branch for branch in branches if branch[0] <= at <= branch[1]]
            if inside:
                refused.add(max(inside)[2])
                continue
            # The whole of alternatives: those within it, or else the last before it.
            within = [number for start, _, number in branches if at <= start <= end]
            before = [number for start, _, number in branches if start < at]
            refused.update(within or before[-1:])
            unplaced += 1
    print("\n".join(map(str, sorted(refused))))
    print(f"{len(refused)} refused, {unplaced} errors outside of a branch", file=sys.stderr)


if __name__ == "__main__":
    main()
