"""Briefs without steps, counts and least doses: one linear programme (Charnes and Cooper 1962)."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from scipy.optimize import linprog

from rows import Programme, Row

SHARP = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
TIE = 1e-7  # of max(1, loss): formulas this near are ties, and the cheapest is wanted


def bound_rows(low: list[Fraction], high: list[Fraction]) -> list[Row]:
    """low <= y <= high as rows."""
    rows = []
    for j, (least, most) in enumerate(zip(low, high)):
        unit = [Fraction(int(i == j)) for i in range(len(low))]
        rows.append((unit, most))
        if least > 0:
            rows.append(([-value for value in unit], -least))
    return rows


def gap_rows(programme: Programme, reference: float) -> np.ndarray:
    """gap . y - over + under = 0 for each counted descriptor, in units of `reference`."""
    gaps = np.array([[float(v) / reference for v in gap] for gap in programme.gaps])
    m = len(programme.gaps)
    return np.hstack([gaps, -np.eye(m), np.eye(m)])


def gap_cost(programme: Programme) -> np.ndarray:
    return np.array([float(v) for v in [*programme.over, *programme.under]])


def least_loss(programme: Programme, low: list[Fraction], high: list[Fraction]):
    """(linprog status, doses, loss): the least loss with every dose within its bounds.

    z = y tau with Q . z = reference; a row a . y <= b becomes (a - b / 1000) . z <= 0.
    """
    n, m = len(programme.columns), len(programme.gaps)
    weight = np.array([float(v) for v in programme.weight])
    reference = 1000 * float(np.median(weight[weight > 0]))
    upper = []
    for coefficients, bound in [*programme.rows, *bound_rows(low, high)]:
        row = np.array([float(v - bound / 1000) for v in coefficients])
        size = np.abs(row).max()
        if size > 0:
            upper.append(np.concatenate([row / size, np.zeros(2 * m)]))
    result = linprog(
        np.concatenate([np.zeros(n), gap_cost(programme)]),
        A_ub=np.array(upper),
        b_ub=np.zeros(len(upper)),
        A_eq=np.vstack([np.concatenate([weight / reference, np.zeros(2 * m)]), gap_rows(programme, reference)]),
        b_eq=np.concatenate([[1.0], np.zeros(m)]),
        method="highs",
        options=SHARP,
    )
    if result.status != 0:
        return result.status, None, None
    z = np.maximum(result.x[:n], 0)
    return 0, z * 1000 / z.sum(), float(result.fun)


def cheapest_tie(programme: Programme, doses: np.ndarray, loss: float) -> float | None:
    """Least price per kg among formulas whose loss is a tie; None where prices are missing."""
    if programme.price is None:
        return None
    n, m = len(programme.columns), len(programme.gaps)
    weight = np.array([float(v) for v in programme.weight])
    reference = float(weight @ doses)
    limit = loss + TIE * max(1.0, loss)
    upper = [np.concatenate([-limit * weight / reference, gap_cost(programme)])]
    bounds = [0.0]
    for coefficients, bound in programme.rows:
        size = float(max((abs(v) for v in coefficients), default=0))
        if size > 0:
            upper.append(np.concatenate([[float(v) / size for v in coefficients], np.zeros(2 * m)]))
            bounds.append(float(bound) / size)
    result = linprog(
        np.concatenate([[float(v) / 1000 for v in programme.price], np.zeros(2 * m)]),
        A_ub=np.array(upper),
        b_ub=bounds,
        A_eq=np.vstack([np.concatenate([np.ones(n), np.zeros(2 * m)]), gap_rows(programme, reference)]),
        b_eq=np.concatenate([[1000.0], np.zeros(m)]),
        bounds=[(float(c.low) if c.always else 0.0, float(c.high)) for c in programme.columns] + [(0, None)] * (2 * m),
        method="highs",
        options=SHARP,
    )
    return float(result.fun) if result.status == 0 else None
