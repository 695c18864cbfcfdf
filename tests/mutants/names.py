"""Names of mutants that outlive an edit elsewhere in the file."""

import re
from collections import Counter

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
