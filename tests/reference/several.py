"""Several linear views: the greatest of their losses is least (Dinkelbach's method for a maximum of ratios, Crouzeix,
Ferland and Schaible 1985, over scipy's linear and integer programmes); and briefs with stages, whose clocks follow
the formula. By the compressive law and its mixtures every formula is listed (`listing.py`)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import inf

import numpy as np
from scipy.optimize import LinearConstraint, linprog, milp, minimize_scalar

from continuous import SHARP as SHARP_LINEAR
from evaluate import LOOSE, evaluate
from film import clocks_of, left
from listing import best_listed
from resolve import Problem, neat_parts
from rows import Impossible, Programme, ViewRows, build
from solve import Answer, solve, to_grid
from whole import INFEASIBLE, POINT_ROWS, SHARP, SOLVED, Step, WholeProgramme

ROUNDS = 40
CLOSED = 1e-8  # points: a minimum above minus this closes the search
GRID = 240  # clocks that are tried before the best of them is narrowed
SAME_CLOCK = 1e-12


def view_ends(view: ViewRows, doses) -> tuple[float, float]:
    """N, in points of the brief's target, and D of one view."""
    gaps = [float(sum(float(g) * y for g, y in zip(gap, doses))) for gap in view.gaps]
    loss = sum(float(o) * max(g, 0) + float(u) * max(-g, 0) for g, o, u in zip(gaps, view.over, view.under))
    return loss * float(view.scale), float(sum(float(w) * y for w, y in zip(view.weight, doses)))


def worst_loss(views: list[ViewRows], doses) -> float:
    ends = [view_ends(view, doses) for view in views]
    return max(n / d if d > 0 else inf for n, d in ends)


def view_matrix(views: list[ViewRows], n: int, trial: float, references: list[float], size: np.ndarray):
    """Rows over doses, then over and under of every view: gaps equal to 0, and of each view N - trial D, all in units
    of that view's reference."""
    width = sum(len(view.gaps) for view in views)
    equal, top, at = [], [], 0
    for view, reference in zip(views, references):
        m, cost = len(view.gaps), np.zeros(2 * width)
        for k, gap in enumerate(view.gaps):
            row = np.zeros(n + 2 * width)
            row[:n] = np.array([float(v) for v in gap]) * size / reference
            row[n + at + k], row[n + width + at + k] = -1.0, 1.0
            equal.append(row)
        cost[at : at + m] = [float(v * view.scale) for v in view.over]
        cost[width + at : width + at + m] = [float(v * view.scale) for v in view.under]
        top.append(np.concatenate([-trial * np.array([float(v) for v in view.weight]) * size / reference, cost]))
        at += m
    return np.array(equal), np.array(top)


class SeveralWhole(WholeProgramme):
    """The rules as for one view; then the greatest of the views' N - trial D as one more column."""

    def solve_at(self, trial: float, references: list[float]) -> Step:
        views, n = self.programme.views, self.n
        equal, top = view_matrix(views, n, trial, references, self.size)
        extra, doubled = self.width - 2 * n - 2 * self.m, 2 * self.m

        def spread(rows: np.ndarray, theta: float) -> np.ndarray:
            middle, end = np.zeros((len(rows), n)), np.zeros((len(rows), extra))
            return np.hstack([rows[:, :n], middle, rows[:, n:], end, np.full((len(rows), 1), theta)])

        bounds = self.bounds()
        low, high = np.append(bounds.lb, -np.inf), np.append(bounds.ub, np.inf)
        rules = [LinearConstraint(np.hstack([r.A, np.zeros((len(r.A), 1))]), r.lb, r.ub) for r in self.fixed_rows]
        whole_doses = [float(c.step is not None) for c in self.programme.columns]
        result = milp(
            np.append(np.zeros(self.width), SHARP),
            integrality=np.concatenate([whole_doses, np.ones(n), np.zeros(doubled), np.ones(extra), [0.0]]),
            bounds=type(bounds)(low, high),
            constraints=[
                *rules,
                LinearConstraint(spread(equal, 0.0) * POINT_ROWS, 0, 0),
                LinearConstraint(spread(top, -1.0) * POINT_ROWS, -np.inf, 0),
            ],
            options={"mip_rel_gap": 0.0, "time_limit": self.seconds},
        )
        if result.status != SOLVED:
            return Step(result.status)
        return Step(SOLVED, result.x[:n] * self.size, result.mip_dual_bound / SHARP)


def with_all_gaps(programme: Programme) -> Programme:
    """The columns of over and under that one view would have, for all of them."""
    views = programme.views
    return Programme(
        **{
            **programme.__dict__,
            "gaps": [gap for view in views for gap in view.gaps],
            "over": [v for view in views for v in view.over],
            "under": [v for view in views for v in view.under],
        }
    )


def linear_step(programme: Programme, trial: float, references: list[float], exact_rows) -> Step:
    """min max_k (N_k - trial D_k) / reference_k over any doses; `exact_rows` are equalities (row, number)."""
    views, n = programme.views, len(programme.columns)
    equal, top = view_matrix(views, n, trial, references, np.ones(n))
    pad = np.zeros(equal.shape[1] - n + 1)
    upper, bounds = [np.append(row, -1.0) for row in top], [0.0] * len(top)
    for coefficients, bound in programme.rows:
        size = float(max((abs(v) for v in coefficients), default=0))
        if size > 0:
            upper.append(np.concatenate([[float(v) / size for v in coefficients], pad]))
            bounds.append(float(bound) / size)
    rows = [np.append(row, 0.0) for row in equal] + [np.concatenate([np.ones(n), pad])]
    ends = [0.0] * len(equal) + [1000.0]
    for row, end in exact_rows:
        size = np.abs(row).max()
        rows.append(np.concatenate([row / size, pad]))
        ends.append(end / size)
    result = linprog(
        np.concatenate([np.zeros(len(upper[0]) - 1), [1.0]]),
        A_ub=np.array(upper),
        b_ub=bounds,
        A_eq=np.array(rows),
        b_eq=ends,
        bounds=[(float(c.low) if c.always else 0.0, float(c.high)) for c in programme.columns]
        + [(0, None)] * (equal.shape[1] - n)
        + [(None, None)],
        method="highs",
        options=SHARP_LINEAR,
    )
    return Step(SOLVED, np.maximum(result.x[:n], 0), float(result.fun)) if result.status == 0 else Step(result.status)


def start_of(programme: Programme) -> tuple[float, list[float]]:
    """Above every possible loss, and a size of each view."""
    ceiling = 10.0 * max(1.0, max(float(sum(v.over) + sum(v.under)) * float(v.scale) for v in programme.views))
    references = []
    for view in programme.views:
        positive = sorted(v for v in view.weight if v > 0)
        references.append(float(positive[len(positive) // 2] * 1000) if positive else 1.0)
    return ceiling * 1000, references


def linear_best(programme: Programme, exact_rows=()) -> tuple[float, np.ndarray] | None:
    """The least worst loss over any doses and a formula of it; None where nothing keeps the rules."""
    trial, references = start_of(programme)
    best = None
    for _ in range(ROUNDS):
        step = linear_step(programme, trial, references, exact_rows)
        if step.status != SOLVED:
            return best
        loss = worst_loss(programme.views, step.doses)
        if loss >= trial - 1e-12 * max(1.0, trial):
            return best if best is not None or loss == inf else (loss, step.doses)
        best, trial = (loss, step.doses), loss
        references = [max(view_ends(view, step.doses)[1], 1e-9) for view in programme.views]
    return best


def film_rows(problem: Problem, programme: Programme, clocks: list[float]):
    """That the film of the formula has these clocks: sum m lasting (1 - left) is the time over phi."""
    found, blotter = [], problem.blotter
    for stage, clock in zip(blotter.stages, clocks):
        if stage.minutes == 0:
            continue
        row = []
        for column in programme.columns:
            neat = neat_parts(problem.palette, problem.basis, {column.name: Fraction(1)})
            gone = [float(a * blotter.hours[n]) / 1000 * (1 - left(blotter, n, clock)) for n, a in neat.items()]
            row.append(sum(gone))
        found.append((np.array(row), float(stage.minutes / 60 / blotter.phi)))
    return found


def best_over_clocks(problem: Problem, also: list[float] | None = None) -> tuple[float, np.ndarray, list[float]] | None:
    """Of a brief of which one stage alone comes later than minute 0: every clock is tried (and `also` one that is known),
    each with the best formula whose own film has it; the best is narrowed."""
    later = [k for k, stage in enumerate(problem.blotter.stages) if stage.minutes > 0]
    assert len(later) == 1, "one clock can be tried through"

    def at(log_clock: float):
        clocks = [0.0] * len(problem.blotter.stages)
        clocks[later[0]] = float(np.exp(log_clock))
        programme = build(problem, clocks=clocks)
        found = linear_best(programme, film_rows(problem, programme, clocks))
        return None if found is None else (*found, clocks)

    scales = [float(problem.blotter.mass[n] * h) for n, h in problem.blotter.hours.items() if h > 0]
    logs = np.linspace(np.log(min(scales) * 1e-3), np.log(max(scales) * 20), GRID)
    if also is not None:
        logs = np.sort(np.append(logs, np.log(also[later[0]])))
    tried = [(log, at(log)) for log in logs]
    kept = [(found[0], k) for k, (_, found) in enumerate(tried) if found is not None]
    if not kept:
        return None
    best = tried[min(kept)[1]][1]
    for _, k in sorted(kept)[:3]:
        ends = logs[max(k - 1, 0)], logs[min(k + 1, len(logs) - 1)]
        narrowed = minimize_scalar(
            lambda log: (at(log) or (1e9,))[0], bounds=ends, method="bounded", options={"xatol": 1e-10}
        )
        found = at(float(narrowed.x))
        if found is not None and found[0] < best[0]:
            best = found
    return best


def relaxed_clocks(problem: Problem) -> list[float]:
    """The clocks of the best formula over any doses, from those of an even film, taken again until they stay; where
    they do not, the last ones."""
    names = [name for name, rule in problem.doses.items() if not rule.forbidden_by]
    even = {name: Fraction(1000, len(names)) for name in names}
    clocks = clocks_of(problem.blotter, neat_parts(problem.palette, problem.basis, even))
    for _ in range(ROUNDS):
        programme = build(problem, clocks=clocks)
        for column in programme.columns:
            column.step, column.low = None, Fraction(0) if not column.always else column.low
        found = linear_best(programme)
        if found is None:
            return clocks
        parts = {c.name: Fraction(float(y)) for c, y in zip(programme.columns, found[1]) if y > 1e-9}
        again = clocks_of(problem.blotter, neat_parts(problem.palette, problem.basis, parts))
        if inf in again or all(abs(a - b) <= 1e-9 * max(1.0, b) for a, b in zip(again, clocks)):
            break
        clocks = again
    return clocks


def same_clocks(one: list[float], other: list[float]) -> bool:
    return all(abs(a - b) <= SAME_CLOCK * max(1.0, abs(b)) for a, b in zip(one, other))


def judge_at(problem: Problem, programme: Programme, values, clocks: list[float] | None):
    doses = to_grid(programme, values)
    parts = {c.name: dose for c, dose in zip(programme.columns, doses) if dose > 0}
    stepped = all(c.step is not None or c.low == c.high for c in programme.columns)
    return parts, evaluate(problem, parts, Fraction(0) if stepped else LOOSE, clocks)


def whole_best(problem: Problem, seconds: float, clocks: list[float] | None = None) -> Answer:
    """Proven for the clocks given. `bound` is that."""
    programme = build(problem, clocks=clocks)
    search = SeveralWhole(with_all_gaps(programme), seconds)
    trial, references = start_of(programme)
    best: Answer | None = None
    for _ in range(ROUNDS):
        step = search.solve_at(trial, references)
        if step.status == INFEASIBLE and best is None:
            return Answer("infeasible", "whole")
        if step.status != SOLVED:
            return Answer("unsettled", "whole", note=f"milp status {step.status}")
        if best is not None and step.least >= -CLOSED:
            best.status, best.bound = "optimal", min(trial, trial + step.least)
            return best
        parts, verdict = judge_at(problem, programme, step.doses, clocks)
        if verdict.broken or verdict.loss is None:
            return Answer("unsettled", "whole", note=f"rounded, it breaks {verdict.broken}")
        if best is not None and verdict.loss >= best.verdict.loss:
            best.note = f"milp sees {step.least:.3g} points below what rounding gives"
            return best
        best, trial = Answer("unsettled", "whole", parts, verdict), float(verdict.loss)
        doses = [float(parts.get(c.name, 0)) for c in programme.columns]
        references = [max(view_ends(view, doses)[1], 1e-9) for view in programme.views]
    return Answer("unsettled", "whole", note="too many rounds")


def listed(problem: Problem, clocks: list[float] | None = None) -> Answer:
    best = best_listed(problem, clocks)
    if best is None:
        return Answer("infeasible", "listed")
    return Answer("optimal", "listed", best[1], best[2], float(best[0]))


def linear_answer(problem: Problem) -> Answer:
    """Over any doses. With stages of all formulas, each by its own film's clocks."""
    found = linear_best(build(problem)) if problem.blotter is None else best_over_clocks(problem)
    if found is None:
        return Answer("infeasible", "linear")
    programme = build(problem, clocks=found[2] if problem.blotter else None)
    parts, verdict = judge_at(problem, programme, found[1], None)
    answer = Answer("optimal", "linear", parts, verdict, found[0])
    if verdict.broken:
        answer.status, answer.note = "unsettled", f"breaks {verdict.broken}"
    elif abs(float(verdict.loss) - found[0]) > 1e-6 * max(1.0, found[0]):
        answer.status, answer.note = "unsettled", "the programme and the evaluation disagree on the loss"
    return answer


def until_clocks_agree(problem: Problem, best) -> Answer:
    """The best for some clocks, then for those of its own film, until they are the same. Of the best over any doses to
    begin with. Proven for these clocks alone, which `verdict` has."""
    clocks, seen = relaxed_clocks(problem), []
    for _ in range(ROUNDS):
        if any(same_clocks(clocks, earlier) for earlier in seen):
            break
        seen.append(clocks)
        answer = best(problem, clocks)
        if answer.status != "optimal":
            return answer
        own = clocks_of(problem.blotter, neat_parts(problem.palette, problem.basis, answer.parts))
        if same_clocks(own, clocks):
            own_verdict = evaluate(problem, answer.parts)
            if own_verdict.broken:
                return Answer("unsettled", answer.method, note=f"breaks {own_verdict.broken}")
            return answer
        clocks = own
        if inf in clocks:
            return Answer("unsettled", answer.method, note="the film is gone")
    return Answer("unsettled", answer.method, note="the clocks go round")


def solve_any(problem: Problem, seconds: float = 60.0) -> Answer:
    """As `solve` where one view judges by the linear law; see the head of this file for the others."""
    if not problem.views:
        return solve(problem, seconds)
    assert problem.max_idle is None, "no ladder for several views"
    try:
        programme = build_rules(problem)
    except Impossible as why:
        return Answer("infeasible", "bounds", note=str(why))
    powers = any(view.law == "compressive" for view in problem.views)
    if powers:
        return until_clocks_agree(problem, listed) if problem.blotter else listed(problem)
    if programme.continuous:
        return linear_answer(problem)
    if problem.blotter is None:
        return whole_best(problem, seconds)
    return until_clocks_agree(problem, lambda at, clocks: whole_best(at, seconds, clocks))


def build_rules(problem: Problem) -> Programme:
    """Which doses are free, at clocks that do not matter."""
    linear = replace(problem, views=[], blotter=None)
    return build(linear)
