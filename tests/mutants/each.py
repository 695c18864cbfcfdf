#!/usr/bin/env python3
"""Runs the woven tests once for each mutant.

usage: each.py MUTANTS.json BINARY[,BINARY...] RESULTS [--tree TREE] [--left-out FILE]... [--every N [--from K]]
               [--only FILE] [--tests nearest|quick|all] [--seconds N]

Runs the binaries one after the other in TREE, or else beside MUTANTS.json, until one of
them fails. Appends one line for each mutant to RESULTS: its number, what became of it (caught,
survived, timeout) and its name. Numbers that RESULTS has already are not run again.
--every takes one of N mutants of the list, beginning with the Kth; --only those whose
numbers are in a file; --seconds stops after so long. --tests says which: those nearest to the source
alone, all but what takes more than a second, or all.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

# Seconds of processor time after which a mutant is taken to run for ever: many times what
# the tests take without one.
MOST_SECONDS = {"nearest": 12, "quick": 60, "all": 400}
# What takes more than a second without optimisation.
SLOW = """
bounds::no_bound_lies certificate::answers_of_random certificate::no_change_of_the_text
certificate::the_answer_of_a_long_shelf certificate_kinds::a_bound_on_d certificate_kinds::a_second_checker
certificate_kinds::every_line certificate_kinds::no_forgery certificate_kinds::the_rose_proof
certificate_kinds::what_passes check::ranges_hold enumeration::a_ceiling enumeration::the_
formula_files::saved lp::tests::no_bound_lies ties::a_continuous ties::no_formula
rounding::tests::sheets_of_nine
""".split()
# What speaks of nothing that is changed.
BESIDE = ["analysis::", "files::", "solve::quiet", "store::"]
# The tests nearest to the sources, which are tried first.
NEAREST = {
    "src/balance/rounding": ["balance::rounding", "meaning::weigh"],
    "src/balance": ["balance::", "meaning::judged", "meaning::weigh", "batch::", "--skip=balance::rounding::tests::no_listed"],
    "src/certificate": [
        *["certificate::", "meaning::certificate", "meaning::forgeries", "meaning::verify"],
        *["--skip=answers_of_the_reference", "--skip=no_claim_above"],
    ],
    "src/solve": ["solve::", "meaning::reference", "two_steps"],
    "src": [
        *["formula", "judged", "problem::", "limits", "odour", "meaning::check", "reference::judgements", "rule_places"],
        *["two_steps", "--skip=certificate"],
    ],
}


def limits(seconds):
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))


def nearest(file):
    return next(tests for folder, tests in NEAREST.items() if file.startswith(folder))


def run(binaries, number, wanted, skipped, tree, seconds):
    """What becomes of one mutant; 0 is none."""
    for binary in binaries.split(","):
        fate = run_one(binary, number, wanted, skipped, tree, seconds)
        if fate[0] != "survived":
            break
    return fate


def run_one(binary, number, wanted, skipped, tree, seconds):
    command = [binary, "-Zunstable-options", "--fail-fast", "--quiet", *wanted]
    command += [f"--skip={name}" for name in skipped]
    environment = {**os.environ, "PERMIL_MUTANT": str(number), "RUSTC_BOOTSTRAP": "1", "PROPTEST_RNG_SEED": "1"}
    try:
        ran = subprocess.run(
            command,
            cwd=tree,
            env=environment,
            capture_output=True,
            timeout=20 * seconds,
            preexec_fn=lambda: limits(seconds),
        )
    except subprocess.TimeoutExpired:
        return "timeout", ""
    if ran.returncode == -24 or ran.returncode == -9:
        return "timeout", ""
    output = (ran.stdout + ran.stderr).decode(errors="replace")
    failed = [line.strip() for line in output.splitlines() if line.startswith("    ") and "::" in line]
    return ("survived" if ran.returncode == 0 else "caught"), " ".join(sorted(set(failed))[:1])


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("mutants")
    parser.add_argument("binary")
    parser.add_argument("results")
    parser.add_argument("--left-out", action="append", default=[])
    parser.add_argument("--tree")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--from", type=int, default=1, dest="first")
    parser.add_argument("--only")
    parser.add_argument("--tests", choices=["nearest", "quick", "all"], default="nearest")
    parser.add_argument("--seconds", type=float, default=1e9)
    asked = parser.parse_args()
    listed = json.loads(Path(asked.mutants).read_text())
    tree = asked.tree or Path(asked.mutants).parent / "tree"
    skipped = BESIDE + ([] if asked.tests == "all" else SLOW)
    left_out = {int(n) for file in asked.left_out for n in Path(file).read_text().split()}
    results = Path(asked.results)
    done = {int(line.split("\t")[0]) for line in results.read_text().splitlines()} if results.exists() else set()
    numbers = [n for n in range(asked.first, len(listed) + 1, asked.every) if n not in left_out | done]
    if asked.only:
        only = {int(line.split("\t")[0]) for line in Path(asked.only).read_text().splitlines()}
        numbers = [n for n in numbers if n in only]
    unchanged = run(asked.binary, 0, [], skipped, tree, MOST_SECONDS["all"])
    if unchanged[0] != "survived":
        sys.exit(f"the tests fail without a mutant: {unchanged}")
    begun = time.monotonic()
    for number in numbers:
        if time.monotonic() - begun > asked.seconds:
            break
        wanted = nearest(listed[number - 1]["file"]) if asked.tests == "nearest" else []
        fate, test = run(asked.binary, number, wanted, skipped, tree, MOST_SECONDS[asked.tests])
        with results.open("a") as file:
            file.write(f"{number}\t{fate}\t{listed[number - 1]['name']}\t{test}\n")


if __name__ == "__main__":
    main()
