"""Read palette, brief and limits files and resolve them into one plain problem.

Every number becomes an exact `fractions.Fraction` taken from the decimal text. Input is assumed to be
valid: this is a reference for arithmetic and optima, not for diagnostics.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import Any

from film import Blotter, Stage, read_blotter
from views import Nose, View, read_noses, stage_target

TOTAL = Fraction(1000)  # parts in a formula
LEAST_DOSE = Fraction(1, 10**6)  # ppt: below this a material does not count as used


def read_toml(path: Path) -> dict[str, Any]:
    with open(path, "rb") as handle:
        return tomllib.load(handle, parse_float=Fraction)


def number(value: Any) -> Fraction | None:
    return None if value is None else Fraction(value)


def as_list(value: Any) -> list:
    return value if isinstance(value, list) else [value]


@dataclass
class Material:
    name: str
    cas: str | None
    strength: Fraction
    scores: dict[str, Fraction]
    price: Fraction | None
    min: Fraction | None
    max: Fraction | None
    step: Fraction | None
    max_in_concentrate: Fraction | None
    max_in_product: Fraction | None
    tags: list[str]
    constituents: dict[str, Fraction]
    bottle_fraction: Fraction  # neat material in the usual bottle, by mass, 0 to 1
    bottle_carrier: str | None
    have: bool
    usual: tuple[Fraction, Fraction] | None = None  # neat ppt of the accord, both ends usual

    @property
    def is_carrier(self) -> bool:
        return self.strength == 0


@dataclass
class Palette:
    scale: Fraction
    descriptors: list[str]
    materials: dict[str, Material]


@dataclass
class Aim:
    """One descriptor of the target."""

    score: Fraction
    weight: Fraction
    excess: Fraction = Fraction(1)
    min: Fraction | None = None
    max: Fraction | None = None


@dataclass
class DoseRule:
    """What one material's dose must keep to, in parts of the brief's basis unless said."""

    min: Fraction = Fraction(0)
    step: Fraction | None = None
    brief_max: Fraction | None = None  # from [doses]
    palette_max: Fraction | None = None  # from the palette: neat parts
    fixed: Fraction | None = None
    must: bool = False
    forbidden_by: list[str] = field(default_factory=list)  # ids of the rules that leave it out

    @property
    def threshold(self) -> Fraction:
        """The least dose at which the material counts as used."""
        if self.fixed is not None:
            return self.fixed
        if self.step is None:
            return max(self.min, LEAST_DOSE)
        return max(ceil(self.min / self.step) * self.step, self.step, LEAST_DOSE)


@dataclass
class Use:
    suffix: str  # "" or "@NAME" where a brief has several finished products
    categories: list[str]
    dosage: Fraction | None
    share: Fraction
    reserve: dict[str, Fraction]


@dataclass
class Limit:
    """A restriction as it holds for one finished product."""

    substance: str
    cas: list[str]
    applies: str
    limit: Fraction
    joint: str | None
    use: Use


@dataclass
class Group:
    name: str
    members: list[str]
    min: Fraction | None
    max: Fraction | None


@dataclass
class Ratio:
    of: str
    to: str
    min: Fraction | None
    max: Fraction | None


@dataclass
class Near:
    """A known formula: what its shares are of, and the share of each of its names, odourless ones left out."""

    by: str
    shares: dict[str, Fraction]
    within: Fraction


@dataclass
class Problem:
    palette: Palette
    match: str
    basis: str
    aims: dict[str, Aim]  # counted descriptors alone (weight > 0), in the palette's order
    doses: dict[str, DoseRule]
    max_materials: int | None
    max_idle: Fraction | None
    strength_min: Fraction | None
    strength_max: Fraction | None
    max_price: Fraction | None
    max_price_of_effect: Fraction | None
    groups: list[Group]
    ratios: list[Ratio]
    uses: list[Use]
    limits: list[Limit]
    max_unusual: int | None = None
    near: Near | None = None
    views: list[View] = field(default_factory=list)  # empty: one, the problem's own numbers by the linear law
    blotter: Blotter | None = None

    def neat_fraction(self, name: str) -> Fraction:
        """Neat material in one part of the basis."""
        return self.palette.materials[name].bottle_fraction if self.basis == "bottle" else Fraction(1)

    def is_unusual(self, name: str, dose: Fraction) -> bool:
        """Whether a dose, in parts of the basis, brings neat material outside its usual range."""
        usual = self.palette.materials[name].usual
        return dose > 0 and usual is not None and not usual[0] <= dose * self.neat_fraction(name) <= usual[1]


def read_palette(path: Path) -> Palette:
    raw = read_toml(path)
    materials = {}
    for entry in raw.get("material", []):
        bottle = as_list(entry["bottle"])[0] if entry.get("bottle") else {}
        materials[entry["name"]] = Material(
            name=entry["name"],
            cas=entry.get("cas"),
            strength=Fraction(entry["strength"]),
            scores={name: Fraction(score) for name, score in entry.get("scores", {}).items()},
            price=number(entry.get("price")),
            min=number(entry.get("min")),
            max=number(entry.get("max")),
            step=number(entry.get("step")),
            max_in_concentrate=number(entry.get("max_in_concentrate")),
            max_in_product=number(entry.get("max_in_product")),
            tags=entry.get("tags", []),
            constituents={cas: Fraction(part) for cas, part in entry.get("constituents", {}).items()},
            bottle_fraction=Fraction(bottle.get("percent", 100)) / 100,
            bottle_carrier=bottle.get("carrier"),
            have=entry.get("have", True),
            usual=usual_doses(entry),
        )
    return Palette(Fraction(raw.get("scale", 10)), list(raw["descriptors"]), materials)


def usual_doses(entry: dict) -> tuple[Fraction, Fraction] | None:
    """A percent of the concentrate is 10 ppt."""
    for key, ppt in (("usual", 1), ("usual_in_concentrate", 10)):
        if key in entry:
            low, high = entry[key]
            return Fraction(low) * ppt, Fraction(high) * ppt
    return None


def read_formula(path: Path) -> tuple[str, dict[str, Fraction], Path]:
    """Basis, parts and the palette's path of a formula file."""
    raw = read_toml(path)
    parts = {name: Fraction(dose) for name, dose in raw["parts"].items()}
    return raw.get("basis", "neat"), parts, path.parent / raw["palette"]


def neat_parts(palette: Palette, basis: str, parts: dict[str, Fraction]) -> dict[str, Fraction]:
    """Neat amount of every material, the carriers that bottles bring included."""
    neat: dict[str, Fraction] = {}
    for name, dose in parts.items():
        material = palette.materials[name]
        fraction = material.bottle_fraction if basis == "bottle" else Fraction(1)
        neat[name] = neat.get(name, Fraction(0)) + fraction * dose
        carrier = material.bottle_carrier
        if fraction < 1 and carrier in palette.materials:
            neat[carrier] = neat.get(carrier, Fraction(0)) + (1 - fraction) * dose
    return neat


def borrowed_target(folder: Path, palette: Palette, source: Any) -> tuple[dict[str, Fraction], str | None]:
    """Scores that `target_from` gives, and the material that it keeps out of the formula."""
    if source is None:
        return {}, None
    if isinstance(source, str):
        return dict(palette.materials[source].scores), source
    basis, parts, palette_path = read_formula(folder / source["formula"])
    own = read_palette(palette_path)
    neat = neat_parts(own, basis, parts)
    total = sum(own.materials[name].strength * dose for name, dose in neat.items())
    profile: dict[str, Fraction] = {}
    for name, dose in neat.items():
        for descriptor, score in own.materials[name].scores.items():
            share = own.materials[name].strength * dose / total
            profile[descriptor] = profile.get(descriptor, Fraction(0)) + share * score
    return {name: score for name, score in profile.items() if score > 0}, None


def resolve_aims(raw: dict, palette: Palette, borrowed: dict[str, Fraction], stage: Stage | None = None) -> dict[str, Aim]:
    """What is counted, at a stage where there is one: of what it does not say, what holds without it."""
    off_note_weight = Fraction(raw.get("formula", {}).get("off_note_weight", 1))
    target = stage_target(raw.get("target", {}), stage)
    aims = {}
    for name in palette.descriptors:
        if name not in target and name not in borrowed:
            aim = Aim(Fraction(0), off_note_weight)
        else:
            entry = target.get(name, {})
            is_named = name in raw.get("target", {}) or name in borrowed
            aim = Aim(
                score=Fraction(entry.get("score", borrowed.get(name, 0))),
                weight=Fraction(entry.get("weight", 1 if is_named else off_note_weight)),
                excess=Fraction(entry.get("excess", 1)),
                min=number(entry.get("min")),
                max=number(entry.get("max")),
            )
        if aim.weight > 0:
            aims[name] = aim
    return aims


def resolve_doses(raw: dict, palette: Palette, kept_out: str | None) -> dict[str, DoseRule]:
    form, named = raw.get("formula", {}), raw.get("doses", {})
    only = form.get("only")
    rules = {}
    for name, material in palette.materials.items():
        entry = named.get(name, {})

        def first(key: str, form_key: str) -> Fraction | None:
            """[doses] wins, then the material, then [formula]."""
            for value in (entry.get(key), getattr(material, key), form.get(form_key)):
                if value is not None:
                    return Fraction(value)
            return None

        rule = DoseRule(
            min=first("min", "min_dose") or Fraction(0),
            step=first("step", "step") or None,
            brief_max=number(entry.get("max")),
            palette_max=material.max,
            fixed=number(entry.get("fixed")),
            must=entry.get("use") == "must" or "fixed" in entry,
        )
        if rule.fixed is not None:
            rule.min, rule.step = Fraction(0), None
        if entry.get("use") == "never" or (name not in named and (material.is_carrier or name == kept_out)):
            rule.forbidden_by.append(f"dose:{name}.never")
        if only is not None and name not in only:
            rule.forbidden_by.append("only")
        if form.get("own_only", False) and not material.have:
            rule.forbidden_by.append("own_only")
        rules[name] = rule
    return rules


def resolve_uses(raw: dict) -> list[Use]:
    entries = as_list(raw["use"]) if "use" in raw else []
    return [
        Use(
            suffix=f"@{entry['name']}" if len(entries) > 1 else "",
            categories=as_list(entry["category"]) if "category" in entry else [],
            dosage=number(entry.get("dosage")),
            share=Fraction(entry.get("accord_share", 100)),
            reserve={cas: Fraction(part) for cas, part in entry.get("reserve", {}).items()},
        )
        for entry in entries
    ]


def resolve_limits(raw: dict, folder: Path, uses: list[Use]) -> list[Limit]:
    found = []
    for file in as_list(raw["limits"]) if "limits" in raw else []:
        for entry in read_toml(folder / file).get("restriction", []):
            for use in uses:
                given = [entry["limits"].get(category) for category in [*use.categories, "*"]]
                values = [Fraction(value) for value in given if value is not None and value != "none"]
                if values:
                    found.append(
                        Limit(
                            substance=entry["substance"],
                            cas=entry["cas"],
                            applies=entry.get("applies", "all"),
                            limit=min(values),
                            joint=entry.get("joint"),
                            use=use,
                        )
                    )
    return found


def resolve_groups(raw: dict, palette: Palette) -> list[Group]:
    groups = []
    for entry in raw.get("group", []):
        members = [
            name
            for name, material in palette.materials.items()
            if name in entry.get("materials", []) or ("tag" in entry and entry["tag"] in material.tags)
        ]
        groups.append(Group(entry["name"], members, number(entry.get("min")), number(entry.get("max"))))
    return groups


def resolve_near(raw: dict, folder: Path, palette: Palette) -> Near | None:
    """Parts are materials of the palette by name, else by CAS number; the others keep their own name."""
    if "within" not in raw.get("near", {}):
        return None
    by = raw["near"].get("by", "odour")
    amounts: dict[str, Fraction] = {}
    strengths: dict[str, Fraction | None] = {}
    for name, entry in read_toml(folder / raw["near"]["formula"])["parts"].items():
        entry = entry if isinstance(entry, dict) else {"parts": entry}
        numbers = [own for own, material in palette.materials.items() if material.cas and material.cas == entry.get("cas")]
        own = name if name in palette.materials else (numbers or [name])[0]
        amounts[own] = amounts.get(own, Fraction(0)) + Fraction(entry.get("percent", entry.get("parts")))
        strengths[own] = palette.materials[own].strength if own in palette.materials else number(entry.get("strength"))
    told = {name: amounts[name] for name, strength in strengths.items() if strength}
    mean = sum(amount * strengths[name] for name, amount in told.items()) / sum(told.values())
    filled = {name: mean if strength is None else strength for name, strength in strengths.items()}
    counted = {n: a * (filled[n] if by == "odour" else 1) for n, a in amounts.items() if filled[n] > 0}
    whole = sum(counted.values())
    return Near(by, {name: amount / whole for name, amount in counted.items()}, Fraction(raw["near"]["within"]))


def resolve_views(raw: dict, palette: Palette, noses: list[Nose], blotter: Blotter | None, borrow) -> list[View]:
    """Every nose at every stage by every law; empty where one nose judges the whole by the linear one."""
    laws = {"linear": ["linear"], "compressive": ["compressive"], "both": ["linear", "compressive"]}[raw.get("law", "linear")]
    stages = list(enumerate(blotter.stages)) if blotter else [(None, None)]
    if len(noses) == 1 and laws == ["linear"] and blotter is None:
        return []
    return [
        View(
            nose=nose.name,
            stage=k,
            law=law,
            weight=stage.weight if stage else Fraction(1),
            strengths=nose.strengths,
            scores=nose.scores,
            aims=resolve_aims(raw, palette, borrow(nose), stage),
            match=raw.get("match", "balance"),
        )
        for k, stage in stages
        for nose in noses
        for law in laws
    ]


def read_problem(brief: Path) -> Problem:
    raw, folder = read_toml(brief), brief.parent
    palette = read_palette(folder / raw["palette"])
    shelf = palette.materials
    own = Nose(None, {n: m.strength for n, m in shelf.items()}, {n: m.scores for n, m in shelf.items()}, set(shelf))
    noses, ruling = read_noses(raw, folder, own, read_toml)
    for name, material in palette.materials.items():
        material.strength, material.scores = ruling.strengths[name], ruling.scores[name]
    borrowed, kept_out = borrowed_target(folder, palette, raw.get("target_from"))
    blotter = read_blotter(raw, read_toml(folder / raw["palette"]))

    def borrow(nose: Nose) -> dict[str, Fraction]:
        """A material as the target is what this nose makes of it."""
        return nose.scores[kept_out] if kept_out is not None else borrowed

    form, budget, uses = raw.get("formula", {}), raw.get("budget", {}), resolve_uses(raw)
    strength = form.get("strength", {})
    return Problem(
        views=resolve_views(raw, palette, noses, blotter, borrow),
        blotter=blotter,
        palette=palette,
        match=raw.get("match", "balance"),
        basis=form.get("basis", "neat"),
        aims=resolve_aims(raw, palette, borrowed),
        doses=resolve_doses(raw, palette, kept_out),
        max_materials=form.get("max_materials"),
        max_idle=number(form.get("max_idle")),
        strength_min=number(strength.get("min")),
        strength_max=number(strength.get("max")),
        max_price=number(budget.get("max_price")),
        max_price_of_effect=number(budget.get("max_price_of_effect")),
        groups=resolve_groups(raw, palette),
        ratios=[Ratio(r["of"], r["to"], number(r.get("min")), number(r.get("max"))) for r in raw.get("ratio", [])],
        uses=uses,
        limits=resolve_limits(raw, folder, uses),
        max_unusual=form.get("max_unusual"),
        near=resolve_near(raw, folder, palette),
    )


def most_of(problem: Problem, name: str) -> Fraction:
    """The largest dose that the material's own bounds allow, on its step, in parts of the basis."""
    rule = problem.doses[name]
    bounds = [TOTAL]
    if rule.brief_max is not None:
        bounds.append(rule.brief_max)
    if rule.palette_max is not None:
        bounds.append(rule.palette_max / problem.neat_fraction(name))
    most = min(bounds)
    return floor(most / rule.step) * rule.step if rule.step else most
