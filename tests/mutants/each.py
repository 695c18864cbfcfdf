#!/usr/bin/env python3
"""Runs the woven tests once for each mutant.

usage: each.py MUTANTS.json RESULTS --binary BINARY [--binary BINARY]... [--tree TREE] [--left-out FILE]...
               [--every N [--from K]] [--only FILE] [--named FILE] [--again] [--known FILE]... [--most SECONDS]
               [--seconds N]

First every test is run alone without a mutant: how long it takes, and which mutants' places it
reaches (kept beside RESULTS until a binary is built anew). A mutant is then tried with the
tests that reach it, those first that noticed others of its function or of its file, then those
named like the file, then the quickest, until one fails, or until the next one would take the sum over --most seconds.
RESULTS gets one line for each mutant: its number, what became of it (caught,
survived, timeout, unreached; `unfinished` where tests were left out for their time), its name
and the test that noticed it. Numbers that RESULTS has already are not run again, with --again those
that were not noticed are. --every takes one of N mutants of the list, beginning with the Kth; --only
those whose numbers are in a file; --named those too, each with the test that stands behind its
number alone; --known are RESULTS of an earlier list, whose tests are tried first; --seconds stops
after so long.
"""

import argparse
import json
import os
import re
import resource
import subprocess
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

from names import NOTICED, unplaced

# A test runs for ever where it takes more processor time than so many seconds and so many times
# what it takes without a mutant.
PATIENCE = (0.5, 5)
# Tests of so many seconds together are run in one process.
AT_ONCE = 0.5


def limits(seconds):
    seconds = int(seconds) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))


def start(binary, tests, tree, seconds, mutant, reached="/dev/null"):
    command = [binary, "-Zunstable-options", "--fail-fast", "--quiet", "--test-threads=1", "--exact", *tests]
    environment = {
        **os.environ,
        **{"PERMIL_MUTANT": str(mutant), "PERMIL_REACHED": str(reached), "RUSTC_BOOTSTRAP": "1"},
        **{"PROPTEST_RNG_SEED": "1", "INSTA_UPDATE": "no", "RUST_BACKTRACE": "0", "CARGO_MANIFEST_DIR": str(tree)},
    }
    try:
        return subprocess.run(
            command,
            cwd=tree,
            env=environment,
            capture_output=True,
            timeout=30 + 20 * seconds,
            preexec_fn=lambda: limits(seconds),
        )
    except subprocess.TimeoutExpired:
        return None


def reach_of(binaries, tree, kept):
    """(binary, test) -> (seconds, mutants reached), measured or read again."""
    stamp = [[os.stat(binary).st_size, int(os.stat(binary).st_mtime)] for binary in binaries]
    if kept.exists():
        known = json.loads(kept.read_text())
        if known["stamp"] == stamp:
            return [[binaries[which], *rest] for which, *rest in known["reach"]]
    reach = []
    reached = kept.with_suffix(".reached")
    for binary in binaries:
        listed = subprocess.run([binary, "--list", "--format", "terse"], capture_output=True, check=True, cwd=tree)
        tests = [line[: -len(": test")] for line in listed.stdout.decode().splitlines() if line.endswith(": test")]
        for test in tests:
            reached.unlink(missing_ok=True)
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            ran = start(binary, [test], tree, 900, "reached", reached)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            if ran is None or ran.returncode != 0:
                print(f"fails without a mutant and is left out: {test}", file=sys.stderr)
                continue
            seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            numbers = sorted(set(map(int, reached.read_text().split()))) if reached.exists() else []
            if numbers:
                reach.append([binary, test, round(seconds, 2), numbers])
    which = [[binaries.index(binary), *rest] for binary, *rest in reach]
    kept.write_text(json.dumps({"stamp": stamp, "reach": which}))
    return reach


def portions(tests):
    """The tests in portions for one process each, with their time. The first portions are small,
    since a process takes its tests in an order of its own."""
    portion, sum_of, most = [], 0.0, 1
    for binary, test, seconds in tests:
        if portion and (sum_of + seconds > AT_ONCE or portion[0][0] != binary or len(portion) == most):
            yield portion, sum_of
            portion, sum_of, most = [], 0.0, 2 * most
        portion.append((binary, test))
        sum_of += seconds
    if portion:
        yield portion, sum_of


def try_mutant(number, tests, tree, most):
    """What becomes of one mutant, and the test that decided."""
    if not tests:
        return "unreached", ""
    spent = 0.0
    for portion, seconds in portions(tests):
        if spent and spent + seconds > most:
            return "unfinished", portion[0][1]
        spent += seconds
        names = [test for _, test in portion]
        ran = start(portion[0][0], names, tree, max(PATIENCE[0], PATIENCE[1] * seconds), number)
        if ran is None or ran.returncode in (-24, -9):
            return "timeout", names[0]
        if ran.returncode != 0:
            lines = (ran.stdout + ran.stderr).decode(errors="replace").splitlines()
            failed = sorted(name for name in names if f"    {name}" in lines)
            return "caught", (failed or names)[0]
    return "survived", ""


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("mutants")
    parser.add_argument("results")
    parser.add_argument("--binary", action="append", required=True)
    parser.add_argument("--left-out", action="append", default=[])
    parser.add_argument("--tree")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--from", type=int, default=1, dest="first")
    parser.add_argument("--only")
    parser.add_argument("--named")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--known", action="append", default=[])
    parser.add_argument("--most", type=float, default=60)
    parser.add_argument("--seconds", type=float, default=1e9)
    asked = parser.parse_args()
    listed = json.loads(Path(asked.mutants).read_text())
    tree = Path(asked.tree or Path(asked.mutants).parent / "tree").resolve()
    left_out = {int(n) for file in asked.left_out for n in Path(file).read_text().split()}
    results = Path(asked.results).resolve()
    said = [line.split("\t") for line in results.read_text().splitlines()] if results.exists() else []
    done = {int(line[0]) for line in said if not asked.again or line[1] in NOTICED}
    numbers = [n for n in range(asked.first, len(listed) + 1, asked.every) if n not in left_out | done]
    if asked.only:
        only = {int(line.split("\t")[0]) for line in Path(asked.only).read_text().splitlines()}
        numbers = [n for n in numbers if n in only]
    reaching = defaultdict(list)
    if asked.named:
        lines = [line.split("\t") for line in Path(asked.named).read_text().splitlines()]
        reaching.update({int(number): [(asked.binary[0], test, 1.0)] for number, test in lines})
        numbers = [n for n in numbers if n in reaching]
    else:
        for binary, test, seconds, reached in reach_of(asked.binary, tree, results.with_suffix(".reach.json")):
            for number in reached:
                reaching[number].append((binary, test, seconds))
    # Who noticed what in which function, and in which file.
    noticed = defaultdict(Counter)
    known = {}
    for file in asked.known:
        for line in Path(file).read_text().splitlines():
            _, fate, name, test = line.split("\t")
            if fate in NOTICED:
                known[unplaced(name)] = test
    begun = time.monotonic()
    for _, fate, name, test in said:
        if fate in NOTICED:
            noticed[name.split(":")[0]][test] += 1
    for number in numbers:
        if time.monotonic() - begun > asked.seconds:
            break
        mutant = listed[number - 1]
        places = [(mutant["file"], (mutant.get("function") or {}).get("function_name")), mutant["file"]]
        hint = known.get(unplaced(mutant["name"]))
        words = set(re.split(r"\W+|_", mutant["file"]))

        def first(test):
            shared = len(words & set(re.split(r"\W+|_", test[1])))
            return (test[1] != hint, *(-noticed[of][test[1]] for of in places), -shared, test[2])

        tests = sorted(reaching[number], key=first)
        fate, test = try_mutant(number, tests, tree, asked.most)
        if fate in NOTICED:
            for place in places:
                noticed[place][test] += 1
        with results.open("a") as file:
            file.write(f"{number}\t{fate}\t{mutant['name']}\t{test}\n")


if __name__ == "__main__":
    main()
