"""Names of mutants that outlive an edit elsewhere in the file."""

import json
import re
import sys
from collections import Counter
from pathlib import Path

# What may become of a mutant that is noticed.
NOTICED = ("caught", "timeout")


def unplaced(name):
    """A name without line and column."""
    return re.sub(r":\d+:\d+:", ":", name, count=1)


def names(listed):
    """The name of each mutant as cargo-mutants gives it, without line and column; of several
    with one name the second has #2 behind it, and so on in the order of the file."""
    seen = Counter()
    found = []
    for mutant in listed:
        name = unplaced(mutant["name"])
        seen[name] += 1
        found.append(name if seen[name] == 1 else f"{name} #{seen[name]}")
    return found


def main():
    """usage: names.py MUTANTS.json [--numbers] < NUMBERS or NAMES: one as the other, a line each."""
    called = names(json.loads(Path(sys.argv[1]).read_text()))
    lines = sys.stdin.read().split("\n")
    if "--numbers" in sys.argv:
        wanted = set(lines)
        print("\n".join(str(number) for number, name in enumerate(called, 1) if name in wanted))
    else:
        print("\n".join(called[int(line) - 1] for line in lines if line))


if __name__ == "__main__":
    main()
