#!/usr/bin/env python3
"""Answer what money, strength, a count and a dose buy with scipy and write curves.json.

    python3 make_curves.py

For some cases of expected.json and for the rose scenario: both ends of the price, the least price of effect, the
greatest strength and the greatest dose of some materials (linprog); the least loss at limits between them
(Charnes and Cooper, linprog); and the least loss in the brief's own doses at some budgets and counts (milp).
"""

from __future__ import annotations

import copy
import json
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.optimize import linprog

from continuous import SHARP, cheapest_tie, least_loss
from make_questions import worst_loss, without_steps
from oracle import quiet_output
from resolve import neat_parts, read_problem
from rows import Impossible, build
from solve import solve

HERE = Path(__file__).parent
ROSE = HERE.parent.parent / "profiles" / "rose-otto"
CASES = ["01-plain", "03-weights", "05-whole-parts", "07-limits", "08-joint-reserve", "09-two-products"]
CASES += ["13-bottle-whole", "22-everything"]
PARTS = 5  # limits between two ends


def short(value: float) -> Fraction:
    """A limit that a person could have written."""
    return Fraction(f"{value:.5f}")


def extreme(problem, cost) -> tuple[float, np.ndarray] | None:
    """The least of a linear cost a part over continuous doses."""
    programme = build(problem)
    rows = [(c, b) for c, b in programme.rows if any(c)]
    size = [float(max(abs(v) for v in c)) for c, _ in rows]
    result = linprog(
        cost(programme),
        A_ub=np.array([[float(v) / s for v in c] for (c, _), s in zip(rows, size)]) if rows else None,
        b_ub=[float(b) / s for (_, b), s in zip(rows, size)] if rows else None,
        A_eq=np.ones((1, len(programme.columns))),
        b_eq=[1000.0],
        bounds=[(float(c.low) if c.always else 0.0, float(c.high)) for c in programme.columns],
        method="highs",
        options=SHARP,
    )
    return (float(result.fun), result.x) if result.status == 0 else None


def loss_at(problem, change):
    """The least loss over continuous doses of a changed problem; None where there is no blend."""
    changed = copy.deepcopy(problem)
    change(changed)
    try:
        programme = build(changed)
    except Impossible:
        return None, None, None
    low = [c.low if c.always else Fraction(0) for c in programme.columns]
    status, doses, loss = least_loss(programme, low, [c.high for c in programme.columns])
    return (programme, doses, loss) if status == 0 else (None, None, None)


def per_part(problem, programme, of) -> np.ndarray:
    """What 1000 parts of each column have of something."""
    materials = problem.palette.materials
    content = [neat_parts(problem.palette, problem.basis, {c.name: Fraction(1)}) for c in programme.columns]
    return np.array([float(sum(a * of(materials[n]) for n, a in part.items())) for part in content])


def between(low: float, high: float) -> list[Fraction]:
    return [short(low + (high - low) * k / (PARTS + 1)) for k in range(1, PARTS + 1)]


def set_to(name: str, value):
    return lambda problem: setattr(problem, name, value)


def losses(problem, name: str, limits: list[Fraction]) -> list[dict]:
    return [{"at": float(at), "loss": loss_at(problem, set_to(name, at))[2]} for at in limits]


def price(problem) -> dict:
    free = copy.deepcopy(problem)
    free.max_price = None
    programme, doses, loss = loss_at(free, lambda _: None)
    low = extreme(free, lambda p: np.array([float(v) / 1000 for v in p.price]))[0]
    high = cheapest_tie(programme, doses, loss)
    return {"low": low, "high": high, "best": loss, "points": losses(free, "max_price", between(low, high))}


def effect(problem) -> dict:
    """The least quotient of price and strength, by bisection of its limit."""
    free = copy.deepcopy(problem)
    free.max_price_of_effect = None
    best = loss_at(free, lambda _: None)[2]
    low, high = 0.0, 1e6
    for _ in range(80):
        middle = (low + high) / 2

        def cost(programme, at=middle):
            strength = per_part(free, programme, lambda m: m.strength)
            value = np.array([float(v) for v in programme.price]) - at * strength
            return value / np.abs(value).max()

        found = extreme(free, cost)
        low, high = (low, middle) if found[0] <= 0 else (middle, high)
    limits = [short(high * factor) for factor in (1.02, 1.1, 1.3, 1.7, 3.0)]
    return {"low": high, "best": best, "points": losses(free, "max_price_of_effect", limits)}


def strength(problem) -> dict:
    free = copy.deepcopy(problem)
    free.strength_min = None
    best = loss_at(free, lambda _: None)[2]
    high = -extreme(free, lambda p: -per_part(free, p, lambda m: m.strength) / 1000)[0]
    limits = between(float(problem.strength_min or 0), high)
    return {"high": high, "best": best, "points": losses(free, "strength_min", limits)}


def push(problem, name: str) -> dict:
    """The least loss with the dose of one material forced, and the most of it."""
    free = copy.deepcopy(problem)
    rule = free.doses[name]
    rule.must, rule.fixed, rule.step, rule.min, rule.forbidden_by = False, None, None, Fraction(0), []

    def forced(dose):
        def change(p):
            if dose == 0:
                p.doses[name].forbidden_by = ["asked"]
            else:
                p.doses[name].fixed, p.doses[name].must = dose, True

        return change

    _, _, best = loss_at(free, lambda _: None)

    def of(p, sign):
        return np.array([sign * float(c.name == name) for c in p.columns])

    most = -extreme(free, lambda p: of(p, -1.0))[0]
    points = []
    for dose in [Fraction(0), *between(0.0, most)]:
        points.append({"at": float(dose), "loss": loss_at(free, forced(dose))[2]})
    return {"most": most, "best": best, "points": points}


def whole(problem, name: str, limits) -> list[dict]:
    found = []
    for at in limits:
        changed = copy.deepcopy(problem)
        setattr(changed, name, at)
        answer = solve(changed, 60.0)
        loss = answer.verdict.loss if answer.verdict is not None else None
        found.append({"at": float(at), "status": answer.status, "loss": None if loss is None else float(loss)})
    return found


def answers(brief: Path, is_small: bool) -> dict:
    problem = read_problem(brief)
    relaxed = without_steps(problem, False)
    with quiet_output():
        found = {"worst": worst_loss(problem), "price": price(relaxed), "effect": effect(relaxed), "strength": strength(relaxed)}
        _, doses, _ = loss_at(relaxed, lambda _: None)
        programme = build(relaxed)
        # The three that are most of the best blend, and three that are not in it.
        order = sorted(range(len(doses)), key=lambda j: -doses[j])
        names = [programme.columns[j].name for j in [*order[:3], *order[-3:]]]
        found["push"] = {name: push(relaxed, name) for name in dict.fromkeys(names)}
        if is_small:
            ends = found["price"]
            found["whole"] = whole(problem, "max_price", between(ends["low"], ends["high"])[1::2])
            found["count"] = whole(problem, "max_materials", range(1, 7))
    return found


def main() -> None:
    cases = {}
    for name in CASES:
        cases[name] = answers(HERE / "cases" / name / "brief.toml", True)
        print(name, [point["loss"] for point in cases[name]["price"]["points"]], [p["status"] for p in cases[name]["count"]])
    cases["rose-otto"] = answers(ROSE / "brief.toml", False)
    text = json.dumps({"cases": cases}, indent=1, ensure_ascii=False)
    (HERE / "curves.json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
