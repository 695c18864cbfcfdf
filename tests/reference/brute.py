#!/usr/bin/env python3
"""Cross-check the search of `solve` by enumerating every formula of random tiny briefs.

    python3 brute.py [COUNT] [SEED]

Each brief has coarse steps, so that all formulas can be listed and judged one by one in exact arithmetic.
Nothing of the rows or the solvers is used by the enumeration. Linear briefs are checked the other way
round: no random formula inside the rules may be better than the optimum.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from fractions import Fraction
from typing import Iterator

from evaluate import evaluate
from resolve import TOTAL, Aim, DoseRule, Group, Limit, Material, Palette, Problem, Ratio, Use, most_of
from solve import solve


def every_formula(problem: Problem) -> Iterator[dict[str, Fraction]]:
    """All formulas of 1000 parts on the steps, bounds and least doses left to the judge."""
    names = [name for name, rule in problem.doses.items() if not rule.forbidden_by]

    def fill(k: int, left: Fraction, parts: dict[str, Fraction]):
        rule = problem.doses[names[k]]
        if rule.fixed is not None:
            choices = [rule.fixed]
        elif k == len(names) - 1:
            choices = [left] if left % rule.step == 0 else []
        else:
            most = min(left, most_of(problem, names[k]))
            choices = [i * rule.step for i in range(int(most // rule.step) + 1)]
        for dose in choices:
            if dose > left:
                continue
            now = {**parts, names[k]: dose}
            if k < len(names) - 1:
                yield from fill(k + 1, left - dose, now)
            elif dose == left:
                yield now

    if names:
        yield from fill(0, TOTAL, {})


def maybe(rng: random.Random, chance: float, make):
    return make() if rng.random() < chance else None


def tiny(rng: random.Random, stepped: bool) -> Problem:
    n, m = rng.randint(3, 5), rng.randint(2, 4)
    names, descriptors = [f"Material {i:02}" for i in range(n)], [f"d{k}" for k in range(m)]
    whole = lambda low, high: Fraction(rng.randint(low, high))
    materials = {}
    for i, name in enumerate(names):
        bottle = rng.random() < 0.3
        materials[name] = Material(
            name=name,
            cas=f"cas-{i}",
            strength=Fraction(0) if i == 0 and rng.random() < 0.4 else whole(1, 300),
            scores={d: whole(0, 10) for d in descriptors if rng.random() < 0.7},
            price=whole(1, 300),
            min=None,
            max=maybe(rng, 0.2, lambda: whole(1, 6) * 100),
            step=None,
            max_in_concentrate=maybe(rng, 0.15, lambda: whole(5, 40)),
            max_in_product=maybe(rng, 0.15, lambda: whole(1, 8)),
            tags=[],
            constituents={f"cas-{rng.randrange(n)}": whole(1, 60)} if rng.random() < 0.4 else {},
            bottle_fraction=Fraction(rng.choice([10, 50]), 100) if bottle and i > 0 else Fraction(1),
            bottle_carrier=rng.choice([names[0], "ethanol"]) if bottle and i > 0 else None,
            have=True,
        )
    if materials[names[0]].strength == 0:
        materials[names[0]].scores = {}
    else:  # only a carrier may be a bottle's carrier here
        for material in materials.values():
            material.bottle_carrier = "ethanol" if material.bottle_carrier else None
    doses = {}
    for name in names:
        rule = DoseRule(
            min=whole(0, 3) * 50 if rng.random() < 0.5 and stepped else Fraction(0),
            step=Fraction(rng.choice([50, 100])) if stepped else None,
            brief_max=maybe(rng, 0.3, lambda: whole(2, 9) * 100),
            palette_max=materials[name].max,
            fixed=maybe(rng, 0.1, lambda: whole(1, 4) * 50),
        )
        if rule.fixed is not None:
            rule.min, rule.step = Fraction(0), None
        rule.must = rule.fixed is not None or (stepped and rng.random() < 0.1)
        doses[name] = rule
    aims = {d: Aim(whole(0, 9), Fraction(rng.choice([1, 1, 2])), Fraction(rng.choice([1, 1, 3])) / 2) for d in descriptors}
    aims["d0"].score += 1
    if rng.random() < 0.2:
        aims["d1"].max = whole(2, 8)
    uses = [Use(f"@{k}", ["x"], whole(5, 30), Fraction(rng.choice([50, 100])), {}) for k in range(rng.choice([0, 1, 2]))]
    limits = []
    for use in uses:
        use.reserve = {f"cas-{rng.randrange(n)}": Fraction(1, 2)} if rng.random() < 0.3 else {}
        for k in range(rng.randint(0, 2)):
            cas = [f"cas-{i}" for i in rng.sample(range(n), rng.choice([1, 2]))]
            applies, joint = rng.choice(["all", "all", "added", "constituents"]), maybe(rng, 0.5, lambda: "joint")
            limits.append(Limit(f"S{k}", cas, applies, whole(1, 16) / 2, joint, use))
    one, two = rng.sample(names, 2)
    counted = rng.random() < 0.5
    for material in materials.values():
        if counted and rng.random() < 0.7:
            low = whole(0, 4) * 50
            material.usual = (low, low + whole(0, 6) * 50)
    return Problem(
        palette=Palette(Fraction(10), descriptors, materials),
        match=rng.choice(["balance", "level"]),
        basis=rng.choice(["neat", "bottle"]),
        aims=aims,
        doses=doses,
        max_materials=rng.randint(1, n) if stepped and rng.random() < 0.6 else None,
        max_idle=maybe(rng, 0.35, lambda: whole(0, 8) * 50),
        strength_min=maybe(rng, 0.2, lambda: whole(1, 100)),
        strength_max=maybe(rng, 0.2, lambda: whole(50, 250)),
        max_price=maybe(rng, 0.4, lambda: whole(20, 250)),
        max_price_of_effect=maybe(rng, 0.2, lambda: whole(1, 12) / 4),
        groups=[Group("g", [one, two], maybe(rng, 0.5, lambda: whole(1, 4) * 50), maybe(rng, 0.5, lambda: whole(6, 9) * 100))]
        if rng.random() < 0.3
        else [],
        ratios=[Ratio(one, two, maybe(rng, 0.5, lambda: whole(1, 4) / 2), Fraction(3))] if rng.random() < 0.3 else [],
        uses=uses,
        limits=limits,
        max_unusual=rng.randint(0, 2) if counted else None,
    )


def check_stepped(problem: Problem) -> str:
    best = None
    for parts in every_formula(problem):
        verdict = evaluate(problem, parts)
        if not verdict.broken and verdict.loss is not None and (best is None or verdict.loss < best):
            best = verdict.loss
    answer = solve(problem)
    if best is None or answer.status != "optimal":
        return answer.status if (best is None) == (answer.status == "infeasible") else f"WRONG {answer.status} {best}"
    gap = float(abs(best - answer.verdict.loss))
    return "optimal" if gap <= 1e-7 * max(1.0, float(best)) else f"WRONG by {gap}"


def check_linear(problem: Problem, rng: random.Random) -> str:
    answer = solve(problem)
    names = [name for name in problem.doses]
    for k in range(400):
        weights = [rng.random() ** 4 for _ in names]
        parts = {name: TOTAL * Fraction(round(w * 10**6)) for name, w in zip(names, weights)}
        if answer.parts and k % 2:  # near the optimum
            small = Fraction(1, 10 ** rng.randint(1, 4))
            whole = sum(parts.values()) or Fraction(1)
            parts = {n: small * p / whole + (1 - small) * answer.parts.get(n, 0) / TOTAL for n, p in parts.items()}
        whole = sum(parts.values()) or Fraction(1)
        parts = {name: part * TOTAL / whole for name, part in parts.items()}
        for name, rule in problem.doses.items():
            if rule.fixed is not None and parts[name] < TOTAL:
                rest = TOTAL - parts[name]
                parts = {n: p * (TOTAL - rule.fixed) / rest for n, p in parts.items()}
                parts[name] = rule.fixed
        verdict = evaluate(problem, parts)
        if verdict.broken or verdict.loss is None:
            continue
        if answer.status == "infeasible" or verdict.loss < answer.verdict.loss - Fraction(1, 10**7):
            return f"WRONG {answer.status}"
    return answer.status


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    tally: Counter[str] = Counter()
    for index in range(count):
        rng = random.Random(f"{seed}/{index}")
        stepped = index % 3 != 0
        problem = tiny(rng, stepped)
        found = check_stepped(problem) if stepped else check_linear(problem, rng)
        tally[("stepped " if stepped else "linear ") + found.split(" by ")[0]] += 1
        if not found.startswith(("optimal", "infeasible")):
            print(f"brief {index}: {found}", flush=True)
    print(dict(sorted(tally.items())))
    sys.exit(any("WRONG" in key for key in tally))


if __name__ == "__main__":
    main()
