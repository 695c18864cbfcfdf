#!/usr/bin/env python3
"""Independent reference for permil: evaluates formulas and finds optima with scipy.

    python3 oracle.py BRIEF                        the optimum, as JSON
    python3 oracle.py --evaluate BRIEF FORMULA     one formula judged, as JSON
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

from evaluate import LOOSE, evaluate
from resolve import neat_parts, read_formula, read_problem
from several import solve_any


@contextmanager
def quiet_output():
    """HiGHS now and then writes a line of its own on standard output, which belongs to the JSON alone."""
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def plain(parts: dict[str, Fraction] | None) -> dict[str, float] | None:
    return None if parts is None else {name: float(dose) for name, dose in parts.items()}


def optimum_report(brief: Path, seconds: float = 60.0) -> dict:
    problem = read_problem(brief)
    with quiet_output():
        answer = solve_any(problem, seconds)
    report = {"status": answer.status, "method": answer.method, "bound": answer.bound, "cheapest": answer.cheapest}
    if answer.verdict is not None:
        report.update(answer.verdict.report())
    report["formula"] = plain(answer.parts)
    if problem.basis == "bottle" and answer.parts is not None:
        report["neat"] = plain(neat_parts(problem.palette, problem.basis, answer.parts))
    if answer.note:
        report["note"] = answer.note
    return report


def evaluation_report(brief: Path, formula: Path) -> dict:
    problem = read_problem(brief)
    basis, parts, _ = read_formula(formula)
    if basis != problem.basis:
        raise SystemExit(f"the formula counts {basis} parts, the brief {problem.basis} parts")
    return {"status": "evaluated", **evaluate(problem, parts, LOOSE).report(), "formula": plain(parts)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("brief", type=Path)
    parser.add_argument("formula", type=Path, nargs="?")
    parser.add_argument("--evaluate", action="store_true", help="judge FORMULA instead of solving")
    parser.add_argument("--seconds", type=float, default=60.0, help="at most, for each integer programme")
    args = parser.parse_args()
    if args.evaluate != (args.formula is not None):
        parser.error("--evaluate takes a BRIEF and a FORMULA")
    report = evaluation_report(args.brief, args.formula) if args.evaluate else optimum_report(args.brief, args.seconds)
    print(json.dumps(report, indent=2, ensure_ascii=False))


if __name__ == "__main__":
    main()
