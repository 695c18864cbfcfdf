"""Briefs with steps, counts or least doses: Dinkelbach (1967) over scipy's milp (HiGHS).

At a trial loss lambda the programme min N(y) - lambda D(y) is solved to the end. Its formula is rounded,
judged exactly, and gives the next lambda; once the minimum is no longer below zero, lambda is proven.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

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
    """Columns: doses (in steps where there is one), used or not, over and under per descriptor; then, where unusual
    doses are counted, for each material that has usual ones whether its dose may lie below and above them."""

    def __init__(self, programme: Programme, seconds: float):
        self.programme, self.seconds = programme, seconds
        columns = programme.columns
        self.n, self.m = len(columns), len(programme.gaps)
        self.counted = [j for j, c in enumerate(columns) if c.usual] if programme.unusual is not None else []
        self.width = 2 * self.n + 2 * self.m + 2 * len(self.counted)
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
        first = 2 * self.n + 2 * self.m
        for k, j in enumerate(self.counted):
            column, step = columns[j], columns[j].step or 1
            low, high = (end / step for end in column.usual)
            if column.step is not None:
                low, high = Fraction(ceil(low)), Fraction(floor(high))
            row = np.zeros(self.width)  # low used - low below <= dose
            row[j], row[self.n + j], row[first + 2 * k] = -1.0, float(low), -float(low)
            self.add([row], -np.inf, 0.0)
            row = np.zeros(self.width)  # dose <= high + (most - high) above
            row[j], row[first + 2 * k + 1] = 1.0, -max(0.0, float(column.high / step - high))
            self.add([row], -np.inf, float(high))
        if self.counted:
            row = np.zeros(self.width)
            row[first:] = 1.0
            self.add([row], -np.inf, programme.unusual)

    def add(self, rows, low, high) -> None:
        rows = [np.concatenate([row, np.zeros(self.width - len(row))]) for row in rows]
        self.fixed_rows.append(LinearConstraint(np.array(rows), low, high))

    def bounds(self) -> Bounds:
        columns = self.programme.columns
        low = [float(c.low / (c.step or 1)) if c.always else 0.0 for c in columns]
        high = [float(c.high / (c.step or 1)) for c in columns]
        used = [float(c.always) for c in columns]
        extra = self.width - 2 * self.n - 2 * self.m
        return Bounds(
            np.concatenate([low, used, np.zeros(2 * self.m), np.zeros(extra)]),
            np.concatenate([high, np.ones(self.n), np.full(2 * self.m, np.inf), np.ones(extra)]),
        )

    def solve(self, trial: float, reference: float) -> Step:
        """min (N - trial D) / reference."""
        gaps = gap_rows(self.programme, reference)
        extra = self.width - 2 * self.n - 2 * self.m
        zeros = np.zeros((self.m, self.n)), np.zeros((self.m, extra))
        rows = np.hstack([gaps[:, : self.n] * self.size, zeros[0], gaps[:, self.n :], zeros[1]]) * POINT_ROWS
        cost = np.concatenate(
            [-trial * self.weight * self.size / reference, np.zeros(self.n), gap_cost(self.programme), np.zeros(extra)]
        )
        whole_doses = [float(c.step is not None) for c in self.programme.columns]
        result = milp(
            cost * SHARP,
            integrality=np.concatenate([whole_doses, np.ones(self.n), np.zeros(2 * self.m), np.ones(extra)]),
            bounds=self.bounds(),
            constraints=[*self.fixed_rows, LinearConstraint(rows, 0, 0)],
            options={"mip_rel_gap": 0.0, "time_limit": self.seconds},
        )
        if result.status != SOLVED:
            return Step(result.status)
        return Step(SOLVED, result.x[: self.n] * self.size, result.mip_dual_bound / SHARP)
