#!/usr/bin/env python3
"""Names the mutants that no test noticed and that nobody has accepted.

usage: left.py MUTANTS.json RESULTS ACCEPTED

ACCEPTED (accepted.txt) has one mutant a line (names.py) below the reason for it: lines that
begin with #. Ends with 1 where a mutant is left.
"""

import json
import sys
from pathlib import Path

from names import NOTICED, names


def main():
    called = dict(enumerate(names(json.loads(Path(sys.argv[1]).read_text())), 1))
    fates = {}
    for line in Path(sys.argv[2]).read_text().splitlines():
        number, fate, *_ = line.split("\t")
        fates[int(number)] = fate
    lines = Path(sys.argv[3]).read_text().splitlines()
    accepted = {line for line in lines if line and not line.startswith("#")}
    left = [(called[n], fate) for n, fate in fates.items() if fate not in NOTICED and called[n] not in accepted]
    for name, fate in left:
        print(f"{fate}\t{name}")
    for name in sorted(accepted - set(called.values())):
        print(f"accepted and not there any more: {name}", file=sys.stderr)
    noticed = {called[n] for n, fate in fates.items() if fate in NOTICED}
    for name in sorted(accepted & noticed):
        print(f"accepted and noticed all the same: {name}", file=sys.stderr)
    if left:
        sys.exit(f"no test noticed {len(left)} of {len(fates)}")


if __name__ == "__main__":
    main()
