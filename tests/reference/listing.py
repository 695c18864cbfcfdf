"""Every formula of a small brief in steps, all of them judged: no rows, no solver, any law.

A first pass judges in floating point, many at a time, and keeps what lies near the best; `evaluate` decides.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from evaluate import evaluate
from film import clocks_of, left
from resolve import TOTAL, Problem, most_of, neat_parts

MOST = 3_000_000  # formulas
NEAR = 1e-9  # of the loss: what the first pass leaves to the exact one


def all_doses(problem: Problem) -> tuple[list[str], np.ndarray]:
    """The names that may be used and every choice of their doses that adds up to 1000, bounds and least doses kept;
    doses are counted in the finest step, so that sums are exact."""
    names = [name for name, rule in problem.doses.items() if not rule.forbidden_by]
    steps = [problem.doses[name].step or problem.doses[name].fixed for name in names]
    unit = Fraction(1, max(step.denominator for step in steps))
    whole = int(TOTAL / unit)
    rows = np.zeros((1, 0), dtype=np.int64)
    for k, name in enumerate(names):
        rule = problem.doses[name]
        if rule.fixed is not None:
            choices = [rule.fixed]
        else:
            most = most_of(problem, name)
            choices = [i * rule.step for i in range(int(most // rule.step) + 1)]
            choices = [dose for dose in choices if (dose == 0 and not rule.must) or dose >= rule.threshold]
        column = np.array([int(dose / unit) for dose in choices], dtype=np.int64)
        rest = whole - rows.sum(axis=1)
        if k == len(names) - 1:  # what is missing, where that is a dose
            rows = np.hstack([rows, rest[:, None]])[np.isin(rest, column)]
            continue
        repeats = np.searchsorted(column, rest, side="right")  # so many choices leave room
        starts = np.repeat(np.cumsum(repeats) - repeats, repeats)
        chosen = column[np.arange(repeats.sum()) - starts]
        rows = np.hstack([np.repeat(rows, repeats, axis=0), chosen[:, None]])
        assert len(rows) <= MOST, "too many formulas to list"
    return names, rows * float(unit)


def quick_losses(problem: Problem, names: list[str], doses: np.ndarray, clocks: list[float] | None) -> np.ndarray:
    """The worst view's loss of each, in points of the brief's target; own clocks where none are given."""
    materials = list(problem.palette.materials)
    brought = np.zeros((len(names), len(materials)))
    for k, name in enumerate(names):
        for other, amount in neat_parts(problem.palette, problem.basis, {name: Fraction(1)}).items():
            brought[k, materials.index(other)] += float(amount)
    neat = doses @ brought
    aims = problem.aims.values()
    points = float(sum(aim.weight * aim.score for aim in aims)) * (2 if problem.match == "balance" else 1)
    worst = np.zeros(len(doses))
    for view in problem.views:
        remaining = np.ones(len(materials))
        if view.stage is not None:
            remaining = np.array([left(problem.blotter, n, clocks[view.stage]) for n in materials])
        odour = neat * remaining * np.array([float(view.strengths[n]) for n in materials])
        odour = odour if view.law == "linear" else odour**0.4
        divisor = odour @ np.array([float(view.effect(n)) for n in materials])
        loss = np.zeros(len(doses))
        with np.errstate(divide="ignore", invalid="ignore"):
            for d, aim in view.aims.items():
                over = odour @ np.array([float(view.scores[n].get(d, 0)) for n in materials]) / divisor - float(aim.score)
                loss += float(aim.weight) * np.where(over > 0, float(aim.excess) * over, -over)
        lost = np.where(divisor > 0, loss * float(view.weight / view.full_loss()) * points, np.inf)
        worst = np.maximum(worst, lost)
    return worst


def best_listed(problem: Problem, clocks: list[float] | None = None):
    """(loss, parts, verdict) of the best of all formulas, judged by these clocks; None where none keeps the rules."""
    names, doses = all_doses(problem)
    if problem.max_materials is not None:  # most of what is listed has too many, and is soon told
        doses = doses[(doses > 0).sum(axis=1) <= problem.max_materials]
    losses = quick_losses(problem, names, doses, clocks)
    best = None
    for k in np.argsort(losses, kind="stable"):
        if best is not None and losses[k] > float(best[0]) + NEAR * max(1.0, float(best[0])):
            break
        if not np.isfinite(losses[k]):
            break
        parts = {name: Fraction(dose).limit_denominator(10**6) for name, dose in zip(names, doses[k]) if dose > 0}
        verdict = evaluate(problem, parts, clocks=clocks)
        if not verdict.broken and verdict.loss is not None and (best is None or verdict.loss < best[0]):
            best = (verdict.loss, parts, verdict)
    return best
