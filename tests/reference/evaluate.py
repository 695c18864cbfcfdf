"""Judge any formula in plain exact arithmetic, without the rows of any programme.

Only the second opinion (a power of 0.4) leaves the rational numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction

from film import LASTS, clocks_of, left, life_hours
from resolve import TOTAL, Limit, Problem, neat_parts
from views import Judged

SECOND_EXPONENT = 0.4
LOOSE = Fraction(1, 10**6)  # of a rule's size: for formulas with continuous doses


@dataclass
class Verdict:
    loss: Fraction | None
    fidelity: Fraction | None
    profile: dict[str, Fraction]
    strength: Fraction
    price: Fraction | None
    second_loss: float | None
    second_fidelity: float | None
    broken: list[str]
    judged: list[Judged] = field(default_factory=list)  # each view, where there are several
    clocks: list[float] = field(default_factory=list)  # of the stages, by which it was judged
    stages: list[dict] = field(default_factory=list)
    second_exponent: float = SECOND_EXPONENT

    def report(self) -> dict:
        """As JSON values, in DESIGN's words and units."""

        def plain(value):
            return None if value is None else float(value)

        several = {} if not self.judged else {
            "views": [
                {
                    "stage": one.view.stage,
                    "nose": one.view.nose,
                    "law": one.view.law,
                    "loss": plain(one.loss),
                    "fidelity": None if one.loss is None else plain(view_fidelity(one)),
                    "strength": plain(one.strength),
                }
                for one in self.judged
            ]
        }
        if self.stages:
            several["stages"] = self.stages
        return {
            **several,
            "loss": plain(self.loss),
            "fidelity": plain(self.fidelity),
            "price": plain(self.price),
            "strength": plain(self.strength),
            "price_of_effect": float(self.price / self.strength) if self.price is not None and self.strength else None,
            "second_opinion": {
                "exponent": self.second_exponent,
                "fidelity": self.second_fidelity,
                "loss": self.second_loss,
            },
            "profile": {name: float(value) for name, value in self.profile.items()},
            "broken": self.broken,
        }


def full_loss(problem: Problem):
    """L0, the loss at which fidelity reaches zero."""
    total = sum(aim.weight * aim.score for aim in problem.aims.values())
    return total * (2 if problem.match == "balance" else 1)


def blend(problem: Problem, odour: dict) -> dict | None:
    """Profile of a blend, given each material's odour amount (s x, or its power)."""
    materials = problem.palette.materials
    if problem.match == "balance":
        aimed = sum(aim.score for aim in problem.aims.values())
        divisor = sum(
            amount * sum(materials[name].scores.get(d, 0) for d in problem.aims) / aimed
            for name, amount in odour.items()
        )
    else:
        divisor = sum(odour.values())
    if not divisor > 0:
        return None
    return {
        d: sum(amount * materials[name].scores.get(d, 0) for name, amount in odour.items()) / divisor
        for d in problem.aims
    }


def view_fidelity(one: Judged):
    full = one.view.full_loss()
    return 100 * max(0, 1 - one.loss / (full if one.view.law == "linear" else float(full)))


def view_losses(problem: Problem, neat: dict[str, Fraction], clocks: list[float]) -> list[Judged]:
    """Every view of a formula, each by its stage's clock."""
    found = []
    for view in problem.views:
        amounts = {name: Fraction(1) for name in neat}
        if view.stage is not None:
            amounts = {name: Fraction(left(problem.blotter, name, clocks[view.stage])) for name in neat}
        odour = view.odour(neat, amounts.__getitem__)
        profile = view.profile(odour)
        strength = sum((view.strengths[n] * amounts[n] * amount for n, amount in neat.items()), Fraction(0)) / TOTAL
        loss = None if profile is None else view.loss(profile)
        found.append(Judged(view, loss, profile or {}, strength, amounts))
    return found


def check_stages(problem: Problem, neat: dict[str, Fraction], clocks: list[float], out: "Checker") -> list[dict]:
    """The rules of stages, by the palette's own numbers, and what is left at each, as JSON values."""
    materials, blotter, told = problem.palette.materials, problem.blotter, []
    first: list[Fraction] = []
    for k, (stage, clock) in enumerate(zip(blotter.stages, clocks)):
        remaining = {name: Fraction(left(blotter, name, clock)) for name in neat}
        odour = {name: materials[name].strength * remaining[name] * amount for name, amount in neat.items()}
        smelled = list(odour.values())
        first = first if k else smelled
        strength = sum(smelled, Fraction(0)) / TOTAL
        out.between(f"stage:{stage.name}.strength.{{}}", stage.strength_min, [o / TOTAL for o in smelled], stage.strength_max)
        if stage.kept_min is not None:
            terms = [now - stage.kept_min / 100 * then for now, then in zip(smelled, first)]
            out.between(f"stage:{stage.name}.kept.min", Fraction(0), terms, None)
        for share in stage.shares:
            for end, part in (("min", share.min), ("max", share.max)):
                if part is None:
                    continue
                terms = [o * ((share.tag in materials[name].tags) - part / 100) for name, o in odour.items()]
                bounds = (Fraction(0), terms, None) if end == "min" else (None, terms, Fraction(0))
                out.between(f"share:{stage.name}/{share.tag}.{end}", *bounds)
        whole, total = sum(neat.values()), sum(first, Fraction(0)) / TOTAL
        told.append(
            {
                "name": stage.name,
                "clock": None if clock == float("inf") else clock,
                "film_left": float(100 * sum(amount * remaining[name] for name, amount in neat.items()) / whole),
                "strength": float(strength),
                "kept_of_first": float(100 * strength / total) if total else None,
                "left": {name: float(100 * part) for name, part in remaining.items()},
            }
        )
    last = blotter.stages[-1].minutes / 60
    out.between("film", LASTS * last, [life_hours(blotter, neat)], None)
    return told


def loss_of(problem: Problem, profile: dict):
    total = 0
    for name, aim in problem.aims.items():
        over = profile[name] - aim.score
        total += aim.weight * (aim.excess * over if over > 0 else -over)
    return total


def fidelity_of(problem: Problem, loss):
    return 100 * max(0, 1 - loss / full_loss(problem))


def price_of(problem: Problem, parts: dict[str, Fraction]) -> Fraction | None:
    """Per kg of the basis; None where a material that is used has no price."""
    materials, total = problem.palette.materials, Fraction(0)
    for name, amount in neat_parts(problem.palette, problem.basis, parts).items():
        if amount > 0:
            if materials[name].price is None:
                return None
            total += materials[name].price * amount / TOTAL
    return total


def brought(problem: Problem, limit: Limit, neat: dict[str, Fraction]) -> list[Fraction]:
    """What the formula's materials and the reserve bring of a restricted substance, percent of the product."""
    terms = []
    for name, amount in neat.items():
        material = problem.palette.materials[name]
        if material.cas in limit.cas:
            part = Fraction(0) if limit.applies == "constituents" else Fraction(1)
        elif limit.applies == "added":
            part = Fraction(0)
        else:
            part = min(Fraction(1), sum((material.constituents.get(cas, Fraction(0)) for cas in limit.cas), Fraction(0)) / 100)
        terms.append(amount / TOTAL * part * limit.use.share / 100 * limit.use.dosage)
    return terms + [limit.use.reserve.get(cas, Fraction(0)) for cas in limit.cas]


class Checker:
    """Collects the ids of broken rules; `tolerance` is relative to the rule's size."""

    def __init__(self, tolerance: Fraction):
        self.tolerance = tolerance
        self.broken: list[str] = []

    def add(self, rule: str) -> None:
        if rule not in self.broken:
            self.broken.append(rule)

    def between(self, rule: str, low, terms: list[Fraction], high) -> None:
        value, bulk = sum(terms, Fraction(0)), sum((abs(term) for term in terms), Fraction(0))
        for end, bound, gap in (("min", low, None if low is None else low - value), ("max", high, None if high is None else value - high)):
            if gap is not None and gap > self.tolerance * max(abs(bound), bulk):
                self.add(rule.replace("{}", end))


def check_doses(problem: Problem, parts: dict[str, Fraction], neat: dict[str, Fraction], out: Checker) -> None:
    for name, rule in problem.doses.items():
        dose = parts.get(name, Fraction(0))
        if dose > 0:
            for reason in rule.forbidden_by:
                out.add(reason)
        if rule.fixed is not None:
            out.between(f"dose:{name}.fixed", rule.fixed, [dose], rule.fixed)
        elif dose > 0:
            if rule.step is not None and dose % rule.step != 0:
                out.add(f"dose:{name}.step")
            if dose < rule.min:
                out.between(f"dose:{name}.min", rule.min, [dose], None)
        elif rule.must:
            out.add(f"dose:{name}.must")
        out.between(f"dose:{name}.max", None, [dose], rule.brief_max)
        out.between(f"dose:{name}.max", None, [neat.get(name, Fraction(0))], rule.palette_max)


def check_products(problem: Problem, neat: dict[str, Fraction], out: Checker) -> None:
    for use in problem.uses:
        for name, amount in neat.items():
            material, percent = problem.palette.materials[name], amount / TOTAL * use.share
            out.between(f"concentrate:{name}{use.suffix}", None, [percent], material.max_in_concentrate)
            if use.dosage is not None:
                out.between(f"product:{name}{use.suffix}", None, [percent * use.dosage / 100], material.max_in_product)
    joint: dict[str, list[Fraction]] = {}
    for limit in problem.limits:
        terms = brought(problem, limit, neat)
        out.between(f"limit:{limit.substance}{limit.use.suffix}", None, terms, limit.limit)
        if limit.joint is not None:
            rule = f"joint:{limit.joint}{limit.use.suffix}"
            joint.setdefault(rule, []).extend(term / limit.limit for term in terms)
    for rule, terms in joint.items():
        out.between(rule, None, terms, Fraction(1))


def moved_percent(problem: Problem, neat: dict[str, Fraction]) -> Fraction | None:
    """Half the sum of the absolute differences of all shares from those of the known formula, in percent."""
    materials, near = problem.palette.materials, problem.near
    counted = {n: a * (materials[n].strength if near.by == "odour" else 1) for n, a in neat.items() if materials[n].strength > 0}
    whole = sum(counted.values())
    if not whole:
        return None
    names = {*counted, *near.shares}
    return 50 * sum(abs(counted.get(n, Fraction(0)) / whole - near.shares.get(n, Fraction(0))) for n in names)


def other_law(problem: Problem, worst: Judged, neat: dict[str, Fraction]) -> tuple[float, float] | None:
    """Loss and fidelity, weighed as the formula's own, of a view by the law that it does not follow."""
    law = "compressive" if worst.view.law == "linear" else "linear"
    view = replace(worst.view, law=law)
    profile = view.profile(view.odour(neat, worst.left.__getitem__))
    if profile is None:
        return None
    other = Judged(view, view.loss(profile), profile, worst.strength)
    loss = full_loss(problem) * Fraction(other.lost_percent) / 100
    return float(loss), float(fidelity_of(problem, loss))


def evaluate(
    problem: Problem, parts: dict[str, Fraction], tolerance: Fraction = Fraction(0), clocks: list[float] | None = None
) -> Verdict:
    """Everything DESIGN says of one formula, in parts of the brief's basis. Stages go by the clocks of its own film
    where none are given."""
    parts = {name: dose for name, dose in parts.items() if dose > 0}
    materials = problem.palette.materials
    neat = neat_parts(problem.palette, problem.basis, parts)
    odour = {name: materials[name].strength * amount for name, amount in neat.items() if materials[name].strength > 0}
    strength = sum(odour.values(), Fraction(0)) / TOTAL
    price = price_of(problem, parts)
    profile = blend(problem, odour)
    loss = None if profile is None else loss_of(problem, profile)
    second = blend(problem, {name: float(amount) ** SECOND_EXPONENT for name, amount in odour.items()})
    second_loss = None if second is None else float(loss_of(problem, second))

    out = Checker(tolerance)
    if sum(parts.values()) != TOTAL:
        out.add("sum")  # not an id of DESIGN: such a formula is refused before it is judged
    check_doses(problem, parts, neat, out)
    used = sum(1 for name, dose in parts.items() if dose >= Fraction(1, 10**6))
    if problem.max_materials is not None and used > problem.max_materials:
        out.add("max_materials")
    # Less than a tenth of the weight's share of the odour; at the very edge it is heard.
    edge = strength / 10 * (1 - tolerance)
    idle = [amount for name, amount in neat.items() if 0 < materials[name].strength < edge]
    out.between("max_idle", None, idle, problem.max_idle)
    unusual = sum(1 for name, dose in parts.items() if problem.is_unusual(name, dose))
    if problem.max_unusual is not None and unusual > problem.max_unusual:
        out.add("max_unusual")
    out.between("strength.{}", problem.strength_min, [strength], problem.strength_max)
    if price is not None:
        out.between("budget", None, [price], problem.max_price)
        if problem.max_price_of_effect is not None:
            out.between("price_of_effect", None, [price, -problem.max_price_of_effect * strength], Fraction(0))
    for group in problem.groups:
        amounts = [neat.get(name, Fraction(0)) for name in group.members]
        out.between(f"group:{group.name}.{{}}", group.min, amounts, group.max)
    for ratio in problem.ratios:
        of, to = neat.get(ratio.of, Fraction(0)), neat.get(ratio.to, Fraction(0))
        if ratio.max is not None:
            out.between(f"ratio:{ratio.of}/{ratio.to}.max", None, [of, -ratio.max * to], Fraction(0))
        if ratio.min is not None:
            out.between(f"ratio:{ratio.of}/{ratio.to}.min", Fraction(0), [of, -ratio.min * to], None)
    moved = None if problem.near is None else moved_percent(problem, neat)
    if moved is not None:
        out.between("near", None, [moved], problem.near.within)
    for name, aim in problem.aims.items():
        if profile is not None:
            out.between(f"target:{name}.{{}}", aim.min, [profile[name]], aim.max)
    check_products(problem, neat, out)
    if problem.views:
        return judge_views(problem, neat, clocks, out, strength, price)

    return Verdict(
        loss=loss,
        fidelity=None if loss is None else fidelity_of(problem, loss),
        profile=profile or {},
        strength=strength,
        price=price,
        second_loss=second_loss,
        second_fidelity=None if second_loss is None else float(fidelity_of(problem, second_loss)),
        broken=out.broken,
    )


def judge_views(problem: Problem, neat, clocks: list[float] | None, out: Checker, strength, price) -> Verdict:
    """The worst view decides. Loss and fidelity are told by the brief's own target, a view's weight in both."""
    told = []
    if problem.blotter is not None:
        clocks = clocks_of(problem.blotter, neat) if clocks is None else clocks
        told = check_stages(problem, neat, clocks, out)
    judged = view_losses(problem, neat, clocks or [])
    silent = next((one for one in judged if one.loss is None), None)
    worst = silent or max(judged, key=lambda one: one.lost_percent)
    second = None if silent else other_law(problem, worst, neat)
    loss = None if silent else full_loss(problem) * Fraction(worst.lost_percent) / 100
    return Verdict(
        loss=loss,
        fidelity=None if silent else fidelity_of(problem, loss),
        profile=worst.profile,
        strength=strength,
        price=price,
        second_loss=second and second[0],
        second_fidelity=second and second[1],
        broken=out.broken,
        judged=judged,
        clocks=clocks or [],
        stages=told,
        second_exponent=SECOND_EXPONENT if worst.view.law == "linear" else 1.0,
    )
