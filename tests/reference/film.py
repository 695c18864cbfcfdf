"""How a formula dries on a blotter: an ideal film, by the closed form of one clock for all materials.

Every material leaves in proportion to its share of the molecules that are left. In the film's clock u the part
exp(-u / (molar mass x lasting)) of each is left, and at u the time since dipping is
phi sum m lasting (1 - left), m the part of the mass and phi the dip over the dip at which lasting was noted.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import exp, inf
from statistics import median

TOTAL = 1000
MASS_UNKNOWN = Fraction(160)  # g/mol
FILM_UNKNOWN = Fraction(20)  # g/m2
FLUX = Fraction(1464, 10**6)  # g/m2 and hour, of a pure liquid, per Pa and g/mol
LASTS = Fraction(11, 10)  # of the last stage's time: as long as the film has to last


@dataclass
class Share:
    """What the materials of a tag may carry of what is left, percent."""

    tag: str
    min: Fraction | None
    max: Fraction | None


@dataclass
class Stage:
    name: str
    minutes: Fraction
    weight: Fraction
    strength_min: Fraction | None
    strength_max: Fraction | None
    kept_min: Fraction | None  # percent of the first stage's strength
    shares: list[Share]
    target: dict  # as the file has it


@dataclass
class Blotter:
    phi: Fraction
    hours: dict[str, Fraction]  # how long each material lasts alone
    mass: dict[str, Fraction]  # g/mol
    stages: list[Stage]


def number(value) -> Fraction | None:
    return None if value is None else Fraction(value)


def flux(entry: dict) -> Fraction:
    return FLUX * Fraction(entry["vapour_pressure"]) * Fraction(entry.get("molar_mass", MASS_UNKNOWN))


def lasting_hours(entries: list[dict], film_weight: Fraction | None) -> dict[str, Fraction]:
    """As the palette has it, else from the pressure, else the median of the note, else of the shelf, solvents aside."""
    both = [Fraction(e["lasting"]) * flux(e) for e in entries if "lasting" in e and "vapour_pressure" in e]
    film = film_weight if film_weight is not None else median(both) if both else FILM_UNKNOWN
    known = {
        e["name"]: Fraction(e["lasting"]) if "lasting" in e else film / flux(e)
        for e in entries
        if "lasting" in e or "vapour_pressure" in e
    }

    def stand_in(entry: dict) -> Fraction:
        others = [e for e in entries if e["name"] in known and e.get("strength") != 0]
        same = [known[e["name"]] for e in others if e.get("note") == entry.get("note") is not None]
        return median(same or [known[e["name"]] for e in others])

    return {e["name"]: known[e["name"]] if e["name"] in known else stand_in(e) for e in entries}


def read_blotter(brief: dict, palette: dict) -> Blotter | None:
    """From the texts of brief and palette; None without a stage."""
    if "stage" not in brief:
        return None
    entries, blotter = palette["material"], brief.get("blotter", {})
    noted = Fraction(palette.get("lasting_percent", 100))
    stages = [
        Stage(
            name=entry["name"],
            minutes=Fraction(entry["minutes"]),
            weight=Fraction(entry.get("weight", 1)),
            strength_min=number(entry.get("strength", {}).get("min")),
            strength_max=number(entry.get("strength", {}).get("max")),
            kept_min=number(entry.get("kept", {}).get("min")),
            shares=[Share(s["tag"], number(s.get("min")), number(s.get("max"))) for s in entry.get("share", [])],
            target=entry.get("target", {}),
        )
        for entry in brief["stage"]
    ]
    return Blotter(
        phi=Fraction(blotter.get("percent", noted)) / noted,
        hours=lasting_hours(entries, number(blotter.get("film_weight"))),
        mass={entry["name"]: Fraction(entry.get("molar_mass", MASS_UNKNOWN)) for entry in entries},
        stages=stages,
    )


def left(blotter: Blotter, name: str, clock: float) -> float:
    """The part of a material that is left at a clock."""
    tenacity = blotter.mass[name] * blotter.hours[name]
    if clock == 0:
        return 1.0
    return exp(-clock / float(tenacity)) if tenacity > 0 and clock < inf else 0.0


def life_hours(blotter: Blotter, neat: dict[str, Fraction]) -> Fraction:
    return blotter.phi * sum((amount / TOTAL * blotter.hours[name] for name, amount in neat.items()), Fraction(0))


def clock_of(blotter: Blotter, neat: dict[str, Fraction], minutes: Fraction) -> float:
    """The clock of this formula's own film; infinite once it is gone. Halving to the last bit."""
    if minutes == 0:
        return 0.0
    sought = float(minutes / 60 / blotter.phi)
    films = [(float(amount / TOTAL * blotter.hours[name]), name) for name, amount in neat.items() if amount > 0]
    if sought >= float(sum(weight for weight, _ in films)):
        return inf

    def gone(clock: float) -> float:
        return sum(weight * (1 - left(blotter, name, clock)) for weight, name in films)

    low, high = 0.0, 1.0
    while gone(high) < sought:
        low, high = high, 2 * high
        if high > 1e300:
            return inf
    for _ in range(200):
        middle = (low + high) / 2
        if not low < middle < high:
            break
        low, high = (middle, high) if gone(middle) < sought else (low, middle)
    return (low + high) / 2


def clocks_of(blotter: Blotter, neat: dict[str, Fraction]) -> list[float]:
    return [clock_of(blotter, neat, stage.minutes) for stage in blotter.stages]
