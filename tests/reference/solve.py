"""Find the optimum of a brief and judge it.

Every formula that a solver returns is rounded to its dose grid and judged again by `evaluate`, which knows
nothing of the rows; one that breaks a rule is never an answer: the brief is then called "unsettled".
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from continuous import cheapest_tie, least_loss
from evaluate import LOOSE, Verdict, evaluate
from resolve import LEAST_DOSE, TOTAL, Problem
from rows import Impossible, Programme, build, rungs
from whole import INFEASIBLE, SOLVED, WholeProgramme

GRID = 10**9  # free doses are whole multiples of 1e-9 ppt
CLOSED = 1e-8  # score points: min(N - lambda D) / D above minus this closes the search
ROUNDS = 40


@dataclass
class Answer:
    status: str  # optimal | infeasible | unsettled
    method: str  # bounds | linear | whole
    parts: dict[str, Fraction] | None = None
    verdict: Verdict | None = None
    bound: float | None = None  # no formula inside the rules has a smaller loss, to the solver's precision
    cheapest: float | None = None  # least price per kg among ties; linear alone
    note: str = ""


def to_grid(programme: Programme, values) -> list[Fraction]:
    """Doses on their steps or the grid of 1e-9, the largest free one taking up what rounding left."""
    doses = []
    for column, value in zip(programme.columns, values):
        if column.low == column.high and value > float(column.low) / 2:
            doses.append(column.low)
        elif column.step is not None:
            doses.append(round(float(value) / float(column.step)) * column.step)
        else:
            dose = Fraction(round(float(value) * GRID), GRID)
            doses.append(dose if dose >= LEAST_DOSE else Fraction(0))
    free = [j for j, c in enumerate(programme.columns) if c.step is None and c.low < c.high and doses[j] > 0]
    if free:
        doses[max(free, key=lambda j: doses[j])] += TOTAL - sum(doses)
    return doses


def judge(problem: Problem, programme: Programme, values) -> tuple[dict[str, Fraction], Verdict]:
    """The formula on its grid. Without free doses not even a hair's breadth of a rule is allowed."""
    doses = to_grid(programme, values)
    parts = {c.name: dose for c, dose in zip(programme.columns, doses) if dose > 0}
    stepped = all(c.step is not None or c.low == c.high for c in programme.columns)
    return parts, evaluate(problem, parts, Fraction(0) if stepped else LOOSE)


def solve(problem: Problem, seconds: float = 60.0) -> Answer:
    """`seconds` bounds each integer programme, of which there are some four to eight."""
    if problem.max_idle is None:
        return solve_on(problem, seconds, None)
    try:
        steps = len(rungs(problem))
    except Impossible as why:
        return Answer("infeasible", "bounds", note=str(why))
    # Rung by rung: the best of all of them.
    answers = [solve_on(problem, seconds, rung) for rung in range(steps + 1)]
    settled = [answer for answer in answers if answer.status == "optimal"]
    unsettled = [answer for answer in answers if answer.status == "unsettled"]
    if unsettled:
        return unsettled[0]
    if not settled:
        return answers[0]
    best = min(settled, key=lambda answer: answer.verdict.loss)
    ties = [a.cheapest for a in settled if a.cheapest is not None and a.bound is not None and a.bound <= best.bound + 1e-9]
    best.cheapest = min(ties) if ties and best.cheapest is not None else best.cheapest
    return best


def solve_on(problem: Problem, seconds: float, rung: int | None) -> Answer:
    """Under the rows of one rung, where there is a rule on idle weight."""
    try:
        programme = build(problem, rung)
    except Impossible as why:
        return Answer("infeasible", "bounds", note=str(why))
    if not any(programme.weight):
        return Answer("infeasible", "bounds", note="nothing usable has a counted score")
    return solve_linear(problem, programme) if programme.continuous else solve_whole(problem, programme, seconds)


def solve_linear(problem: Problem, programme: Programme) -> Answer:
    low = [c.low if c.always else Fraction(0) for c in programme.columns]
    status, doses, loss = least_loss(programme, low, [c.high for c in programme.columns])
    if status == INFEASIBLE:
        return Answer("infeasible", "linear")
    if status != SOLVED:
        return Answer("unsettled", "linear", note=f"linprog status {status}")
    parts, verdict = judge(problem, programme, doses)
    answer = Answer("optimal", "linear", parts, verdict, loss, cheapest_tie(programme, doses, loss))
    if verdict.broken:
        answer.status, answer.note = "unsettled", f"breaks {verdict.broken}"
    elif abs(float(verdict.loss) - loss) > 1e-6 * max(1.0, loss):
        answer.status, answer.note = "unsettled", "the programme and the evaluation disagree on the loss"
    return answer


def polish(programme: Programme, values) -> list[float] | None:
    """Free doses anew, with the materials used and the whole doses held: an exact linear programme."""
    if all(c.step is not None or c.low == c.high for c in programme.columns):
        return None
    low, high = [], []
    for column, dose in zip(programme.columns, to_grid(programme, values)):
        free = column.step is None and column.low < column.high and dose >= column.low
        least, most = column.low, column.high
        if column.usual and programme.unusual is not None and column.usual[0] <= dose <= column.usual[1]:
            least, most = max(least, column.usual[0]), min(most, column.usual[1])  # what is usual stays so
        low.append(least if free else dose)
        high.append(most if free else dose)
    status, doses, _ = least_loss(programme, low, high)
    return doses if status == SOLVED else None


def solve_whole(problem: Problem, programme: Programme, seconds: float) -> Answer:
    whole = WholeProgramme(programme, seconds)
    # A start above every possible loss: p_d never passes the larger of the scale and the target's total.
    ceiling = max(problem.palette.scale, sum(aim.score for aim in problem.aims.values()))
    trial = float(sum(over + under for over, under in zip(programme.over, programme.under)) * ceiling)
    positive = sorted(v for v in programme.weight if v > 0)
    reference = float(positive[len(positive) // 2] * TOTAL)
    best: Answer | None = None
    for _ in range(ROUNDS):
        step = whole.solve(trial, reference)
        if step.status == INFEASIBLE:
            return Answer("infeasible", "whole") if best is None else Answer("unsettled", "whole", note="two verdicts")
        if step.status != SOLVED:
            return Answer("unsettled", "whole", note=f"milp status {step.status}")
        if best is None and step.least >= -CLOSED:
            return Answer("infeasible", "whole", note="no formula inside the rules has a counted smell")
        if best is not None and step.least >= -CLOSED:
            best.status, best.bound = "optimal", min(trial, trial + step.least)
            return best
        better = None
        for values in (step.doses, polish(programme, step.doses)):
            if values is None:
                continue
            parts, verdict = judge(problem, programme, values)
            if verdict.loss is not None and not verdict.broken and (better is None or verdict.loss < better.verdict.loss):
                better = Answer("unsettled", "whole", parts, verdict)
        if better is None:
            return Answer("unsettled", "whole", note=f"rounded, it breaks {verdict.broken}")
        if best is not None and better.verdict.loss >= best.verdict.loss:
            best.note = f"milp sees {step.least:.3g} points below what rounding gives"
            return best
        best, trial = better, float(better.verdict.loss)
        doses = [float(better.parts.get(c.name, 0)) for c in programme.columns]
        reference = sum(w * y for w, y in zip(map(float, programme.weight), doses))
    return Answer("unsettled", "whole", note="too many rounds")
