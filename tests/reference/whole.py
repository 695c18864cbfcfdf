"""Briefs with steps, counts or least doses: Dinkelbach (1967) over scipy's milp (HiGHS).

At a trial loss lambda the programme min N(y) - lambda D(y) is solved to the end. Its formula is rounded,
judged exactly, and gives the next lambda; once the minimum is no longer below zero, lambda is proven.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from continuous import gap_cost, gap_rows
from rows import Programme, whole

SHARP = 1e5  # objective scale: HiGHS stops at an absolute gap of 1e-6, which is then 1e-11 score points
POINT_ROWS = 1e3  # scale of the descriptor rows, so that a tolerance of 1e-6 is 1e-9 score points
INFEASIBLE, SOLVED = 2, 0


@dataclass
class Step:
    """One solve at a trial loss."""

    status: int
    doses: np.ndarray | None = None
    least: float | None = None  # proven lower bound of (N - lambda D) / reference, score points


class WholeProgramme:
    """Columns: doses (in steps where there is one), used or not, over and under per descriptor."""

    def __init__(self, programme: Programme, seconds: float):
        self.programme, self.seconds = programme, seconds
        columns = programme.columns
        self.n, self.m = len(columns), len(programme.gaps)
        self.size = np.array([float(c.step or 1) for c in columns])
        self.weight = np.array([float(v) for v in programme.weight])
        self.fixed_rows: list[LinearConstraint] = []
        padding = np.zeros(self.n + 2 * self.m)
        for row in programme.rows:
            coefficients, bound = whole(row, columns)
            self.add([np.concatenate([coefficients, padding])], -np.inf, bound)
        total = ([Fraction(1)] * self.n, Fraction(1000))
        coefficients, bound = whole(total, columns)
        exact = 1000 * coefficients[0] / self.size[0]
        self.add([np.concatenate([coefficients, padding])], exact, exact)
        for j, column in enumerate(columns):
            used = np.zeros(2 * self.n + 2 * self.m)
            used[j], used[self.n + j] = 1.0, -float(column.high / (column.step or 1))
            self.add([used], -np.inf, 0.0)
            used = np.zeros(2 * self.n + 2 * self.m)
            used[j], used[self.n + j] = -1.0, float(column.low / (column.step or 1))
            self.add([used], -np.inf, 0.0)
        if programme.count is not None:
            count = np.zeros(2 * self.n + 2 * self.m)
            count[self.n : 2 * self.n] = 1.0
            self.add([count], -np.inf, programme.count)

    def add(self, rows, low, high) -> None:
        self.fixed_rows.append(LinearConstraint(np.array(rows), low, high))

    def bounds(self) -> Bounds:
        columns = self.programme.columns
        low = [float(c.low / (c.step or 1)) if c.always else 0.0 for c in columns]
        high = [float(c.high / (c.step or 1)) for c in columns]
        used = [float(c.always) for c in columns]
        return Bounds(
            np.concatenate([low, used, np.zeros(2 * self.m)]),
            np.concatenate([high, np.ones(self.n), np.full(2 * self.m, np.inf)]),
        )

    def solve(self, trial: float, reference: float) -> Step:
        """min (N - trial D) / reference."""
        gaps = gap_rows(self.programme, reference)
        rows = np.hstack([gaps[:, : self.n] * self.size, np.zeros((self.m, self.n)), gaps[:, self.n :]]) * POINT_ROWS
        cost = np.concatenate(
            [-trial * self.weight * self.size / reference, np.zeros(self.n), gap_cost(self.programme)]
        )
        whole_doses = [float(c.step is not None) for c in self.programme.columns]
        result = milp(
            cost * SHARP,
            integrality=np.concatenate([whole_doses, np.ones(self.n), np.zeros(2 * self.m)]),
            bounds=self.bounds(),
            constraints=[*self.fixed_rows, LinearConstraint(rows, 0, 0)],
            options={"mip_rel_gap": 0.0, "time_limit": self.seconds},
        )
        if result.status != SOLVED:
            return Step(result.status)
        return Step(SOLVED, result.x[: self.n] * self.size, result.mip_dual_bound / SHARP)
