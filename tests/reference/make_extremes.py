#!/usr/bin/env python3
"""Write the scenarios below tests/reference/extremes, and their optima to extremes.json.

    python3 make_extremes.py

Numbers from the ends of their ranges, many of them in one brief; all of it made up. Continuous briefs are
solved in exact arithmetic (`exact.py`), so that no tolerance blurs them. Whole parts are solved by integer
programmes (`solve.py`), and kept only where those settle them in time; small ones are listed by tests/extremes.rs.
"""

from __future__ import annotations

import json
import random
import shutil
import time
from decimal import Decimal
from fractions import Fraction
from multiprocessing import Process, Queue
from pathlib import Path
from queue import Empty

from evaluate import LOOSE, evaluate
from exact import solve_exact
from oracle import quiet_output
from resolve import LEAST_DOSE, read_problem
from rows import build
from scenario import SOURCE, cas, toml
from solve import GRID, solve

HERE = Path(__file__).parent
SEED = 20261126
PROGRAMME = 45  # seconds for one integer programme
CASE = 240  # seconds for a case; one that takes longer is left out


def power(exponent: float) -> Decimal:
    """Ten to a power, to three figures."""
    return Decimal(f"{10 ** exponent:.2e}")


class Draw:
    def __init__(self, name: str):
        self.name, self.rng = name, random.Random(f"{SEED}/{name}")
        self.palette: dict = {"scale": 10, "descriptors": {}, "material": []}
        self.brief: dict = {"title": f"Extremes: {name}", "palette": "palette.toml", "match": "balance", "target": {}}
        self.limits: list[dict] = []
        self.slow = False  # too much for exact arithmetic, or whole parts

    def descriptors(self, count: int) -> list[str]:
        self.palette["descriptors"] = {f"note{d}": "made up" for d in range(count)}
        return list(self.palette["descriptors"])

    def material(self, name: str, strength, scores: dict, **more) -> dict:
        entry = {"name": name, "strength": strength, "scores": scores, **more}
        self.palette["material"].append(entry)
        return entry

    def shelf(self, count: int, notes: int, exponents=(0.0, 2.0), prices=(0.5, 2.5)) -> None:
        names = self.descriptors(notes)
        for i in range(count):
            loud = self.rng.sample(names, min(notes, self.rng.randint(1, 3)))
            strength = power(self.rng.uniform(*exponents))
            scores = {d: Decimal(self.rng.randint(1, 20)) / 2 for d in loud}
            self.material(f"M{i:02}", strength, scores, price=power(self.rng.uniform(*prices)), cas=cas(100 * i + 7))
        self.aim()

    def aim(self, low: int = 1, high: int = 19) -> None:
        self.brief["target"] = {d: Decimal(self.rng.randint(low, high)) / 2 for d in self.palette["descriptors"]}

    def restrict(self, number: str, limit, **more) -> None:
        entry = {"substance": f"S{len(self.limits)}", "cas": [number], "source": SOURCE, "limits": {"*": limit}, **more}
        self.limits.append(entry)
        self.brief.setdefault("use", {"category": ["4"], "dosage": Decimal("18"), "accord_share": Decimal("40")})
        entry["limits"].setdefault("4", "none")
        self.brief["limits"] = "limits.toml"

    def write(self, folder: Path) -> None:
        folder.mkdir(parents=True)
        (folder / "palette.toml").write_text(toml(self.palette), encoding="utf-8")
        (folder / "brief.toml").write_text(toml(self.brief), encoding="utf-8")
        if self.limits:
            (folder / "limits.toml").write_text(toml({"restriction": self.limits}), encoding="utf-8")


CASES: list[Draw] = []


def case(name: str):
    def enter(make):
        draw = Draw(name)
        make(draw)
        CASES.append(draw)
        return make

    return enter


for matching in ("balance", "level"):

    @case(f"strengths-{matching}")
    def _(draw: Draw, matching=matching) -> None:
        """A material for every half decade of strength from 1e-6 to 1e6."""
        names = draw.descriptors(9)
        for i in range(25):
            loud = draw.rng.sample(names, draw.rng.randint(1, 3))
            scores = {d: Decimal(draw.rng.randint(1, 20)) / 2 for d in loud}
            draw.material(f"M{i:02}", power(i / 2 - 6), scores, price=power(draw.rng.uniform(0, 3)))
        draw.aim()
        draw.brief["match"] = matching

    @case(f"strengths-bounded-{matching}")
    def _(draw: Draw, matching=matching) -> None:
        """Least doses of the strong, caps and a strength between them."""
        draw.shelf(14, 4, exponents=(-6.0, 6.0))
        strongest = sorted(draw.palette["material"], key=lambda m: -m["strength"])
        strongest[0]["max"] = Decimal("0.000002")
        strongest[1]["max"] = Decimal("0.5")
        weakest = strongest[-1]["name"]
        draw.brief["doses"] = {weakest: {"use": "must", "min": 500}}
        draw.brief["formula"] = {"strength": {"min": Decimal("0.05"), "max": Decimal("3")}}
        draw.brief["match"] = matching


@case("prices")
def _(draw: Draw) -> None:
    draw.shelf(16, 4, prices=(-2.0, 6.0))
    draw.brief["budget"] = {"max_price": Decimal("3")}


@case("price-of-effect")
def _(draw: Draw) -> None:
    draw.shelf(16, 4, exponents=(-3.0, 4.0), prices=(-2.0, 6.0))
    draw.brief["budget"] = {"max_price": Decimal("250000"), "max_price_of_effect": Decimal("0.0004")}


@case("ends-of-the-scale")
def _(draw: Draw) -> None:
    """Targets at 0 and at the scale's end alone, and scores there too."""
    names = draw.descriptors(6)
    for i in range(10):
        scores = {d: draw.rng.choice([10, 10, Decimal("0.001"), 5]) for d in draw.rng.sample(names, 3)}
        draw.material(f"M{i}", power(draw.rng.uniform(-1, 2)), scores)
    draw.brief["target"] = {d: 10 if i % 2 else 0 for i, d in enumerate(names)}
    draw.brief["match"] = "level"


@case("scale-of-a-thousand")
def _(draw: Draw) -> None:
    draw.shelf(8, 6)
    draw.palette["scale"] = 1000
    for entry in draw.palette["material"]:
        entry["scores"] = {d: s * 100 for d, s in entry["scores"].items()}
    draw.brief["target"] = {d: s * 100 for d, s in draw.brief["target"].items()}


@case("scale-of-a-tenth")
def _(draw: Draw) -> None:
    draw.shelf(8, 4)
    draw.palette["scale"] = Decimal("0.1")
    for entry in draw.palette["material"]:
        entry["scores"] = {d: s / 100 for d, s in entry["scores"].items()}
    draw.brief["target"] = {d: s / 100 for d, s in draw.brief["target"].items()}
    draw.brief["match"] = "level"


@case("weights")
def _(draw: Draw) -> None:
    draw.shelf(12, 6)
    weights = ["0.000001", "1000000", "1", "0.001", "1000", "0"]
    target = draw.brief["target"]
    for (name, score), weight in zip(list(target.items()), weights):
        target[name] = {"score": score, "weight": Decimal(weight), "excess": Decimal(draw.rng.choice(["0", "1", "1000000", "0.000001"]))}


@case("limits-near-nothing")
def _(draw: Draw) -> None:
    draw.shelf(10, 4)
    numbers = [entry["cas"] for entry in draw.palette["material"]]
    draw.restrict(numbers[0], Decimal("0.00000001"))
    draw.restrict(numbers[1], Decimal("0.00001"))
    draw.restrict(numbers[2], Decimal("0"))
    entry = draw.palette["material"][3]
    entry["natural"], entry["constituents"] = True, {numbers[4]: Decimal("0.000001"), numbers[0]: Decimal("0.00004")}
    draw.restrict(numbers[4], Decimal("0.00000002"))


@case("limit-met-by-the-reserve")
def _(draw: Draw) -> None:
    """The rest of the concentrate uses up one limit, and all but a trace of another."""
    draw.shelf(8, 3)
    numbers = [entry["cas"] for entry in draw.palette["material"]]
    draw.restrict(numbers[0], Decimal("0.3"))
    draw.restrict(numbers[1], Decimal("0.30000001"))
    draw.brief["use"]["reserve"] = {numbers[0]: Decimal("0.3"), numbers[1]: Decimal("0.3")}


@case("reserve-past-the-limit")
def _(draw: Draw) -> None:
    draw.shelf(6, 3)
    number = draw.palette["material"][0]["cas"]
    draw.restrict(number, Decimal("0.3"))
    draw.brief["use"]["reserve"] = {number: Decimal("0.300000001")}


@case("ratios")
def _(draw: Draw) -> None:
    draw.shelf(8, 4)
    draw.brief["doses"] = {"M01": {"use": "must", "min": Decimal("0.0005")}, "M03": {"use": "must", "min": 1}}
    draw.brief["ratio"] = [
        {"of": "M00", "to": "M01", "min": Decimal("1000000")},
        {"of": "M02", "to": "M03", "max": Decimal("0.000001")},
        {"of": "M04", "to": "M05", "min": Decimal("0.000001"), "max": Decimal("1000000")},
    ]


@case("ratio-out-of-reach")
def _(draw: Draw) -> None:
    draw.shelf(6, 3)
    draw.brief["doses"] = {"M01": {"use": "must", "min": Decimal("0.001000001")}}
    draw.brief["ratio"] = [{"of": "M00", "to": "M01", "min": Decimal("1000000")}]


@case("groups-that-are-exact")
def _(draw: Draw) -> None:
    draw.shelf(9, 4)
    shares = [Decimal("333.333333333"), Decimal("333.333333334"), Decimal("333.333333333")]
    draw.brief["group"] = [
        {"name": f"g{k}", "materials": [f"M{i:02}" for i in range(9) if i % 3 == k], "min": share, "max": share}
        for k, share in enumerate(shares)
    ]


@case("groups-a-hair-too-much")
def _(draw: Draw) -> None:
    draw.shelf(6, 3)
    draw.brief["group"] = [
        {"name": f"g{k}", "materials": [f"M{i:02}" for i in range(6) if i % 2 == k], "min": Decimal("500.001"), "max": Decimal("500.001")}
        for k in range(2)
    ]


@case("twins")
def _(draw: Draw) -> None:
    """Identical materials at different prices: the cheapest of them serves."""
    draw.shelf(4, 4)
    for entry in list(draw.palette["material"]):
        for k in range(3):
            number = {"cas": cas(5000 + 100 * k + len(draw.palette["material"]))}
            draw.palette["material"].append({**entry, "name": f"{entry['name']} twin {k}", **number, "price": entry["price"] + k + 1})


@case("one-material")
def _(draw: Draw) -> None:
    draw.shelf(1, 3)


@case("one-material-and-its-rules")
def _(draw: Draw) -> None:
    draw.shelf(1, 3)
    draw.brief["doses"] = {"M00": {"fixed": 1000}}
    draw.brief["budget"] = {"max_price": draw.palette["material"][0]["price"]}
    draw.brief["formula"] = {"strength": {"min": draw.palette["material"][0]["strength"]}}


@case("scores-all-equal")
def _(draw: Draw) -> None:
    names = draw.descriptors(4)
    for i in range(8):
        draw.material(f"M{i}", power(draw.rng.uniform(-2, 3)), {d: 5 for d in names}, price=power(draw.rng.uniform(0, 3)))
    draw.brief["target"] = {d: 5 for d in names}
    draw.brief["match"] = "level"


@case("target-bounds-that-always-hold")
def _(draw: Draw) -> None:
    """In balance one descriptor alone is always met: bounds at its very score allow everything."""
    draw.descriptors(1)
    for i in range(3):
        draw.material(f"M{i}", power(draw.rng.uniform(-2, 3)), {"note0": Decimal("0.7") * (i + 1)}, price=7)
    draw.brief["target"] = {"note0": {"score": Decimal("5.5"), "min": Decimal("5.5"), "max": Decimal("5.5")}}


@case("fixed-doses-of-1000")
def _(draw: Draw) -> None:
    draw.shelf(4, 3)
    doses = ["333.333333333", "333.333333333", "333.333333333", "0.000000001"]
    draw.brief["doses"] = {f"M{i:02}": {"fixed": Decimal(dose)} for i, dose in enumerate(doses)}


@case("fixed-doses-of-a-hair-less")
def _(draw: Draw) -> None:
    draw.shelf(3, 3)
    draw.brief["doses"] = {f"M{i:02}": {"fixed": Decimal("333.333333333")} for i in range(3)}


@case("strong-dilutions")
def _(draw: Draw) -> None:
    """Bottles of a hundred-thousandth, poured: the carriers fill the formula."""
    draw.shelf(8, 4, exponents=(0.0, 6.0))
    draw.palette["material"].append({"name": "Solvent", "strength": 0, "price": 2, "cas": cas(9900), "max": 990})
    for i, percent in enumerate(["0.001", "0.1", "1", "10"]):
        draw.palette["material"][i]["bottle"] = {"percent": Decimal(percent), "carrier": "Solvent"}
    draw.brief["formula"] = {"basis": "bottle", "strength": {"max": Decimal("2")}}
    draw.brief["doses"] = {"Solvent": {"min": 0}}
    draw.brief["budget"] = {"max_price": Decimal("20")}


@case("four-hundred-descriptors")
def _(draw: Draw) -> None:
    draw.slow = True
    draw.shelf(12, 400)
    names = list(draw.palette["descriptors"])
    for entry in draw.palette["material"]:
        entry["scores"] = {d: Decimal(draw.rng.randint(1, 20)) / 2 for d in draw.rng.sample(names, 120)}
    draw.brief["match"] = "level"


@case("whole-steps-mixed")
def _(draw: Draw) -> None:
    """Steps of 0.001, 1 and 10 in one formula."""
    draw.shelf(7, 4)
    for entry, step in zip(draw.palette["material"], ["0.001", "10", "1", "0.001", "10", "1", "10"]):
        entry["step"] = Decimal(step)
    draw.brief["formula"] = {"max_materials": 4}
    draw.slow = True


@case("whole-steps-fine")
def _(draw: Draw) -> None:
    draw.shelf(20, 5, exponents=(-1.0, 3.0))
    draw.brief["formula"] = {"step": Decimal("0.001"), "max_materials": 6, "min_dose": Decimal("0.5")}
    draw.brief["budget"] = {"max_price": Decimal("40")}
    draw.slow = True


@case("whole-steps-fine-few")
def _(draw: Draw) -> None:
    """Steps of a thousandth among few materials, within what integer programmes settle."""
    draw.shelf(6, 3, exponents=(-1.0, 2.0))
    draw.brief["formula"] = {"step": Decimal("0.001"), "max_materials": 3, "min_dose": Decimal("0.5")}
    draw.slow = True


@case("whole-strong")
def _(draw: Draw) -> None:
    """Whole parts of materials a million times as strong as others."""
    draw.shelf(10, 4, exponents=(-2.0, 4.0))
    draw.brief["formula"] = {"step": 1}
    draw.slow = True


@case("whole-descriptors")
def _(draw: Draw) -> None:
    draw.shelf(8, 400)
    names = list(draw.palette["descriptors"])
    for entry in draw.palette["material"]:
        entry["scores"] = {d: Decimal(draw.rng.randint(1, 20)) / 2 for d in draw.rng.sample(names, 100)}
    draw.brief["match"] = "level"
    draw.brief["formula"] = {"step": 10, "max_materials": 4}
    draw.slow = True


def settle(draw: Draw, folder: Path) -> dict:
    problem = read_problem(folder / "brief.toml")
    if draw.slow:
        with quiet_output():
            answer = solve(problem, PROGRAMME)
        if answer.status not in ("optimal", "infeasible"):
            return {"status": "unsettled", "method": answer.method, "note": answer.note}
        loss = None if answer.verdict is None else float(answer.verdict.loss)
        return {"status": answer.status, "method": answer.method, "loss": loss}
    found = solve_exact(problem)
    if found is None:
        return {"status": "infeasible", "method": "exact", "loss": None}
    doses, loss = found
    parts = {c.name: dose for c, dose in zip(build(problem).columns, doses) if dose > 0}
    verdict = evaluate(problem, parts)
    assert verdict.loss == loss and sum(doses) == 1000, draw.name
    small = {f"dose:{name}.min" for name, dose in parts.items() if dose < LEAST_DOSE}
    assert not set(verdict.broken) - small, f"{draw.name}: {verdict.broken}"
    return {"status": "optimal", "method": "exact", "loss": float(loss), "on_grid": on_grid(problem, parts)}


def on_grid(problem, parts: dict[str, Fraction]) -> float | None:
    """The loss of the exact optimum in doses that can be written, whole multiples of 1e-9 ppt of at least 1e-6.

    Where strengths differ by twelve orders of magnitude it is greater than the least loss. None where a rule
    is then passed by more than what counts as kept.
    """
    rounded = {name: Fraction(round(dose * GRID), GRID) for name, dose in parts.items()}
    rounded = {name: dose for name, dose in rounded.items() if dose >= LEAST_DOSE or dose == parts[name]}
    rounded[max(rounded, key=rounded.get)] += 1000 - sum(rounded.values())
    verdict = evaluate(problem, rounded, LOOSE)
    return None if verdict.broken else float(verdict.loss)


def work(draw: Draw, folder: Path, answers: Queue) -> None:
    answers.put(settle(draw, folder))


def expected(draw: Draw, folder: Path) -> dict:
    """In a process of its own, which can be ended: neither fractions nor HiGHS always look at a clock."""
    answers: Queue = Queue()
    process = Process(target=work, args=(draw, folder, answers))
    process.start()
    since = time.monotonic()
    try:
        while True:
            try:
                return answers.get(timeout=1)
            except Empty:
                if not process.is_alive():
                    raise SystemExit(f"{draw.name}: the reference failed") from None
                if time.monotonic() - since > CASE:
                    return {"status": "unsettled", "note": f"more than {CASE} s"}
    finally:
        process.terminate()
        process.join()


def main() -> None:
    target = HERE / "extremes"
    shutil.rmtree(target, ignore_errors=True)
    found = {}
    for draw in CASES:
        folder = target / draw.name
        draw.write(folder)
        answer = expected(draw, folder)
        print(f"{draw.name:32} {answer}", flush=True)
        if answer["status"] == "unsettled":  # no reference, so nothing to hold the program against
            shutil.rmtree(folder)
        else:
            found[draw.name] = answer
    (HERE / "extremes.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
