#!/usr/bin/env python3
"""Finds the mutants of a fixed list among those there are now.

usage: sample.py MUTANTS.json SAMPLE.txt LEFT_OUT

SAMPLE.txt has one name a line, as cargo-mutants gives it without line and column. Prints
the numbers of those found, and writes the numbers of all others to LEFT_OUT. A name that
is not there any more is told and is no failure: its line was rewritten.
"""

import json
import re
import sys
from pathlib import Path


def main():
    numbers = {}
    listed = json.loads(Path(sys.argv[1]).read_text())
    for number, mutant in enumerate(listed, 1):
        numbers.setdefault(re.sub(r":\d+:\d+:", ":", mutant["name"], count=1), number)
    wanted = [line for line in Path(sys.argv[2]).read_text().splitlines() if line and not line.startswith("#")]
    found = [numbers[name] for name in wanted if name in numbers]
    for name in wanted:
        if name not in numbers:
            print(f"not there any more: {name}", file=sys.stderr)
    others = sorted(set(range(1, len(listed) + 1)) - set(found))
    Path(sys.argv[3]).write_text("".join(f"{number}\n" for number in others))
    print("\n".join(map(str, found)))


if __name__ == "__main__":
    main()
