"""Scenarios that several views judge: stages on a blotter, other noses, two laws; `make_cases.py` says which uses what."""

from scenario import Scenario, case, formula, m

HOURS = {"opening": (0.5, 4), "heart": (4, 30), "drydown": (30, 400)}


def tenacities(s: Scenario, **without) -> None:
    """Hours by the note, and molar masses; `without` (material to key) is left out again."""
    for entry in s.palette["material"]:
        if entry["strength"] == 0:
            continue
        low, high = HOURS[entry["note"]]
        entry["lasting"] = float(f"{low * (high / low) ** s.rng.random():.2g}")
        entry["molar_mass"] = float(f"{s.rng.uniform(110, 290):.4g}")


def notes(s: Scenario, **numbers: list[int]) -> None:
    for note, materials in numbers.items():
        for name in m(*materials):
            s.change(name, note=note)


def other_nose(s: Scenario, file: str, name: str, but: tuple[str, ...] = (), deaf: tuple[str, ...] = ()) -> None:
    """The same shelf smelled by another: scores a point or two off, strengths a factor off; without `but`, and with
    nothing smelled of `deaf`."""
    entries = []
    for entry in s.palette["material"]:
        if entry["name"] in but or entry["strength"] == 0:
            continue
        told = {"name": entry["name"], "strength": float(f"{entry['strength'] * 3 ** s.rng.uniform(-1, 1):.3g}")}
        told["scores"] = {d: min(10.0, max(0.5, v + s.rng.randint(-4, 4) / 2)) for d, v in entry["scores"].items()}
        if entry["name"] in deaf:
            told = {"name": entry["name"], "strength": 0}
        entries.append(told)
    s.files[file] = {"name": name, "scale": 10, "descriptors": s.palette["descriptors"], "material": entries}


@case("51-stages-whole")
def stages_whole(s: Scenario) -> None:
    s.make_palette(9, 6)
    notes(s, opening=[1, 2, 3], heart=[4, 5, 6], drydown=[7, 8, 9])
    tenacities(s)
    s.tag("lasts", *m(7, 8, 9))
    target = s.aim_at(*m(4, 6, 8, 9))
    wanted = list(target)
    s.brief["formula"] = {"step": 20, "min_dose": 40, "max_materials": 5}
    s.brief["stage"] = [
        {"name": "opening", "minutes": 5, "strength": {"min": 20, "max": 90}},
        {
            "name": "drydown",
            "minutes": 150,
            "kept": {"min": 6},
            "strength": {"min": 2},
            "target": {wanted[0]: 1},
            "share": [{"tag": "lasts", "min": 10, "max": 97}],
        },
    ]
    formula(s, "a", {"Material 01": 200, "Material 04": 250, "Material 06": 200}, *m(8))
    formula(s, "b", {"Material 01": 500, "Material 02": 300, "Material 04": 100}, *m(9))
    formula(s, "c", {"Material 07": 300, "Material 09": 200}, *m(8))


@case("52-stages-level")
def stages_level(s: Scenario) -> None:
    s.make_palette(8, 6, carriers=1)
    notes(s, opening=[1, 5], heart=[2, 4, 6], drydown=[3, 7, 8])
    tenacities(s)
    s.palette["lasting_percent"] = 20
    s.change("Carrier A", lasting=90, molar_mass=134.2)
    s.tag("first", *m(1, 5))
    target = s.aim_at(*m(1, 2, 3, 6))
    wanted = list(target)
    s.brief["match"] = "level"
    s.brief["formula"] = {"step": 25, "min_dose": 50, "max_materials": 5, "off_note_weight": 0.5}
    s.brief["doses"] = {"Carrier A": {"max": 300}}
    s.brief["blotter"] = {"percent": 10}
    s.brief["stage"] = [
        {"name": "first minutes", "minutes": 2, "share": [{"tag": "first", "min": 15}]},
        {"name": "an hour", "minutes": 60, "weight": 1.5, "strength": {"max": 60}, "kept": {"min": 40}},
        {
            "name": "five hours",
            "minutes": 300,
            "weight": 0.5,
            "target": {wanted[0]: {"score": 1, "weight": 2, "excess": 0.5}, wanted[1]: {"weight": 0.25}},
            "share": [{"tag": "first", "max": 5}],
        },
    ]
    formula(s, "a", {"Material 01": 150, "Material 02": 300, "Material 03": 200, "Carrier A": 100}, *m(6))
    formula(s, "b", {"Material 05": 500, "Material 03": 150}, *m(4))


@case("53-stages-continuous")
def stages_continuous(s: Scenario) -> None:
    s.make_palette(10, 6)
    notes(s, opening=[1, 2, 9], heart=[3, 4, 5, 10], drydown=[6, 7, 8])
    tenacities(s)
    s.tag("lasts", *m(6, 7, 8))
    for name, pressure in (("Material 02", 18.5), ("Material 05", 1.2), ("Material 08", 0.04)):
        s.change(name, vapour_pressure=pressure)
    for name in m(2, 5):  # by their pressures, from a film as heavy as that of the one which has both
        del s.entry(name)["lasting"]
    for name in m(9, 10):  # as their notes
        del s.entry(name)["lasting"], s.entry(name)["molar_mass"]
    target = s.aim_at(*m(1, 3, 5, 7))
    s.brief["formula"] = {"strength": {"min": 15}}
    s.brief["budget"] = {"max_price": 200}
    s.brief["stage"] = [
        {"name": "dipped", "minutes": 0, "strength": {"max": 120}},
        {
            "name": "evening",
            "minutes": 240,
            "strength": {"min": 3, "max": 80},
            "kept": {"min": 8},
            "target": {list(target)[0]: 2},
            "share": [{"tag": "lasts", "min": 10, "max": 70}],
        },
    ]
    formula(s, "a", {"Material 01": 200.5, "Material 03": 300, "Material 07": 150, "Material 10": 100}, *m(5))
    formula(s, "b", {"Material 02": 400, "Material 09": 300, "Material 05": 200}, *m(6))


@case("54-stages-bottle")
def stages_bottle(s: Scenario) -> None:
    s.make_palette(8, 5, carriers=1)
    notes(s, opening=[1, 2, 3], heart=[4, 5], drydown=[6, 7, 8])
    tenacities(s)
    s.change("Carrier A", vapour_pressure=2.2, molar_mass=134.2)
    s.change("Material 03", bottle={"percent": 10, "carrier": "Carrier A"})
    s.change("Material 06", bottle={"percent": 50, "carrier": "Carrier A"})
    del s.entry("Material 05")["lasting"]
    s.change("Material 05", vapour_pressure=0.9)
    s.aim_at(*m(1, 3, 6))
    s.tag("lasts", *m(6, 7, 8))
    s.brief["formula"] = {"basis": "bottle", "step": 10, "max_materials": 4}
    s.brief["blotter"] = {"percent": 15, "film_weight": 12}
    s.palette["lasting_percent"] = 10
    s.brief["stage"] = [
        {"name": "opening", "minutes": 10},
        {"name": "late", "minutes": 1200, "strength": {"min": 1.5}, "share": [{"tag": "lasts", "min": 55}]},
    ]
    formula(s, "a", {"Material 03": 300, "Material 06": 400, "Material 01": 100}, *m(5))
    formula(s, "b", {"Material 01": 300, "Material 02": 200, "Material 07": 350}, *m(4))


@case("55-two-noses")
def two_noses(s: Scenario) -> None:
    s.make_palette(10, 7)
    s.aim_at(*m(1, 3, 6, 9))
    other_nose(s, "second.toml", "second", but=("Material 02",), deaf=("Material 05",))
    s.brief["noses"] = "second.toml"
    s.brief["formula"] = {"strength": {"min": 20}}
    s.brief["target"][list(s.brief["target"])[0]] = {"score": list(s.brief["target"].values())[0], "min": 1.5}
    formula(s, "a", {"Material 01": 200, "Material 05": 300, "Material 06": 150}, *m(2))
    formula(s, "b", {"Material 02": 450.5, "Material 10": 200}, *m(5))


@case("56-noses-natural")
def noses_natural(s: Scenario) -> None:
    s.make_palette(9, 6)
    s.brief["target_from"] = "Material 04"
    s.brief["target"] = {"green": {"weight": 0.5}}
    other_nose(s, "second.toml", "second")
    other_nose(s, "third.toml", "third", but=("Material 01", "Material 07"))
    s.brief["noses"] = ["second.toml", "third.toml"]
    s.brief["nose"] = "worst"
    s.brief["formula"] = {"step": 5, "min_dose": 10, "max_materials": 4, "off_note_weight": 0.5}
    s.brief["budget"] = {"max_price": 150}
    formula(s, "a", {"Material 01": 200, "Material 05": 300, "Material 06": 150}, *m(2))
    formula(s, "b", {"Material 08": 200, "Material 09": 300, "Material 07": 250}, *m(3))


@case("57-mean-of-three")
def mean_of_three(s: Scenario) -> None:
    s.make_palette(9, 6)
    s.aim_at(*m(2, 5, 7))
    other_nose(s, "second.toml", "second", deaf=("Material 05",))
    other_nose(s, "third.toml", "third", but=("Material 02",))
    s.brief["noses"] = ["second.toml", "third.toml"]
    s.brief["nose"] = "mean"
    s.brief["formula"] = {"step": 2, "min_dose": 6, "max_materials": 5, "strength": {"min": 30}}
    formula(s, "a", {"Material 02": 200, "Material 05": 300, "Material 07": 150}, *m(1))
    formula(s, "b", {"Material 04": 200, "Material 09": 300, "Material 08": 250}, *m(3))


@case("58-one-nose")
def one_nose(s: Scenario) -> None:
    s.make_palette(9, 6)
    s.aim_at(*m(2, 5, 7))
    other_nose(s, "second.toml", "second", but=("Material 03",))
    s.brief["noses"] = ["second.toml"]
    s.brief["nose"] = "second"
    s.brief["formula"] = {"strength": {"max": 40}}
    formula(s, "a", {"Material 02": 200, "Material 05": 300, "Material 07": 150}, *m(1))


@case("59-both-laws")
def both_laws(s: Scenario) -> None:
    s.make_palette(6, 5)
    s.aim_at(*m(1, 4, 5, 6))
    s.brief["law"] = "both"
    s.brief["formula"] = {"step": 25, "min_dose": 50, "max_materials": 4}
    s.brief["budget"] = {"max_price": 150}
    formula(s, "a", {"Material 01": 200, "Material 05": 300, "Material 06": 150}, *m(2))
    formula(s, "b", {"Material 03": 500, "Material 04": 475}, *m(1))


@case("60-compressive")
def compressive(s: Scenario) -> None:
    s.make_palette(5, 5, carriers=1)
    target = s.aim_at(*m(1, 2, 3, 5))
    s.brief["law"] = "compressive"
    s.brief["match"] = "level"
    s.brief["target"][list(target)[1]] = {"score": list(target.values())[1], "max": 6, "weight": 2, "excess": 0.5}
    s.brief["formula"] = {"step": 20, "max_materials": 5, "strength": {"min": 20}}
    s.brief["doses"] = {"Carrier A": {"max": 200}, "Material 05": {"max": 300}}
    formula(s, "a", {"Material 01": 200, "Material 05": 320, "Material 03": 160}, *m(2))
    formula(s, "b", {"Material 03": 500, "Carrier A": 200}, *m(4))


@case("61-both-laws-two-noses")
def both_laws_two_noses(s: Scenario) -> None:
    s.make_palette(5, 5)
    s.aim_at(*m(1, 2, 5))
    other_nose(s, "second.toml", "second")
    s.brief["law"] = "both"
    s.brief["noses"] = ["second.toml"]
    s.brief["formula"] = {"step": 20}
    formula(s, "a", {"Material 01": 200, "Material 05": 320, "Material 03": 150}, *m(2))


@case("62-stages-two-noses")
def stages_two_noses(s: Scenario) -> None:
    s.make_palette(8, 5)
    notes(s, opening=[1, 2, 3], heart=[4, 5], drydown=[6, 7, 8])
    tenacities(s)
    s.tag("first", *m(1, 2, 3))
    s.aim_at(*m(2, 5, 7))
    other_nose(s, "second.toml", "second")
    s.brief["noses"] = ["second.toml"]
    s.brief["formula"] = {"step": 50, "min_dose": 50, "max_materials": 4}
    s.brief["stage"] = [
        {"name": "opening", "minutes": 5, "strength": {"max": 200}, "share": [{"tag": "first", "min": 10}]},
        {"name": "drydown", "minutes": 600, "kept": {"min": 5}, "share": [{"tag": "first", "max": 2}]},
    ]
    formula(s, "a", {"Material 02": 200, "Material 05": 300, "Material 07": 150}, *m(1))
    formula(s, "b", {"Material 06": 200, "Material 08": 300, "Material 04": 150}, *m(7))


@case("63-infeasible-film")
def infeasible_film(s: Scenario) -> None:
    s.make_palette(7, 5)
    for i, name in enumerate(m(1, 2, 3, 4, 5, 6, 7)):
        s.change(name, lasting=2 + i)
    s.aim_at(*m(2, 5, 7))
    s.brief["formula"] = {"step": 10}
    s.brief["stage"] = [{"name": "opening", "minutes": 5}, {"name": "late", "minutes": 450}]
    formula(s, "a", {"Material 06": 50}, *m(7))


@case("64-infeasible-kept")
def infeasible_kept(s: Scenario) -> None:
    s.make_palette(7, 5)
    notes(s, opening=[1, 2, 3, 4], heart=[5, 6], drydown=[7])
    tenacities(s)
    s.aim_at(*m(2, 5, 7))
    s.brief["doses"] = {"Material 07": {"max": 200}}
    s.brief["group"] = [{"name": "first", "materials": m(1, 2, 3, 4), "min": 700}]
    s.brief["stage"] = [{"name": "opening", "minutes": 0}, {"name": "late", "minutes": 420, "kept": {"min": 98}}]
    formula(s, "a", {"Material 01": 400, "Material 02": 300, "Material 06": 150}, *m(7))
