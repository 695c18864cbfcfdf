"""Parts for the made-up scenarios: a seeded palette, a blend to aim at, and a small TOML writer."""

from __future__ import annotations

import json
import random
import re
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Callable

DESCRIPTORS = {
    "rosy": "petals of a cut rose",
    "green": "snapped stems and leaves",
    "citrus": "peel",
    "woody": "dry planed wood",
    "honeyed": "beeswax and honey",
    "spicy": "warm kitchen spice",
    "powdery": "talc and violet",
    "fruity": "ripe orchard fruit",
    "earthy": "soil and roots",
    "waxy": "candle and skin of an apple",
}
TAGS = ["alcohol", "ester", "aldehyde", "ketone"]
SOURCE = "invented for this test, first edition, 2026"
NOTES = ["opening", "heart", "drydown"]


class Inline(dict):
    """A table written within its line, at the top of a file."""


def cas(number: int) -> str:
    """An invented CAS number whose check digit holds."""
    digits = f"{9900000 + number // 100}{number % 100:02}"
    check = sum(place * int(digit) for place, digit in enumerate(reversed(digits), 1)) % 10
    return f"{digits[:-2]}-{digits[-2:]}-{check}"


def key(name: str) -> str:
    return name if re.fullmatch(r"[a-z_]+", name) else json.dumps(name)


def value(item) -> str:
    if isinstance(item, bool):
        return str(item).lower()
    if isinstance(item, dict):
        return "{ " + ", ".join(f"{key(k)} = {value(v)}" for k, v in item.items()) + " }" if item else "{}"
    if isinstance(item, list):
        return "[" + ", ".join(value(v) for v in item) + "]"
    if isinstance(item, Decimal):
        return f"{item:f}"
    if isinstance(item, float):
        text = f"{item:.6f}".rstrip("0")
        return text + "0" if text.endswith(".") else text
    return json.dumps(item, ensure_ascii=False)


def toml(document: dict) -> str:
    """Plain keys first, then tables and lists of tables, in the order given."""

    def is_table(item) -> bool:
        return isinstance(item, dict) and not isinstance(item, Inline)

    def is_tables(item) -> bool:
        return isinstance(item, list) and bool(item) and all(isinstance(v, dict) for v in item)

    def body(table: dict) -> list[str]:
        return [f"{key(k)} = {value(v)}" for k, v in table.items()]

    plain = {k: v for k, v in document.items() if not is_table(v) and not is_tables(v)}
    blocks = [body(plain)] if plain else []
    for name, item in document.items():
        if is_table(item):
            blocks.append([f"[{name}]", *body(item)])
        elif is_tables(item):
            blocks.extend([f"[[{name}]]", *body(entry)] for entry in item)
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


@dataclass
class Scenario:
    """One case folder in the making."""

    name: str
    seed: int
    rng: random.Random = field(init=False)
    palette: dict = field(default_factory=dict)
    brief: dict = field(default_factory=dict)
    files: dict[str, dict] = field(default_factory=dict)  # limits and others
    formulas: dict[str, dict] = field(default_factory=dict)

    def __post_init__(self):
        self.rng = random.Random(f"{self.seed}/{self.name}")

    def make_palette(self, materials: int, descriptors: int, carriers: int = 0) -> None:
        rng, names = self.rng, list(DESCRIPTORS)[:descriptors]
        entries = []
        for i in range(1, materials + 1):
            loud = rng.sample(names, rng.randint(2, min(4, descriptors)))
            entries.append(
                {
                    "name": f"Material {i:02}",
                    "cas": cas(100 * i + rng.randint(1, 99)),
                    "strength": float(f"{10 ** rng.uniform(0.7, 2.5):.3g}"),
                    "scores": {d: rng.randint(2, 18) / 2 for d in names if d in loud},
                    "price": float(f"{10 ** rng.uniform(0.8, 2.9):.3g}"),
                    "tags": [rng.choice(TAGS)],
                    "note": rng.choice(NOTES),
                }
            )
        for i in range(carriers):
            entries.append(
                {"name": f"Carrier {'AB'[i]}", "cas": cas(9000 + i), "strength": 0, "price": 4.0 + i, "tags": ["carrier"]}
            )
        self.palette = {
            "name": f"Made-up shelf {self.name}",
            "scale": 10,
            "descriptors": {d: DESCRIPTORS[d] for d in names},
            "material": entries,
        }
        self.brief = {"title": f"Made-up brief {self.name}", "palette": "palette.toml"}

    def entry(self, name: str) -> dict:
        return next(e for e in self.palette["material"] if e["name"] == name)

    def cas_of(self, *names: str) -> list[str]:
        return [self.entry(name)["cas"] for name in names]

    def change(self, name: str, **keys) -> None:
        self.entry(name).update(keys)

    def tag(self, tag: str, *names: str) -> None:
        for name in names:
            self.entry(name)["tags"] = [*self.entry(name)["tags"], tag]

    def aim_at(self, *members: str, noise: float = 1.0) -> dict[str, float]:
        """[target] from an even blend by odour of `members`, with noise; level scale, in tenths."""
        target = {}
        for d in self.palette["descriptors"]:
            mean = sum(self.entry(name)["scores"].get(d, 0) for name in members) / len(members)
            score = round(max(0.0, mean + (self.rng.uniform(-noise, noise) if mean > 0 else 0.0)), 1)
            if score > 0:
                target[d] = score
        self.brief["target"] = target
        return target


CASES: list[tuple[str, Callable[[Scenario], None]]] = []


def case(name: str):
    def keep(make: Callable[[Scenario], None]):
        CASES.append((name, make))
        return make

    return keep


def m(*numbers: int) -> list[str]:
    return [f"Material {i:02}" for i in numbers]


def restriction(substance: str, numbers: list[str], limits: dict, **more) -> dict:
    return {"substance": substance, "cas": numbers, "source": SOURCE, **more, "limits": limits}


def formula(s: Scenario, letter: str, doses: dict[str, float], rest: str) -> None:
    """A formula to judge; `rest` takes what is missing to 1000."""
    left = round(1000 - sum(doses.values()), 6)
    s.formulas[f"formula-{letter}.toml"] = {
        "title": f"To judge, {letter}",
        "palette": "palette.toml",
        "basis": s.brief.get("formula", {}).get("basis", "neat"),
        "parts": {**doses, rest: left},
    }


def naturals(s: Scenario) -> None:
    """Materials 02 and 05 become naturals that bring materials 01 and 07, and one isomer (not on the shelf)."""
    one, seven = s.cas_of(*m(1, 7))
    s.change("Material 02", natural=True, constituents={one: 35, seven: 4.5, cas(8001): 2})
    s.change("Material 05", natural=True, constituents={seven: 60, cas(8001): 0.8})
    s.change("Material 06", natural=True, constituents={})
