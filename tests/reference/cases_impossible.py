"""Scenarios that no formula can meet; `make_cases.py` says which uses what."""

from scenario import Scenario, case, formula, m, naturals, restriction


@case("17-infeasible-budget")
def infeasible_budget(s: Scenario) -> None:
    s.make_palette(8, 5)
    s.aim_at(*m(1, 2, 5))
    strong = max(s.palette["material"], key=lambda e: e["strength"])
    strong["price"] = 800.0
    s.brief["formula"] = {"strength": {"min": round(strong["strength"] * 0.9, 2)}}
    s.brief["budget"] = {"max_price": 400}
    formula(s, "a", {"Material 01": 300, "Material 02": 300}, *m(5))
    formula(s, "b", {"Material 03": 300, "Material 04": 300}, *m(8))


@case("18-infeasible-limit")
def infeasible_limit(s: Scenario) -> None:
    s.make_palette(9, 5)
    s.aim_at(*m(1, 2, 7))
    naturals(s)
    seven = s.cas_of("Material 07")
    s.brief["limits"] = "limits.toml"
    s.brief["formula"] = {"step": 1}
    s.brief["use"] = {"category": "4", "dosage": 20}
    s.brief["group"] = [{"name": "the heart", "materials": m(2, 5, 7), "min": 400}]
    s.files["limits.toml"] = {"restriction": [restriction("Substance 07", seven, {"4": 0.35})]}
    formula(s, "a", {"Material 02": 300, "Material 05": 20, "Material 07": 90}, *m(1))
    formula(s, "b", {"Material 02": 350, "Material 03": 250}, *m(4))


@case("19-infeasible-steps")
def infeasible_steps(s: Scenario) -> None:
    s.make_palette(7, 5)
    s.aim_at(*m(1, 2, 5))
    s.brief["formula"] = {"step": 1}
    s.brief["doses"] = {"Material 03": {"fixed": 250.25}, "Material 06": {"step": 0.5}}
    formula(s, "a", {"Material 03": 250.25, "Material 06": 100.5}, *m(2))
    formula(s, "b", {"Material 03": 250, "Material 01": 300}, *m(5))


@case("20-infeasible-count")
def infeasible_count(s: Scenario) -> None:
    s.make_palette(10, 6)
    s.aim_at(*m(1, 2, 5))
    for entry in s.palette["material"]:
        entry["max"] = 240
    s.brief["formula"] = {"step": 0.5, "max_materials": 4}
    formula(s, "a", {name: 200 for name in m(1, 2, 3, 4)}, *m(5))
    formula(s, "b", {name: 240 for name in m(1, 6, 8)}, *m(7))


@case("21-infeasible-must")
def infeasible_must(s: Scenario) -> None:
    s.make_palette(6, 4)
    s.aim_at(*m(1, 2))
    s.brief["formula"] = {"only": m(1, 2, 3)}
    s.brief["doses"] = {"Material 04": {"use": "must", "min": 5}}
    formula(s, "a", {"Material 01": 500}, *m(2))
    formula(s, "b", {"Material 01": 500, "Material 04": 20}, *m(2))


@case("44-infeasible-near")
def infeasible_near(s: Scenario) -> None:
    s.make_palette(9, 6)
    s.aim_at(*m(1, 4, 7))
    s.brief["doses"] = {"Material 02": {"max": 150}, "Material 05": {"use": "never"}}
    s.brief["near"] = {"formula": "gc.toml", "within": 9}
    s.files["gc.toml"] = {
        "parts": {"Material 02": {"percent": 40}, "Material 05": {"percent": 11}, "Material 08": {"percent": 30}}
    }
    formula(s, "a", {"Material 02": 150, "Material 08": 500}, *m(1))
    formula(s, "b", {"Material 04": 300, "Material 06": 300}, *m(3))
