"""Names of mutants that outlive an edit elsewhere in the file."""

import re
from collections import Counter


def names(listed):
    """The name of each mutant as cargo-mutants gives it, without line and column; of several
    with one name the second has #2 behind it, and so on in the order of the file."""
    seen = Counter()
    found = []
    for mutant in listed:
        name = re.sub(r":\d+:\d+:", ":", mutant["name"], count=1)
        seen[name] += 1
        found.append(name if seen[name] == 1 else f"{name} #{seen[name]}")
    return found
