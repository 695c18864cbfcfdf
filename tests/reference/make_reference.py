#!/usr/bin/env python3
"""Run the reference over every case and write expected.json.

    python3 make_reference.py [NAME ...]    only the named cases are solved and printed, nothing is written
"""

from __future__ import annotations

import json
import platform
import sys
import time
from fractions import Fraction
from pathlib import Path

import numpy
import scipy

from evaluate import LOOSE, evaluate
from oracle import evaluation_report, optimum_report
from resolve import Problem, read_formula, read_problem

HERE = Path(__file__).parent


def check_clear(problem: Problem, formula: Path) -> None:
    """Test formulas must not hang on a tolerance or on a reading of the contract."""
    _, parts, _ = read_formula(formula)
    verdicts = [evaluate(problem, parts, tolerance).broken for tolerance in (Fraction(0), LOOSE, 100 * LOOSE)]
    assert verdicts[0] == verdicts[1] == verdicts[2], f"{formula}: a rule is too near to call"
    assert "sum" not in verdicts[0], f"{formula}: does not add up to 1000"
    for name, dose in parts.items():
        rule = problem.doses[name]
        assert not rule.min <= dose < rule.threshold or rule.fixed is not None, f"{formula}: {name} between min and used"


def expected(folder: Path) -> dict:
    brief = folder / "brief.toml"
    problem = read_problem(brief)
    report = optimum_report(brief)
    report["formulas"] = {}
    for formula in sorted(folder.glob("formula-*.toml")):
        check_clear(problem, formula)
        judged = evaluation_report(brief, formula)
        report["formulas"][formula.name] = {k: v for k, v in judged.items() if k not in ("status", "formula")}
    return report


def main() -> None:
    named, cases = sys.argv[1:], {}
    for folder in sorted((HERE / "cases").iterdir()):
        if named and not any(folder.name.startswith(name) for name in named):
            continue
        start = time.monotonic()
        cases[folder.name] = found = expected(folder)
        broken = [f"{len(f['broken'])}" for f in found["formulas"].values()]
        fidelity = found.get("fidelity")
        print(
            f"{folder.name:28} {found['status']:10} {found['method']:7} {time.monotonic() - start:6.1f} s  "
            f"fidelity {'-' if fidelity is None else format(fidelity, '.3f'):>8}  broken {','.join(broken)}  {found.get('note', '')}"
        )
    if named:
        print(json.dumps(cases, indent=2, ensure_ascii=False))
        return
    versions = {"python": platform.python_version(), "scipy": scipy.__version__, "numpy": numpy.__version__}
    text = json.dumps({"versions": versions, "cases": cases}, indent=1, ensure_ascii=False)
    (HERE / "expected.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
