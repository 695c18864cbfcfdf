"""Continuous briefs in exact arithmetic: the linear programme of Charnes and Cooper, solved on fractions.

A dictionary simplex with Bland's rule, which never rounds and never cycles. It takes seconds where floating
point takes milliseconds, and serves where numbers of very different size stand in one programme.
"""

from __future__ import annotations

from fractions import Fraction

from continuous import bound_rows
from resolve import Problem
from rows import Impossible, Programme, build


class Dictionary:
    """max c x subject to a x <= b, x >= 0: basic variables as rows of the others."""

    def __init__(self, rows: list[list[Fraction]], bounds: list[Fraction], cost: list[Fraction]):
        self.n, self.m = len(cost), len(rows)
        self.outside = list(range(self.n))
        self.basic = [self.n + i for i in range(self.m)]
        self.body = [[-v for v in row] for row in rows]
        self.constant = list(bounds)
        self.cost, self.value = list(cost), Fraction(0)

    def pivot(self, leave: int, enter: int) -> None:
        row, pivot = self.body[leave], self.body[leave][enter]
        self.basic[leave], self.outside[enter] = self.outside[enter], self.basic[leave]
        new = [-v / pivot for v in row]
        new[enter] = 1 / pivot
        constant = -self.constant[leave] / pivot
        self.body[leave], self.constant[leave] = new, constant
        for i, other in enumerate(self.body):
            if i != leave and other[enter] != 0:
                self.constant[i] += other[enter] * constant
                self.body[i] = self.after(other, enter, new)
        self.value += self.cost[enter] * constant
        self.cost = self.after(self.cost, enter, new)

    @staticmethod
    def after(row: list[Fraction], enter: int, new: list[Fraction]) -> list[Fraction]:
        factor = row[enter]
        if factor == 0:
            return row
        return [factor * v if j == enter else old + factor * v for j, (old, v) in enumerate(zip(row, new))]

    def run(self) -> bool:
        """Climbs to the optimum from a feasible dictionary; False where there is no limit."""
        while True:
            rising = [j for j in range(len(self.cost)) if self.cost[j] > 0]
            if not rising:
                return True
            enter = min(rising, key=lambda j: self.outside[j])
            falling = [i for i in range(self.m) if self.body[i][enter] < 0]
            if not falling:
                return False
            leave = min(falling, key=lambda i: (self.constant[i] / -self.body[i][enter], self.basic[i]))
            self.pivot(leave, enter)

    def point(self) -> list[Fraction]:
        x = [Fraction(0)] * self.n
        for i, variable in enumerate(self.basic):
            if variable < self.n:
                x[variable] = self.constant[i]
        return x


def maximise(rows: list[list[Fraction]], bounds: list[Fraction], cost: list[Fraction]) -> tuple[list[Fraction], Fraction] | None:
    """The best point and its value, or None where there is no point."""
    if min(bounds, default=Fraction(0)) < 0:
        # Phase one: how far the rows must be relaxed, by one more variable.
        first = Dictionary([[*row, Fraction(-1)] for row in rows], bounds, [Fraction(0)] * len(cost) + [Fraction(-1)])
        first.pivot(min(range(len(rows)), key=lambda i: bounds[i]), len(cost))
        assert first.run()
        if first.value < 0:
            return None
        extra = len(cost)
        if extra in first.basic:
            row = first.basic.index(extra)
            enter = next((j for j in range(len(first.cost)) if first.body[row][j] != 0), None)
            if enter is not None:
                first.pivot(row, enter)
        if extra in first.basic:  # a row of zeros: it says nothing
            row = first.basic.index(extra)
            del first.basic[row], first.body[row], first.constant[row]
            first.m -= 1
        else:
            at = first.outside.index(extra)
            del first.outside[at], first.cost[at]
            first.body = [[v for j, v in enumerate(row) if j != at] for row in first.body]
        second = first
        # Slacks are numbered from `extra + 1` here; only their order counts.
        second.n = extra
        second.value = Fraction(0)
        second.cost = [Fraction(0)] * len(second.outside)
        for variable, c in enumerate(cost):
            if variable in second.outside:
                second.cost[second.outside.index(variable)] += c
            else:
                row = second.basic.index(variable)
                second.value += c * second.constant[row]
                second.cost = [old + c * v for old, v in zip(second.cost, second.body[row])]
    else:
        second = Dictionary(rows, bounds, cost)
    assert second.run(), "a blend has no loss without limit"
    return second.point(), second.value


def least_loss_exact(programme: Programme) -> tuple[list[Fraction], Fraction] | None:
    """Doses and their loss, both exact; None where no formula keeps the rules."""
    low = [c.low if c.always else Fraction(0) for c in programme.columns]
    high = [c.high for c in programme.columns]
    # z = y tau with Q . z = 1, every column in units in which it weighs about 1.
    unit = [1 / v if v > 0 else Fraction(1) for v in programme.weight]
    n, m = len(programme.columns), len(programme.gaps)
    rows, bounds = [], []

    def at_most(coefficients, gaps, bound) -> None:
        row = [c * u for c, u in zip(coefficients, unit)] + gaps
        size = max((abs(v) for v in row), default=Fraction(0))
        if size > 0 or bound < 0:
            size = size or Fraction(1)
            rows.append([v / size for v in row])
            bounds.append(bound / size)

    none = [Fraction(0)] * m
    for coefficients, bound in [*programme.rows, *bound_rows(low, high)]:
        at_most([v - bound / 1000 for v in coefficients], none, Fraction(0))
    for sign in (1, -1):
        at_most([sign * v for v in programme.weight], none, Fraction(sign))
    # Loss = sum under_d (t_d - p_d) + sum (over_d + under_d) (p_d - t_d)+, so one variable a descriptor.
    cost = [Fraction(0)] * n
    for d, gap in enumerate(programme.gaps):
        beyond = [Fraction(-int(d == e)) for e in range(m)]
        at_most(gap, beyond, Fraction(0))
        cost = [c + programme.under[d] * v * u for c, v, u in zip(cost, gap, unit)]
    cost += [-(over + under) for over, under in zip(programme.over, programme.under)]
    found = maximise(rows, bounds, cost)
    if found is None:
        return None
    point, value = found
    z = [v * u for v, u in zip(point, unit)]
    total = sum(z)
    return ([v * 1000 / total for v in z], -value) if total > 0 else None


def solve_exact(problem: Problem) -> tuple[list[Fraction], Fraction] | None:
    """The same from a problem."""
    try:
        programme = build(problem)
    except Impossible:
        return None
    if not any(programme.weight):
        return None
    assert programme.continuous, "only continuous briefs are solved exactly"
    return least_loss_exact(programme)
