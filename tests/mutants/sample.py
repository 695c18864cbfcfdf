#!/usr/bin/env python3
"""Finds the mutants of a fixed list among those there are now.

usage: sample.py MUTANTS.json SAMPLE.txt LEFT_OUT

SAMPLE.txt has one mutant a line: its name (names.py), a tab and the test that notices it.
Prints number and test of those found, and writes the numbers of all others to LEFT_OUT.
A name that is not there any more is told and is no failure: its line was rewritten.
"""

import json
import sys
from pathlib import Path

from names import names


def main():
    listed = json.loads(Path(sys.argv[1]).read_text())
    numbers = {name: number for number, name in enumerate(names(listed), 1)}
    wanted = [line for line in Path(sys.argv[2]).read_text().splitlines() if line and not line.startswith("#")]
    found = set()
    for line in wanted:
        name, test = line.split("\t")
        if name in numbers:
            found.add(numbers[name])
            print(f"{numbers[name]}\t{test}")
        else:
            print(f"not there any more: {name}", file=sys.stderr)
    others = sorted(set(range(1, len(listed) + 1)) - found)
    Path(sys.argv[3]).write_text("".join(f"{number}\n" for number in others))


if __name__ == "__main__":
    main()
