"""Random shelves for `trial.py`: a made-up palette, a target, steps, and a formula on them, the witness."""

from __future__ import annotations

import math
import random
import sys
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests" / "reference"))

from scenario import DESCRIPTORS, Inline, cas, toml  # noqa: E402

STEPS = [5, 1, 0.5, 0.1, 0.05, 0.01]  # each a multiple of the next: the finest of a formula takes the rest
ODD_STEPS = [3, 0.7, 0.3, 2.5]
FORMS = ["continuous", "least doses", "count", "whole", "mixed"]
FORM_WEIGHTS = [3, 1, 1, 7, 2]
TAGS = ["alcohol", "ester", "aldehyde", "ketone"]
ELSEWHERE = [cas(8001 + i) for i in range(3)]  # substances that stand on no shelf


def exact(value: float) -> Fraction:
    """The decimal that the file holds."""
    return Fraction(str(value))


def upward(value: Fraction | float, places: int = 6) -> float:
    """Rounded outward, where an exact bound has more places."""
    return math.ceil(Fraction(value) * 10**places) / 10**places


def downward(value: Fraction | float, places: int = 6) -> float:
    return max(0.0, math.floor(Fraction(value) * 10**places) / 10**places)


@dataclass
class Draw:
    """One scenario in the making."""

    seed: str
    size: int
    smallest: int
    folder: Path
    rng: random.Random = field(init=False)
    form: str = ""
    broken: bool = False  # some rule shall lie on the wrong side of the witness
    palette: dict = field(default_factory=dict)
    brief: dict = field(default_factory=dict)
    files: dict[str, dict] = field(default_factory=dict)
    witness: dict[str, Fraction] = field(default_factory=dict)
    kinds: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def places(self, value: Fraction | float) -> int:
        """Decimal places of a bound: three figures, as people write, or all six."""
        figures = 2 - math.floor(math.log10(value)) if value > 0 else 6
        return 6 if self.chance(0.3) else min(6, max(0, figures))

    def above(self, value: Fraction, tight: float = 0.35) -> float:
        """An upper bound that the witness keeps, often with nothing to spare, or now and then breaks."""
        if self.broken and value > 0 and self.chance(0.3):
            value = value * exact(round(self.rng.uniform(0.3, 0.97), 3))
            return downward(value, self.places(value))
        bound = value if self.chance(tight) else value * exact(round(self.rng.uniform(1, 1.6), 3))
        return upward(bound, self.places(bound))

    def below(self, value: Fraction, tight: float = 0.35) -> float:
        """The same for a lower bound."""
        if self.broken and value > 0 and self.chance(0.3):
            value = value * exact(round(self.rng.uniform(1.03, 2.5), 3))
            return upward(value, self.places(value))
        bound = value if self.chance(tight) else value * exact(round(self.rng.uniform(0.4, 1), 3))
        return downward(bound, self.places(bound))

    @property
    def entries(self) -> list[dict]:
        return self.palette["material"]

    def odorous(self) -> list[dict]:
        return [entry for entry in self.entries if entry["strength"] > 0]

    def write(self) -> Path:
        self.folder.mkdir(parents=True, exist_ok=True)
        for name, document in {"palette.toml": self.palette, "brief.toml": self.brief, **self.files}.items():
            (self.folder / name).write_text(toml(document), encoding="utf-8")
        return self.folder / "brief.toml"


def make_palette(draw: Draw) -> None:
    rng = draw.rng
    count = rng.randint(draw.smallest, draw.size)
    carriers = rng.choice([0, 0, 1, 1, 2]) if count > 4 else rng.choice([0, 1])
    names = rng.sample(list(DESCRIPTORS), rng.randint(2, len(DESCRIPTORS)))
    spread = (-4, 5) if draw.chance(0.1) else (-0.3, 3)
    entries = []
    for i in range(1, count - carriers + 1):
        loud = rng.sample(names, rng.randint(1, min(5, len(names))))
        entry = {
            "name": f"Material {i:02}",
            "strength": float(f"{10 ** rng.uniform(*spread):.3g}"),
            "scores": {d: rng.randint(1, 20) / 2 for d in names if d in loud},
            "price": float(f"{10 ** rng.uniform(0.5, 3.5):.3g}"),
            "tags": rng.sample(TAGS, rng.choice([0, 1, 1, 2])),
        }
        if draw.chance(0.9):
            entry["cas"] = cas(100 * i + rng.randint(1, 99))
        entries.append(entry)
    for i in range(carriers):
        carrier = {"name": f"Carrier {'AB'[i]}", "cas": cas(90000 + i), "strength": 0}
        entries.append({**carrier, "price": 4.0 + i, "tags": ["carrier"]})
    numbers = [entry["cas"] for entry in entries if "cas" in entry] + ELSEWHERE
    for entry in entries[: count - carriers]:
        if draw.chance(0.2):
            entry["natural"] = True
            inside = [n for n in rng.sample(numbers, min(3, len(numbers))) if n != entry.get("cas")]
            entry["constituents"] = {n: rng.choice([0.05, 1.5, 12, 30]) for n in inside} if draw.chance(0.9) else {}
        if draw.chance(0.25):
            others = [e["name"] for e in entries if e is not entry]
            shelf = [e["name"] for e in entries if e["strength"] == 0] or ["ethanol"]
            carrier = rng.choice(shelf + shelf + ["ethanol", rng.choice(others)])
            bottles = [{"percent": p, "carrier": carrier} for p in rng.sample([1, 10, 20, 33.3, 50, 100], 2)]
            entry["bottle"] = bottles[0] if draw.chance(0.8) else bottles
    descriptors = {d: DESCRIPTORS[d] for d in names}
    draw.palette = {"name": "Made-up shelf", "scale": 10, "descriptors": descriptors, "material": entries}


def make_target(draw: Draw) -> None:
    rng, brief = draw.rng, draw.brief
    names = list(draw.palette["descriptors"])
    members = rng.sample(draw.odorous(), min(len(draw.odorous()), rng.randint(1, 5)))
    target: dict = {}
    for d in names:
        mean = sum(entry["scores"].get(d, 0) for entry in members) / len(members)
        if mean > 0 and draw.chance(0.85):
            target[d] = round(min(10.0, max(0.1, mean + rng.gauss(0, 0.8))), 1)
    if not target:
        target[names[0]] = 5.0
    for d in list(target):
        if draw.chance(0.35):
            entry: dict = {"score": target[d]}
            if draw.chance(0.5):
                entry["weight"] = rng.choice([0.1, 0.5, 2, 5, 0.333])
            if draw.chance(0.4):
                entry["excess"] = rng.choice([0, 0.25, 2, 4])
            target[d] = entry
    if len(target) > 1 and draw.chance(0.15):
        target[rng.choice(list(target)[1:])] = {"weight": 0}
    if draw.chance(0.2):
        draw.kinds.add("target_from material")
        brief["target_from"] = rng.choice(draw.odorous())["name"]
        target = dict(rng.sample(list(target.items()), rng.randint(0, len(target) - 1)))
    elif draw.chance(0.15):
        draw.kinds.add("target_from formula")
        parts = {entry["name"]: rng.choice([1, 2, 5.5, 7]) * 10 for entry in members}
        basis = rng.choice(["neat", "bottle"])
        draw.files["old.toml"] = {"title": "Old", "palette": "palette.toml", "basis": basis, "parts": parts}
        brief["target_from"] = Inline(formula="old.toml")
        target = dict(rng.sample(list(target.items()), rng.randint(0, len(target) - 1)))
    brief["match"] = rng.choice(["balance", "level"])
    if target:
        brief["target"] = target


def make_steps(draw: Draw) -> None:
    rng, form = draw.rng, {"basis": draw.rng.choice(["neat", "neat", "bottle"])}
    draw.form = rng.choices(FORMS, FORM_WEIGHTS)[0]
    draw.kinds.add("basis " + form["basis"])
    if draw.form == "whole":
        form["step"] = rng.choice([5, 1, 1, 1, 0.5, 0.1, 0.05, 0.01])
    if draw.form in ("whole", "mixed"):
        for entry in draw.entries:
            if draw.chance(0.25 if draw.form == "whole" else 0.5):
                entry["step"] = rng.choice(STEPS) if draw.chance(0.9) else rng.choice(ODD_STEPS)
    if draw.form == "least doses" or (draw.form in ("whole", "mixed") and draw.chance(0.4)):
        form["min_dose"] = rng.choice([0.3, 1, 2, 7, 20])
    if draw.chance(0.4):
        form["off_note_weight"] = rng.choice([0, 0.2, 0.5, 2])
    draw.brief["formula"] = form


def step_of(draw: Draw, entry: dict) -> float | None:
    return entry.get("step", draw.brief["formula"].get("step"))


def make_witness(draw: Draw) -> None:
    """A formula on its steps that adds up to 1000; carriers are named in [doses]."""
    rng, doses = draw.rng, draw.brief.setdefault("doses", {})
    kept_out = draw.brief.get("target_from")
    able = [e for e in draw.odorous() if step_of(draw, e) not in ODD_STEPS]
    able = [e for e in able if e["name"] != kept_out or draw.chance(0.1)]
    members = rng.sample(able, min(len(able), rng.randint(1, 7)))
    for entry in draw.entries:
        if entry["strength"] == 0 and draw.chance(0.6):
            doses[entry["name"]] = {"use": "may"}
            if draw.chance(0.7):
                members.append(entry)
    for entry in members:
        if entry["name"] == kept_out:
            doses[entry["name"]] = {"use": "may"}
    least = exact(draw.brief["formula"].get("min_dose", 0))
    weights = [rng.random() ** 3 + 0.001 for _ in members]
    parts: dict[str, Fraction] = {}
    members.sort(key=lambda e: -(step_of(draw, e) or 0.001))
    for entry, weight in zip(members[:-1], weights):
        step = exact(step_of(draw, entry) or 0.001)
        dose = round(Fraction(weight / sum(weights)) * 1000 / step) * step
        if dose >= max(least, step):
            parts[entry["name"]] = dose
    rest = 1000 - sum(parts.values())
    if rest < max(least, Fraction(1, 100)) or not members:
        raise ValueError("the doses leave nothing for the last material")
    parts[members[-1]["name"]] = rest
    draw.witness = parts


def bottle_fraction(entry: dict) -> Fraction:
    bottle = entry.get("bottle", {"percent": 100})
    return exact((bottle[0] if isinstance(bottle, list) else bottle)["percent"]) / 100
