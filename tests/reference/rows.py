"""The rules as linear rows over the doses of the usable materials, for the solvers alone.

A row is (coefficients, bound) and reads `coefficients . y <= bound`, y in parts of the basis.
Everything stays exact until a solver is called.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product
from math import floor, lcm

from film import LASTS, left
from resolve import LEAST_DOSE, TOTAL, Problem, most_of, neat_parts

Row = tuple[list[Fraction], Fraction]


class Impossible(Exception):
    """The bounds of single materials already contradict each other."""


@dataclass
class Column:
    name: str
    low: Fraction  # least dose once used
    high: Fraction
    step: Fraction | None
    always: bool  # must or fixed: never 0
    usual: tuple[Fraction, Fraction] | None = None  # in parts of the basis, where they are counted


@dataclass
class ViewRows:
    """One linear view: what its loss is a ratio of, and what a point lost by it counts in points of the brief's target."""

    weight: list[Fraction]
    gaps: list[list[Fraction]]
    over: list[Fraction]
    under: list[Fraction]
    scale: Fraction


@dataclass
class Programme:
    columns: list[Column]
    rows: list[Row]
    weight: list[Fraction]  # Q: D = Q . y
    gaps: list[list[Fraction]]  # one per counted descriptor: D (p_d - t_d) = gap . y
    over: list[Fraction]  # what a point too much costs, and too little
    under: list[Fraction]
    price: list[Fraction] | None
    count: int | None  # the most materials, None where it cannot bind
    unusual: int | None = None  # the most materials outside their usual doses, None where nothing counts them
    views: list[ViewRows] = field(default_factory=list)  # where there are several

    @property
    def continuous(self) -> bool:
        """One linear programme settles it: no steps, no counts, no least dose that may also be 0."""
        return self.count is None and self.unusual is None and all(c.step is None and (c.always or c.low <= LEAST_DOSE) for c in self.columns)


def usable_columns(problem: Problem) -> list[Column]:
    columns = []
    for name, rule in problem.doses.items():
        if rule.forbidden_by:
            if rule.must:
                raise Impossible(f"{name} must be used and may not be")
            continue
        low, high = rule.threshold, most_of(problem, name)
        if low > high:
            if rule.must:
                raise Impossible(f"{name} must be used and cannot reach its least dose")
            continue
        if rule.fixed is not None:
            high = low
        usual = problem.palette.materials[name].usual if problem.max_unusual is not None else None
        if usual is not None:
            usual = tuple(end / problem.neat_fraction(name) for end in usual)
        columns.append(Column(name, low, high, rule.step, rule.must, usual))
    return columns


def rungs(problem: Problem) -> list[Fraction]:
    """The different strengths of what a formula can have, carriers apart, from below."""
    materials = problem.palette.materials
    parts = [neat_parts(problem.palette, problem.basis, {c.name: Fraction(1)}) for c in usable_columns(problem)]
    return sorted({materials[name].strength for part in parts for name in part if materials[name].strength > 0})


def build(problem: Problem, rung: int | None = None, clocks: list[float] | None = None) -> Programme:
    """All rules, those of stages at the clocks given; that on idle weight on one rung alone: there nothing from the strength of that index on is
    idle, and what is weaker keeps to the most. A formula keeps the rule where it keeps one of these."""
    materials, columns = problem.palette.materials, usable_columns(problem)
    per_part = [neat_parts(problem.palette, problem.basis, {c.name: Fraction(1)}) for c in columns]
    rows: list[Row] = []

    def neat_of(members: list[str]) -> list[Fraction]:
        return [sum((part.get(name, Fraction(0)) for name in members), Fraction(0)) for part in per_part]

    def weighted(values: dict[str, Fraction]) -> list[Fraction]:
        return [sum((amount * values[name] for name, amount in part.items()), Fraction(0)) for part in per_part]

    def at_most(row: list[Fraction], bound: Fraction) -> None:
        rows.append((row, bound))

    def at_least(row: list[Fraction], bound: Fraction) -> None:
        rows.append(([-value for value in row], -bound))

    def combine(one: list[Fraction], factor: Fraction, other: list[Fraction]) -> list[Fraction]:
        return [a + factor * b for a, b in zip(one, other)]

    strength = weighted({name: m.strength for name, m in materials.items()})
    if rung is not None:
        steps = rungs(problem)
        if rung < len(steps):
            at_most(strength, 10 * TOTAL * steps[rung])
        weak = [name for name, material in materials.items() if 0 < material.strength and material.strength in steps[:rung]]
        at_most(neat_of(weak), problem.max_idle)
    if problem.strength_min is not None:
        at_least(strength, problem.strength_min * TOTAL)
    if problem.strength_max is not None:
        at_most(strength, problem.strength_max * TOTAL)

    priced = all(materials[name].price is not None for part in per_part for name, amount in part.items() if amount > 0)
    price = weighted({name: m.price or Fraction(0) for name, m in materials.items()}) if priced else None
    if problem.max_price is not None:
        at_most(price, problem.max_price * TOTAL)
    if problem.max_price_of_effect is not None:
        at_most(combine(price, -problem.max_price_of_effect, strength), Fraction(0))

    for group in problem.groups:
        if group.min is not None:
            at_least(neat_of(group.members), group.min)
        if group.max is not None:
            at_most(neat_of(group.members), group.max)
    for ratio in problem.ratios:
        of, to = neat_of([ratio.of]), neat_of([ratio.to])
        if ratio.max is not None:
            at_most(combine(of, -ratio.max, to), Fraction(0))
        if ratio.min is not None:
            at_least(combine(of, -ratio.min, to), Fraction(0))
    for name, material in materials.items():
        neat = neat_of([name])
        if not any(neat):
            continue
        if material.max is not None:
            at_most(neat, material.max)
        for use in problem.uses:
            if material.max_in_concentrate is not None:
                at_most([v * use.share / TOTAL for v in neat], material.max_in_concentrate)
            if material.max_in_product is not None and use.dosage is not None:
                at_most([v * use.share * use.dosage / 100 / TOTAL for v in neat], material.max_in_product)
    restriction_rows(problem, weighted, at_most)
    if problem.near is not None:
        near_rows(problem, weighted, at_most)
    if problem.blotter is not None:
        stage_rows(problem, weighted, at_most, clocks)

    counted = list(problem.aims)
    if problem.match == "balance":
        aimed = sum(aim.score for aim in problem.aims.values())
        q = {n: m.strength * sum(m.scores.get(d, Fraction(0)) for d in counted) / aimed for n, m in materials.items()}
    else:
        q = {name: m.strength for name, m in materials.items()}
    weight = weighted(q)
    gaps = []
    for d, aim in problem.aims.items():
        smell = weighted({name: m.strength * m.scores.get(d, Fraction(0)) for name, m in materials.items()})
        gaps.append(combine(smell, -aim.score, weight))
        if aim.min is not None:
            at_least(combine(smell, -aim.min, weight), Fraction(0))
        if aim.max is not None:
            at_most(combine(smell, -aim.max, weight), Fraction(0))
    count = problem.max_materials
    return Programme(
        columns,
        rows,
        weight,
        gaps,
        over=[aim.weight * aim.excess for aim in problem.aims.values()],
        under=[aim.weight for aim in problem.aims.values()],
        price=price,
        count=None if count is None or count >= len(columns) else count,
        unusual=problem.max_unusual if any(c.usual for c in columns) else None,
        views=view_rows(problem, weighted, clocks),
    )


def view_rows(problem: Problem, weighted, clocks: list[float] | None) -> list[ViewRows]:
    whole = sum((aim.weight * aim.score for aim in problem.aims.values()), Fraction(0))
    found = []
    for view in problem.views:
        assert view.law == "linear", "no rows for a power"
        smell = dict(view.strengths)
        if view.stage is not None:
            smell = {n: s * Fraction(left(problem.blotter, n, clocks[view.stage])) for n, s in smell.items()}
        weight = weighted({name: s * view.effect(name) for name, s in smell.items()})
        gaps = []
        for d, aim in view.aims.items():
            said = weighted({name: s * view.scores[name].get(d, Fraction(0)) for name, s in smell.items()})
            gaps.append([a - aim.score * b for a, b in zip(said, weight)])
        aims = view.aims.values()
        full = sum((aim.weight * aim.score for aim in aims), Fraction(0))
        found.append(
            ViewRows(weight, gaps, [a.weight * a.excess for a in aims], [a.weight for a in aims], view.weight * whole / full)
        )
    return found


def stage_rows(problem: Problem, weighted, at_most, clocks: list[float]) -> None:
    """The rules of stages, linear once the clocks are given; the film's own needs none."""
    materials, blotter = problem.palette.materials, problem.blotter
    first: dict[str, Fraction] = {}
    for k, (stage, clock) in enumerate(zip(blotter.stages, clocks)):
        odour = {n: m.strength * Fraction(left(blotter, n, clock)) for n, m in materials.items()}
        first = first if k else odour
        row = weighted(odour)
        if stage.strength_max is not None:
            at_most(row, stage.strength_max * TOTAL)
        if stage.strength_min is not None:
            at_most([-v for v in row], -stage.strength_min * TOTAL)
        if stage.kept_min is not None:
            at_most(weighted({n: stage.kept_min / 100 * first[n] - o for n, o in odour.items()}), Fraction(0))
        for share in stage.shares:
            tagged = {n: Fraction(share.tag in m.tags) for n, m in materials.items()}
            if share.max is not None:
                at_most(weighted({n: o * (tagged[n] - share.max / 100) for n, o in odour.items()}), Fraction(0))
            if share.min is not None:
                at_most(weighted({n: o * (share.min / 100 - tagged[n]) for n, o in odour.items()}), Fraction(0))
    lasts = weighted({name: -blotter.hours[name] / TOTAL for name in materials})
    at_most(lasts, -LASTS * blotter.stages[-1].minutes / 60 / blotter.phi)


def near_rows(problem: Problem, weighted, at_most) -> None:
    """What is missing of any of its parts together, one row for every choice of parts: the largest choice is half the
    sum of the differences, since shares add up to 1 in both formulas. Few parts alone."""
    near, materials = problem.near, problem.palette.materials
    counts = {n: (m.strength if near.by == "odour" else Fraction(1)) if m.strength > 0 else Fraction(0) for n, m in materials.items()}
    whole = weighted(counts)
    lacking = sum((share for name, share in near.shares.items() if name not in materials), Fraction(0))
    own = [name for name in near.shares if name in materials]
    assert len(own) <= 9, "too many choices"
    smells = {name: weighted({**{n: Fraction(0) for n in materials}, name: counts[name]}) for name in own}
    for choice in product([False, True], repeat=len(own)):
        chosen = [name for name, is_chosen in zip(own, choice) if is_chosen]
        share = lacking + sum((near.shares[name] for name in chosen), Fraction(0)) - near.within / 100
        row = [share * d for d in whole]
        for name in chosen:
            row = [a - b for a, b in zip(row, smells[name])]
        at_most(row, Fraction(0))


def restriction_rows(problem: Problem, weighted, at_most) -> None:
    joint: dict[tuple[str, str], list[Row]] = {}
    for limit in problem.limits:
        listed = set(limit.cas)
        parts = {}
        for name, material in problem.palette.materials.items():
            own = material.cas in listed
            within = sum((v for cas, v in material.constituents.items() if cas in listed), Fraction(0)) / 100
            parts[name] = {
                "all": Fraction(1) if own else min(within, Fraction(1)),
                "added": Fraction(own),
                "constituents": Fraction(0) if own else min(within, Fraction(1)),
            }[limit.applies]
        scale = limit.use.share * limit.use.dosage / 100 / TOTAL
        row = [value * scale for value in weighted(parts)]
        reserve = sum((limit.use.reserve.get(cas, Fraction(0)) for cas in limit.cas), Fraction(0))
        at_most(row, limit.limit - reserve)
        if limit.joint is not None:
            joint.setdefault((limit.joint, limit.use.suffix), []).append(
                ([value / limit.limit for value in row], reserve / limit.limit)
            )
    for members in joint.values():
        total = [sum(column) for column in zip(*(row for row, _ in members))]
        at_most(total, 1 - sum(reserve for _, reserve in members))


def whole(row: Row, columns: list[Column]) -> tuple[list[float], float]:
    """The row over whole steps, scaled to whole numbers where they stay moderate.

    With whole coefficients a violation is at least 1, far outside any solver's tolerance.
    """
    coefficients, bound = [v * (c.step or 1) for v, c in zip(row[0], columns)], row[1]
    largest = max((abs(v) for v in coefficients), default=Fraction(0))
    if largest == 0:
        return [0.0] * len(columns), float(bound)
    factor = Fraction(lcm(*(value.denominator for value in coefficients)))
    if largest * factor > 10**7:
        factor = Fraction(10**4) / largest
    elif all(c.step for c in columns):
        return [float(v * factor) for v in coefficients], float(floor(bound * factor))
    return [float(v * factor) for v in coefficients], float(bound * factor)

