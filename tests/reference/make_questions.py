#!/usr/bin/env python3
"""Answer the questions around a proposal with scipy and write questions.json.

    python3 make_questions.py

For each case of expected.json that has a formula, and for the rose scenario: the least and the greatest
continuous dose of every material within one point of the best fidelity (linprog); the smallest change that
moves formula-a.toml in a direction (milp); the least addition that does (milp); and how far the formulas lie
apart in odour shares.
"""

from __future__ import annotations

import copy
import json
from fractions import Fraction
from math import ceil, floor
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from continuous import SHARP, gap_cost, gap_rows
from evaluate import LOOSE, evaluate
from oracle import optimum_report, quiet_output
from resolve import LEAST_DOSE, neat_parts, read_formula, read_problem
from rows import Impossible, build
from whole import WholeProgramme

HERE = Path(__file__).parent
ROSE = HERE.parent.parent / "profiles" / "rose-otto"
MARGIN, BY = 1.0, Fraction(1, 4)
LEAST_SHARE = 0.02  # of the beaker in what it becomes


def worst_loss(problem) -> float:
    total = sum(aim.weight * aim.score for aim in problem.aims.values())
    return float(total) * (2.0 if problem.match == "balance" else 1.0)


def without_steps(problem, keep_least: bool):
    """Steps set aside; counts and least doses of what need not be used too, unless they are kept."""
    free = copy.deepcopy(problem)
    if not keep_least:
        free.max_materials = None
    for rule in free.doses.values():
        rule.step = None
        if not keep_least and not rule.must:
            rule.min = Fraction(0)
    return free


def spans(problem, ceiling: float) -> dict:
    """{material: [least, greatest]} over continuous doses with N <= ceiling D."""
    programme = build(without_steps(problem, False))
    n, m = len(programme.columns), len(programme.gaps)
    weight = np.array([float(v) for v in programme.weight])
    reference = 1000 * float(np.median(weight[weight > 0]))
    upper, bounds = [np.concatenate([-ceiling * weight / reference, gap_cost(programme)])], [0.0]
    for coefficients, bound in programme.rows:
        size = float(max((abs(v) for v in coefficients), default=0))
        if size > 0:
            upper.append(np.concatenate([[float(v) / size for v in coefficients], np.zeros(2 * m)]))
            bounds.append(float(bound) / size)
    box = [(float(c.low) if c.always else 0.0, float(c.high)) for c in programme.columns] + [(0, None)] * (2 * m)
    found = {}
    for j, column in enumerate(programme.columns):
        ends = []
        for sign in (1.0, -1.0):
            cost = np.zeros(n + 2 * m)
            cost[j] = sign
            result = linprog(
                cost,
                A_ub=np.array(upper),
                b_ub=bounds,
                A_eq=np.vstack([np.concatenate([np.ones(n), np.zeros(2 * m)]), gap_rows(programme, reference)]),
                b_eq=np.concatenate([[1000.0], np.zeros(m)]),
                bounds=box,
                method="highs",
                options=SHARP,
            )
            assert result.status == 0, (column.name, result.message)
            ends.append(float(result.x[j]))
        found[column.name] = ends
    return found


def direction(problem, programme, profile, more: str, less: str):
    """Rows that ask for BY points more of one descriptor and less of another, to 1e-4 points."""
    up = Fraction(ceil((profile[more] + BY) * 10000), 10000)
    down = Fraction(floor((profile[less] - BY) * 10000), 10000)
    names = list(problem.aims)
    rows = []
    for name, at, sign in ((more, up, -1), (less, down, 1)):
        gap, aim = programme.gaps[names.index(name)], problem.aims[name]
        rows.append(([sign * (g + (aim.score - at) * w) for g, w in zip(gap, programme.weight)], Fraction(0)))
    return rows


def smallest_change(problem, parts, profile, more: str, less: str):
    """The least sum of |changes| in ppt; None where there is none, or a part has no dose of its own here."""
    programme = build(problem)
    names = [c.name for c in programme.columns]
    if any(name not in names for name in parts):
        return "unusable", None
    for column in programme.columns:
        dose = parts.get(column.name, Fraction(0))
        on_grid = column.step is None or (dose / column.step).denominator == 1
        if dose > 0 and (dose < column.low or not on_grid):
            return "off grid", None
    programme.rows.extend(direction(problem, programme, profile, more, less))
    n, old = len(names), [parts.get(name, Fraction(0)) for name in names]
    programme.weight = [Fraction(1, 1000)] * n
    programme.gaps = [[Fraction(int(i == j)) - old[j] / 1000 for i in range(n)] for j in range(n)]
    programme.over = programme.under = [Fraction(1)] * n
    step = WholeProgramme(programme, 60.0).solve(0.0, 1.0)
    if step.status == 2:
        return "infeasible", None
    assert step.status == 0, step.status
    return "optimal", step.least


def least_addition(problem, parts, profile, more: str, less: str):
    """Grams to add to one gram, steps set aside."""
    free = without_steps(problem, True)
    programme = build(free)
    names = [c.name for c in programme.columns]
    if any(name not in names for name in parts):
        return "unusable", None
    programme.rows.extend(direction(problem, programme, profile, more, less))
    n = len(names)
    rows, low, high = [], [], []

    def add(row, least, most):
        rows.append(row)
        low.append(least)
        high.append(most)

    for coefficients, bound in programme.rows:
        size = float(max((abs(v) for v in coefficients), default=0))
        if size > 0:
            add(np.concatenate([[float(v) / size for v in coefficients], np.zeros(n + 1)]), -np.inf, float(bound) / size)
    add(np.concatenate([np.ones(n), np.zeros(n + 1)]), 1000.0, 1000.0)
    boxes = [(0.0, float(c.high)) for c in programme.columns]
    used = []
    for j, column in enumerate(programme.columns):
        row = np.zeros(2 * n + 1)
        row[j], row[n + j] = 1.0, -float(column.high)
        add(row, -np.inf, 0.0)
        row = np.zeros(2 * n + 1)
        row[j], row[n + j] = -1.0, float(column.low)
        add(row, -np.inf, 0.0)
        row = np.zeros(2 * n + 1)
        row[j], row[2 * n] = 1.0, -float(parts.get(column.name, 0))
        add(row, 0.0, np.inf)
        used.append(float(column.always or column.name in parts))
    if programme.count is not None:
        add(np.concatenate([np.zeros(n), np.ones(n), [0.0]]), -np.inf, programme.count)
    cost = np.zeros(2 * n + 1)
    cost[2 * n] = -1.0
    result = milp(
        cost,
        integrality=np.concatenate([np.zeros(n), np.ones(n), [0.0]]),
        bounds=Bounds(
            np.concatenate([[b[0] for b in boxes], used, [LEAST_SHARE]]),
            np.concatenate([[b[1] for b in boxes], np.ones(n), [1.0]]),
        ),
        constraints=LinearConstraint(np.array(rows), low, high),
        options={"mip_rel_gap": 0.0, "time_limit": 60},
    )
    if result.status == 2:
        return "infeasible", None
    assert result.status == 0, result.message
    return "optimal", 1.0 / float(result.x[2 * n]) - 1.0


def shares(problem, parts) -> dict[str, Fraction]:
    materials = problem.palette.materials
    odour = {n: a * materials[n].strength for n, a in neat_parts(problem.palette, problem.basis, parts).items()}
    total = sum(odour.values())
    return {name: 100 * value / total for name, value in odour.items()}


def distance(problem, one, other) -> float:
    a, b = shares(problem, one), shares(problem, other)
    return float(sum(abs(a.get(n, Fraction(0)) - b.get(n, Fraction(0))) for n in {*a, *b}) / 2)


def answers(brief: Path, formulas: list[Path], best: float) -> dict:
    problem = read_problem(brief)
    ceiling = best + MARGIN / 100 * worst_loss(problem)
    with quiet_output():
        found = {"loss": best, "ceiling": ceiling, "leeway": spans(problem, ceiling), "adjust": []}
    read = [(path, *read_formula(path)[:2]) for path in formulas]
    usable = [(path, parts) for path, basis, parts in read if basis == problem.basis and sum(parts.values()) == 1000]
    if len(usable) > 1:
        found["distance"] = {"of": [p.name for p, _ in usable[:2]], "points": distance(problem, usable[0][1], usable[1][1])}
    for path, parts in usable[:1]:
        verdict = evaluate(problem, parts, LOOSE)
        if verdict.loss is None:
            continue
        names = sorted(problem.aims, key=lambda d: verdict.profile[d])
        # Each of the four strongest is made more, the next in line less.
        strong = [d for d in names if verdict.profile[d] >= 2 * BY][-4:]
        for more, less in zip(strong, [*strong[1:], *strong[:1]]):
            if more == less:
                continue
            entry = {"formula": path.name, "more": more, "less": less, "by": float(BY)}
            with quiet_output():
                for key, ask in (("change", smallest_change), ("add", least_addition)):
                    try:
                        status, value = ask(problem, parts, verdict.profile, more, less)
                    except Impossible:
                        status, value = "infeasible", None
                    entry[key] = {"status": status, "value": value}
            found["adjust"].append(entry)
    return found


def main() -> None:
    expected = json.loads((HERE / "expected.json").read_text(encoding="utf-8"))["cases"]
    cases = {}
    for name, case in expected.items():
        folder = HERE / "cases" / name
        if case["status"] == "optimal":
            cases[name] = answers(folder / "brief.toml", sorted(folder.glob("formula-*.toml")), case["loss"])
            print(name, [(a["change"]["status"], a["add"]["status"]) for a in cases[name]["adjust"]])
    rose = optimum_report(ROSE / "brief.toml")
    cases["rose-otto"] = answers(ROSE / "brief.toml", [ROSE / "mod-1.toml"], rose["loss"])
    print("rose-otto", [(a["change"]["status"], a["add"]["status"]) for a in cases["rose-otto"]["adjust"]])
    text = json.dumps({"margin": MARGIN, "cases": cases}, indent=1, ensure_ascii=False)
    (HERE / "questions.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
