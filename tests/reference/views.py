"""Who judges a formula, when and by which law: one view each, of which the worst counts."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import exp, log
from pathlib import Path
from statistics import median
from typing import Any, Callable

from film import Stage

COMPRESSED = 0.4
UNSMELLED = 100  # a mean takes what a nose does not smell for so many times weaker than the strongest nose's


@dataclass
class Nose:
    name: str | None  # None where a brief has one nose
    strengths: dict[str, Fraction]
    scores: dict[str, dict[str, Fraction]]
    own: set[str]  # materials of which it says something itself


@dataclass
class View:
    nose: str | None
    stage: int | None  # which one of the blotter's
    law: str  # linear | compressive
    weight: Fraction
    strengths: dict[str, Fraction]
    scores: dict[str, dict[str, Fraction]]
    aims: dict[str, Any]  # counted descriptors, as resolve has them
    match: str

    def full_loss(self) -> Fraction:
        """The loss at which fidelity reaches zero."""
        total = sum((aim.weight * aim.score for aim in self.aims.values()), Fraction(0))
        return total * (2 if self.match == "balance" else 1)

    def effect(self, name: str):
        """q / s of a material: what one part of its odour adds to the divisor of the profile."""
        if self.match == "level":
            return Fraction(1)
        aimed = sum((aim.score for aim in self.aims.values()), Fraction(0))
        return sum((self.scores[name].get(d, Fraction(0)) for d in self.aims), Fraction(0)) / aimed

    def odour(self, neat: dict[str, Fraction], left: Callable[[str], Fraction]) -> dict:
        """What each material brings, of what is left of it; by the compressive law its power."""
        amounts = {n: self.strengths[n] * left(n) * amount for n, amount in neat.items()}
        amounts = {name: amount for name, amount in amounts.items() if amount > 0}
        return amounts if self.law == "linear" else {n: float(a) ** COMPRESSED for n, a in amounts.items()}

    def profile(self, odour: dict) -> dict | None:
        kind = (lambda v: v) if self.law == "linear" else float
        divisor = sum(amount * kind(self.effect(name)) for name, amount in odour.items())
        if not divisor > 0:
            return None
        return {
            d: sum(amount * kind(self.scores[name].get(d, Fraction(0))) for name, amount in odour.items()) / divisor
            for d in self.aims
        }

    def loss(self, profile: dict):
        total = 0
        for d, aim in self.aims.items():
            over = profile[d] - (aim.score if self.law == "linear" else float(aim.score))
            factor, under = aim.weight * aim.excess, aim.weight
            total += over * (factor if self.law == "linear" else float(factor)) if over > 0 else -over * (
                under if self.law == "linear" else float(under)
            )
        return total


@dataclass
class Judged:
    """One view of one formula; loss and the rest None where nothing is smelled."""

    view: View
    loss: Any
    profile: dict
    strength: Fraction
    left: dict[str, float] = field(default_factory=dict)

    @property
    def lost_percent(self):
        """Of the match, times the view's weight: what the worst view has most of."""
        if self.loss is None:
            return None
        full, weight = self.view.full_loss(), self.view.weight
        return 100 * self.loss / full * weight if self.view.law == "linear" else 100 * self.loss / float(full) * float(weight)


def read_nose(raw: dict, name: str | None, own: Nose) -> Nose:
    """Another palette's numbers; what it does not have keeps the palette's own."""
    strengths, scores = dict(own.strengths), dict(own.scores)
    for entry in raw["material"]:
        strengths[entry["name"]] = Fraction(entry["strength"])
        scores[entry["name"]] = {d: Fraction(v) for d, v in entry.get("scores", {}).items()}
    return Nose(name, strengths, scores, {entry["name"] for entry in raw["material"]})


def pairwise_median(values: list) -> Any:
    """The median of the means of all pairs, each value with itself among them."""
    return median((a + b) / 2 for i, a in enumerate(values) for b in values[i:])


def mean_nose(all_noses: list[Nose]) -> Nose:
    """Of those noses that have a material."""
    strengths, scores = {}, {}
    for name in all_noses[0].strengths:
        noses = [nose for nose in all_noses if name in nose.own]
        said = [nose.strengths[name] for nose in noses]
        strongest = max(said)
        if strongest == 0:
            strengths[name] = Fraction(0)
        elif all(s == said[0] for s in said):
            strengths[name] = said[0]
        else:
            logs = [log(float(s if s > 0 else strongest / UNSMELLED)) for s in said]
            strengths[name] = Fraction(exp(pairwise_median(logs)))
        words = {d for nose in noses for d in nose.scores[name]}
        scores[name] = {d: pairwise_median([nose.scores[name].get(d, Fraction(0)) for nose in noses]) for d in words}
    return Nose(None, strengths, scores, set(strengths))


def read_noses(brief: dict, folder: Path, own: Nose, read: Callable[[Path], dict]) -> tuple[list[Nose], Nose]:
    """Whose numbers judge, and whose count in rules."""
    files = brief.get("noses", [])
    noses = [own]
    for file in files if isinstance(files, list) else [files]:
        raw = read(folder / file)
        noses.append(read_nose(raw, raw.get("name", file), own))
    asked = brief.get("nose", "worst")
    if len(noses) == 1:
        return [own], own
    if asked == "mean":
        mean = mean_nose(noses)
        return [mean], mean
    if asked == "worst":
        return [replace(own, name="own"), *noses[1:]], own
    one = {"own": own, **{nose.name: nose for nose in noses[1:]}}[asked]
    return [replace(one, name=None)], one


def stage_target(target: dict, stage: Stage | None) -> dict:
    """[target] with what the stage says of it, key by key; floors and ceilings are no stage's."""
    merged = {d: dict(entry) if isinstance(entry, dict) else {"score": entry} for d, entry in target.items()}
    for d, entry in (stage.target if stage else {}).items():
        merged.setdefault(d, {}).update(entry if isinstance(entry, dict) else {"score": entry})
    return merged
