"""Scenarios that have an optimum; `make_cases.py` says which uses what."""

from scenario import Inline, Scenario, cas, case, formula, m, naturals, restriction


@case("01-plain")
def plain(s: Scenario) -> None:
    s.make_palette(10, 6)
    s.aim_at(*m(1, 4, 5, 8))
    s.brief["remarks"] = "no rule at all"
    formula(s, "a", {name: 90 + 3 * i for i, name in enumerate(m(1, 2, 3, 4, 5, 6, 7, 8))}, *m(10))
    formula(s, "b", {"Material 03": 0.000001, "Material 04": 400.25}, *m(9))


@case("02-level-capped")
def level_capped(s: Scenario) -> None:
    s.make_palette(12, 8)
    s.aim_at(*m(1, 2, 6, 9, 11), noise=2)
    s.brief["match"] = "level"
    s.change("Material 01", max=150)
    s.change("Material 06", max=300, stock=20, lasting=30, handling="warm before weighing")
    s.tag("mild", *m(2, 3, 9))
    s.brief["formula"] = {"strength": {"min": 25, "max": 60}}
    s.brief["budget"] = {"max_price": 27}
    s.brief["doses"] = {"Material 06": {"max": 80}, "Material 11": {"max": 120.5}}
    s.brief["group"] = [{"name": "mild ones", "tag": "mild", "min": 250, "max": 400}]
    formula(s, "a", {"Material 01": 200, "Material 06": 100, "Material 02": 500}, *m(12))
    formula(s, "b", {"Material 02": 100, "Material 03": 150, "Material 09": 50, "Material 05": 350}, *m(4))


@case("03-weights")
def weights(s: Scenario) -> None:
    s.make_palette(12, 9)
    target = s.aim_at(*m(2, 3, 7, 10))
    names = list(target)
    s.brief["target"][names[0]] = {"score": target[names[0]], "weight": 2.5, "excess": 0.5}
    s.brief["target"][names[1]] = {"score": target[names[1]], "weight": 0}
    s.brief["target"][names[2]] = {"score": target[names[2]], "excess": 3}
    s.brief["target"][names[3]] = {"score": target[names[3]], "max": max(0.1, round(target[names[3]] * 0.6, 1))}
    s.brief["target"][names[4]] = {"score": target[names[4]], "weight": 0.3, "excess": 0, "min": 2.6}
    s.brief["formula"] = {"off_note_weight": 0.25}
    s.brief["budget"] = {"max_price_of_effect": 0.9}
    formula(s, "a", {"Material 02": 300, "Material 03": 300, "Material 07": 200}, *m(10))
    formula(s, "b", {"Material 01": 500, "Material 12": 300}, *m(5))


@case("04-bottle-continuous")
def bottle_continuous(s: Scenario) -> None:
    s.make_palette(10, 6, carriers=1)
    s.aim_at(*m(1, 3, 6, 9))
    s.change("Material 03", bottle=[{"percent": 10, "carrier": "Carrier A"}, {"percent": 50, "carrier": "Carrier A"}])
    s.change("Material 06", bottle={"percent": 25, "carrier": "some odourless ester"}, max=30)
    s.change("Material 09", bottle={"percent": 50, "carrier": "Carrier A"})
    s.brief["formula"] = {"basis": "bottle", "strength": {"min": 60}}
    s.brief["budget"] = {"max_price": 63}
    s.brief["doses"] = {
        "Material 02": {"fixed": 75.5},
        "Material 05": {"use": "must", "min": 20},
        "Carrier A": {"max": 200},
    }
    s.brief["ratio"] = [{"of": "Material 01", "to": "Material 09", "min": 0.5, "max": 2}]
    formula(s, "a", {"Material 02": 75.5, "Material 05": 25, "Material 03": 300, "Material 06": 150, "Carrier A": 220}, *m(8))
    formula(s, "b", {"Material 02": 75.5, "Material 05": 30.25, "Material 01": 200, "Material 09": 300}, *m(10))
    formula(s, "c", {"Material 02": 80, "Material 03": 400, "Material 09": 200}, *m(1))


@case("05-whole-parts")
def whole_parts(s: Scenario) -> None:
    s.make_palette(12, 8)
    s.aim_at(*m(1, 4, 6, 8, 10, 12))
    s.brief["formula"] = {"step": 1, "min_dose": 2, "max_materials": 5}
    s.brief["budget"] = {"max_price": 140}
    del s.entry("Material 03")["price"]
    s.brief["doses"] = {"Material 03": {"use": "never"}}
    formula(s, "a", {name: 120 for name in m(1, 4, 6, 8, 10, 12)}, *m(2))
    formula(s, "b", {"Material 01": 1, "Material 04": 250.5, "Material 05": 300}, *m(9))


@case("06-mixed-steps")
def mixed_steps(s: Scenario) -> None:
    s.make_palette(9, 6)
    s.aim_at(*m(1, 2, 5, 7))
    s.change("Material 02", step=0.1, max=60)
    s.change("Material 03", step=0.5, min=4, max=200)
    s.change("Material 05", min=2.5)
    s.change("Material 07", step=0.01, max=20)
    s.tag("loud", *m(2, 7))
    s.brief["formula"] = {"step": 1, "min_dose": 3}
    s.brief["doses"] = {
        "Material 02": {"min": 0.5},
        "Material 07": {"min": 0.05},
        "Material 08": {"step": 5, "min": 0, "max": 250},
        "Material 09": {"fixed": 10.37},
    }
    s.brief["group"] = [
        {"name": "loud or first", "tag": "loud", "materials": m(1), "min": 20, "max": 177.37},
        {"name": "a pair", "materials": m(6, 8), "min": 100, "max": 700},
    ]
    formula(s, "a", {"Material 02": 0.4, "Material 03": 10.5, "Material 07": 20.01, "Material 08": 45}, *m(9))
    formula(s, "b", {"Material 01": 150, "Material 05": 2, "Material 06": 299.5, "Material 07": 0.055}, *m(4))


@case("07-limits")
def limits(s: Scenario) -> None:
    s.make_palette(10, 7)
    s.aim_at(*m(1, 2, 5, 7))
    naturals(s)
    one, seven, nine = s.cas_of(*m(1, 7, 9))
    s.brief["limits"] = "limits.toml"
    s.brief["formula"] = {"step": 1}
    s.brief["use"] = {"category": ["4", "leave-on"], "dosage": 18, "accord_share": 60}
    s.files["limits.toml"] = {
        "restriction": [
            restriction("Substance 01", [one, cas(8001)], {"4": 2.5, "leave-on": 1, "*": 3}, verified=True),
            restriction("Substance 07", [seven], {"4": "none", "*": 0.9}, verified="read once", specification="peroxides low"),
            restriction("Isomer", [cas(8001)], {"4": 0.02, "9": 0.001}, applies="constituents", verified=False),
            restriction("Substance 09", [nine], {"leave-on": 0.5}, applies="added"),
            restriction("Elsewhere", s.cas_of("Material 03"), {"9": 0.0001}),
        ]
    }
    formula(s, "a", {"Material 01": 200, "Material 02": 300, "Material 05": 200, "Material 09": 100}, *m(3))
    formula(s, "b", {"Material 01": 50, "Material 05": 30, "Material 09": 20, "Material 04": 400}, *m(8))


@case("08-joint-reserve")
def joint_reserve(s: Scenario) -> None:
    s.make_palette(11, 7)
    s.aim_at(*m(1, 2, 5, 8))
    naturals(s)
    s.brief["match"] = "level"
    one, four, seven, eight = s.cas_of(*m(1, 4, 7, 8))
    s.brief["limits"] = ["limits.toml", "house.toml"]
    s.brief["use"] = {"category": "5", "dosage": 12.5, "reserve": {one: 0.3, eight: 0.25}}
    s.files["limits.toml"] = {
        "restriction": [
            restriction("Substance 01", [one], {"5": 2}, joint="sunlight"),
            restriction("Substance 07", [seven], {"5": 1.5}, joint="sunlight"),
            restriction("Substance 04", [four], {"4": 1}, joint="sunlight"),
        ]
    }
    s.files["house.toml"] = {"restriction": [restriction("Substance 08", [eight, cas(8101)], {"5": 1.1, "*": 5})]}
    formula(s, "a", {"Material 01": 100, "Material 07": 90, "Material 08": 60}, *m(4))
    formula(s, "b", {"Material 02": 200, "Material 05": 30, "Material 08": 100, "Material 09": 370.125}, *m(10))


@case("09-two-products")
def two_products(s: Scenario) -> None:
    s.make_palette(10, 6)
    s.aim_at(*m(1, 3, 5, 7))
    naturals(s)
    one, three, seven = s.cas_of(*m(1, 3, 7))
    s.change("Material 03", max_in_concentrate=0.9)
    s.change("Material 05", max_in_product=0.3)
    s.brief["limits"] = "limits.toml"
    s.brief["formula"] = {"step": 1, "min_dose": 2}
    s.brief["use"] = [
        {"name": "Spray", "category": ["4"], "dosage": 15},
        {"name": "Soap", "category": ["9", "rinse-off"], "dosage": 1.5, "accord_share": 80, "reserve": {one: 0.05}},
    ]
    s.files["limits.toml"] = {
        "restriction": [
            restriction("Substance 01", [one], {"4": 1.8, "9": 0.2}, joint="pair"),
            restriction("Substance 03", [three], {"4": 2, "rinse-off": 0.3}, joint="pair"),
            restriction("Substance 07", [seven], {"*": 0.6}),
        ]
    }
    formula(s, "a", {"Material 01": 300, "Material 03": 90, "Material 05": 40}, *m(9))
    formula(s, "b", {"Material 01": 60, "Material 03": 50, "Material 05": 20, "Material 08": 370}, *m(10))


@case("10-only-own")
def only_own(s: Scenario) -> None:
    s.make_palette(14, 8)
    s.aim_at(*m(1, 2, 3, 9, 12))
    for entry in s.palette["material"]:
        del entry["price"]
    s.change("Material 02", have=False)
    s.change("Material 05", have=False, score_error=1.0, strength_factor=1.5)
    s.brief["formula"] = {"step": 2, "min_dose": 4, "only": m(1, 2, 3, 4, 5, 6, 7, 8, 9, 10), "own_only": True}
    s.brief["doses"] = {
        "Material 07": {"use": "must", "step": 1},
        "Material 10": {"use": "must", "min": 30},
        "Material 03": {"use": "never"},
        "Material 09": {"use": "may", "max": 150},
    }
    formula(s, "a", {"Material 01": 300, "Material 02": 100, "Material 12": 50, "Material 07": 11}, *m(4))
    formula(s, "b", {"Material 03": 100, "Material 10": 20, "Material 09": 200, "Material 06": 41}, *m(8))


@case("11-target-from-natural")
def target_from_natural(s: Scenario) -> None:
    s.make_palette(11, 8, carriers=1)
    scores = {"rosy": 7.5, "honeyed": 4, "green": 2, "spicy": 1.5}
    s.change("Material 11", natural=True, price=9000, scores=scores)
    s.brief["target_from"] = "Material 11"
    s.brief["target"] = {"honeyed": {"weight": 2}, "green": 3, "woody": {"weight": 0.5}, "fruity": {"score": 1, "max": 0.8}}
    s.brief["formula"] = {"step": 0.5, "min_dose": 1, "max_materials": 4, "strength": {"max": 40}}
    s.brief["doses"] = {"Carrier A": {"max": 400, "step": 10}}
    formula(s, "a", {"Carrier A": 405, "Material 01": 100.5, "Material 02": 50.25}, *m(5))
    formula(s, "b", {"Carrier A": 300, "Material 01": 0.5, "Material 04": 200, "Material 06": 100}, *m(8))


@case("12-target-from-formula")
def target_from_formula(s: Scenario) -> None:
    s.make_palette(12, 7, carriers=1)
    s.brief["match"] = "level"
    s.change("Material 03", bottle={"percent": 10, "carrier": "Carrier A"})
    s.change("Material 10", have=False)
    s.brief["target_from"] = Inline(formula="old.toml")
    s.brief["target"] = {"powdery": {"excess": 2}}
    s.files["old.toml"] = {
        "title": "An older accord",
        "palette": "palette.toml",
        "basis": "bottle",
        "parts": {"Material 01": 412, "Material 03": 300, "Material 06": 187.5, "Material 10": 100.5},
    }
    s.brief["formula"] = {"step": 1, "max_materials": 4, "own_only": True, "only": m(2, 3, 4, 5, 6, 7, 8, 9, 10, 11)}
    formula(s, "a", {"Material 03": 300, "Material 06": 188, "Material 10": 100}, *m(11))
    formula(s, "b", {"Material 02": 100, "Material 04": 200, "Material 05": 300, "Material 07": 50}, *m(9))


@case("13-bottle-whole")
def bottle_whole(s: Scenario) -> None:
    s.make_palette(9, 6, carriers=2)
    s.aim_at(*m(1, 2, 4, 7))
    s.change("Material 02", bottle={"percent": 10, "carrier": "Carrier A"})
    s.change("Material 04", bottle={"percent": 1, "carrier": "Carrier B"})
    s.change("Material 07", bottle=[{"percent": 50, "carrier": "Carrier A"}, {"percent": 5, "carrier": "Carrier B"}])
    s.change("Carrier B", max=110)
    s.brief["limits"] = "limits.toml"
    s.brief["formula"] = {"basis": "bottle", "step": 1, "min_dose": 5, "max_materials": 5, "strength": {"min": 10}}
    s.brief["budget"] = {"max_price": 100}
    s.brief["use"] = {"category": "4", "dosage": 20}
    s.brief["doses"] = {"Carrier A": {"min": 10}}
    s.brief["group"] = [{"name": "carriers", "tag": "carrier", "min": 100, "max": 450}]
    s.brief["ratio"] = [{"of": "Material 01", "to": "Material 09", "min": 2}]
    s.files["limits.toml"] = {"restriction": [restriction("Carrier A", s.cas_of("Carrier A"), {"4": 6.5})]}
    formula(s, "a", {"Material 02": 350, "Material 07": 200, "Material 04": 200}, *m(1))
    formula(s, "b", {"Carrier A": 5, "Material 01": 150, "Material 02": 110, "Material 03": 200, "Material 05": 35}, *m(8))


@case("14-bans")
def bans(s: Scenario) -> None:
    s.make_palette(10, 6)
    s.aim_at(*m(1, 1, 1, 5), noise=0.5)
    naturals(s)
    s.brief["limits"] = ["limits.toml"]
    s.brief["formula"] = {"step": 1, "min_dose": 2, "max_materials": 4}
    s.brief["use"] = {"category": "4", "dosage": 25}
    s.brief["group"] = [{"name": "green ones", "materials": m(2, 4), "min": 120}]
    s.files["limits.toml"] = {
        "restriction": [
            restriction("Substance 01", s.cas_of("Material 01"), {"4": 0}, applies="added"),
            restriction("Substance 08", s.cas_of("Material 08"), {"*": 0, "4": 3}),
        ]
    }
    formula(s, "a", {"Material 01": 100, "Material 02": 300, "Material 08": 50}, *m(3))
    formula(s, "b", {"Material 02": 300, "Material 05": 150, "Material 07": 60}, *m(9))


@case("15-count-alone")
def count_alone(s: Scenario) -> None:
    s.make_palette(12, 8)
    s.aim_at(*m(1, 2, 4, 7, 9, 11))
    s.brief["formula"] = {"max_materials": 4}
    s.brief["budget"] = {"max_price": 165}
    s.brief["ratio"] = [
        {"of": "Material 04", "to": "Material 10", "min": 0.35, "max": 4},
        {"of": "Material 06", "to": "Material 10", "max": 0.25},
    ]
    formula(s, "a", {"Material 01": 300, "Material 02": 60, "Material 04": 100, "Material 07": 200}, *m(11))
    formula(s, "b", {"Material 04": 60, "Material 06": 100, "Material 10": 200}, *m(7))


@case("16-least-dose")
def least_dose(s: Scenario) -> None:
    s.make_palette(10, 7)
    s.aim_at(*m(2, 3, 5, 8))
    s.change("Material 03", step=0.5, max=100)
    s.brief["formula"] = {"min_dose": 25, "strength": {"min": 10, "max": 50}}
    s.brief["doses"] = {"Material 05": {"min": 4.2}, "Material 08": {"min": 0.5, "max": 60.75}}
    s.brief["budget"] = {"max_price_of_effect": 2}
    formula(s, "a", {"Material 02": 20, "Material 03": 50.25, "Material 05": 4}, *m(1))
    formula(s, "b", {"Material 02": 300, "Material 05": 5.5, "Material 08": 70}, *m(9))


@case("22-everything")
def everything(s: Scenario) -> None:
    s.make_palette(14, 10, carriers=2)
    s.aim_at(*m(1, 2, 4, 7, 10, 13))
    naturals(s)
    one, seven = s.cas_of(*m(1, 7))
    s.brief["match"] = "level"
    s.change("Material 04", bottle={"percent": 10, "carrier": "Carrier A"}, max=25, max_in_concentrate=2)
    s.change("Material 10", bottle={"percent": 20, "carrier": "Carrier B"}, step=0.5)
    s.change("Material 13", have=False)
    s.tag("bright", *m(1, 3, 8))
    first = next(iter(s.brief["target"]))
    s.brief["target"][first] = {"score": s.brief["target"][first], "weight": 2, "excess": 1.5, "min": 1}
    s.brief["limits"] = ["limits.toml", "house.toml"]
    s.brief["formula"] = {
        "basis": "bottle", "step": 1, "min_dose": 3, "max_materials": 7, "off_note_weight": 0.8,
        "strength": {"min": 25.8, "max": 90}, "own_only": True,
    }
    s.brief["budget"] = {"max_price": 95, "max_price_of_effect": 6}
    s.brief["use"] = [
        {"name": "Spray", "category": ["4", "leave-on"], "dosage": 16, "accord_share": 75, "reserve": {one: 0.1}},
        {"name": "Candle", "category": "12", "dosage": 8},
    ]
    s.brief["doses"] = {
        "Material 03": {"fixed": 40},
        "Material 05": {"use": "never"},
        "Material 06": {"use": "must"},
        "Material 10": {"max": 200, "min": 1},
        "Carrier A": {"max": 300, "step": 5},
    }
    s.brief["group"] = [{"name": "bright ones", "tag": "bright", "materials": m(9), "min": 100, "max": 170}]
    s.brief["ratio"] = [{"of": "Material 08", "to": "Material 06", "max": 3}]
    s.files["limits.toml"] = {
        "restriction": [
            restriction("Substance 01", [one], {"4": 2, "12": "none"}, joint="both"),
            restriction("Substance 07", [seven], {"leave-on": 0.6, "12": 0.5}, joint="both"),
        ]
    }
    s.files["house.toml"] = {"restriction": [restriction("Isomer", [cas(8001)], {"*": 0.028}, applies="constituents")]}
    formula(s, "a", {"Material 03": 40, "Material 01": 300, "Material 07": 60, "Material 04": 300, "Material 10": 100.5}, *m(13))
    formula(s, "b", {"Material 03": 35, "Material 06": 20, "Material 08": 100, "Material 02": 220, "Carrier A": 12}, *m(12))
    formula(s, "c", {"Material 03": 40, "Material 05": 3, "Material 06": 2, "Material 09": 250}, *m(11))


@case("23-unusual-doses")
def unusual_doses(s: Scenario) -> None:
    s.make_palette(10, 7, carriers=1)
    s.aim_at(*m(1, 3, 4, 6, 9))
    for i, (low, high) in {1: (20, 90), 3: (0, 60), 4: (5, 40), 6: (10, 100), 7: (150, 400), 9: (2, 30)}.items():
        s.change(f"Material {i:02}", usual=[low, high])
    s.change("Material 02", usual_in_concentrate=[0.5, 12.5])
    s.change("Carrier A", usual=[0, 250])
    s.brief["formula"] = {"step": 5, "min_dose": 5, "max_unusual": 1}
    s.brief["doses"] = {"Carrier A": {"max": 600}}
    formula(s, "a", {"Material 01": 95, "Material 03": 60, "Material 04": 45, "Material 02": 125}, *m(5))
    formula(s, "b", {"Material 01": 90, "Material 03": 65, "Material 04": 40, "Material 02": 130}, "Carrier A")


@case("24-unusual-bottle")
def unusual_bottle(s: Scenario) -> None:
    s.make_palette(9, 6, carriers=1)
    s.aim_at(*m(1, 2, 5, 7))
    s.brief["match"] = "level"
    s.change("Material 02", bottle={"percent": 10, "carrier": "Carrier A"}, usual=[3, 12])
    s.change("Material 05", bottle={"percent": 30, "carrier": "Carrier A"}, usual=[1, 25])
    for i in (1, 3, 4, 7, 8):
        s.change(f"Material {i:02}", usual=[10, 120])
    s.brief["formula"] = {"basis": "bottle", "step": 2, "max_materials": 6, "max_unusual": 2}
    s.brief["doses"] = {"Material 07": {"fixed": 150}, "Carrier A": {"max": 500}}
    s.brief["budget"] = {"max_price": 140}
    formula(s, "a", {"Material 07": 150, "Material 02": 30, "Material 05": 84, "Material 01": 122}, *m(9))
    formula(s, "b", {"Material 07": 150, "Material 02": 28, "Material 05": 82, "Material 01": 4, "Material 06": 40}, *m(9))


@case("25-none-unusual")
def none_unusual(s: Scenario) -> None:
    s.make_palette(11, 7)
    s.aim_at(*m(2, 3, 5, 8, 10))
    for i in range(1, 10):
        s.change(f"Material {i:02}", usual=[4 * i, 60 + 15 * i])
    s.brief["formula"] = {"max_unusual": 0, "max_materials": 7}
    s.brief["budget"] = {"max_price": 150}
    formula(s, "a", {"Material 02": 90, "Material 03": 12, "Material 05": 135, "Material 08": 180}, *m(10))
    formula(s, "b", {"Material 02": 90.5, "Material 03": 11.5, "Material 05": 135, "Material 08": 180}, *m(11))


@case("26-idle")
def idle(s: Scenario) -> None:
    s.make_palette(12, 7, carriers=1)
    s.aim_at(*m(1, 3, 6, 9))
    for name, strength in zip(m(1, 2, 3, 4, 5, 6, 7, 8, 9), (2, 3, 400, 5, 2, 900, 150, 3, 60)):
        s.change(name, strength=strength)
    s.brief["formula"] = {"max_idle": 200, "strength": {"min": 70}}
    s.brief["budget"] = {"max_price": 100}
    s.brief["doses"] = {"Carrier A": {"max": 300}}
    formula(s, "a", {"Material 01": 150, "Material 03": 300, "Material 05": 100}, *m(6))
    formula(s, "b", {"Material 01": 450, "Material 03": 20, "Material 05": 300}, *m(4))


@case("27-idle-whole")
def idle_whole(s: Scenario) -> None:
    s.make_palette(9, 6)
    s.aim_at(*m(1, 2, 5, 7))
    for name, strength in zip(m(1, 2, 3, 4, 5, 6, 7, 8, 9), (4, 40, 700, 4, 12, 250, 3, 5, 8)):
        s.change(name, strength=strength)
    s.brief["match"] = "level"
    s.brief["formula"] = {"step": 5, "min_dose": 10, "max_materials": 5, "max_idle": 120, "strength": {"min": 60}}
    formula(s, "a", {"Material 01": 100, "Material 04": 15, "Material 03": 300}, *m(2))
    formula(s, "b", {"Material 01": 150, "Material 05": 300, "Material 06": 50}, *m(7))


@case("28-idle-bottle")
def idle_bottle(s: Scenario) -> None:
    s.make_palette(9, 6, carriers=1)
    s.aim_at(*m(2, 4, 6, 8))
    for name, strength in zip(m(1, 2, 3, 4, 5, 6), (3, 30, 800, 4, 10, 260)):
        s.change(name, strength=strength)
    s.change("Material 03", bottle={"percent": 10, "carrier": "Carrier A"})
    s.change("Material 04", bottle={"percent": 50, "carrier": "Carrier A"})
    s.brief["formula"] = {"basis": "bottle", "step": 10, "max_materials": 5, "max_idle": 60, "strength": {"min": 60}}
    s.brief["budget"] = {"max_price": 60}
    formula(s, "a", {"Material 03": 250, "Material 04": 140, "Material 06": 300}, *m(8))
    formula(s, "b", {"Material 03": 100, "Material 01": 50, "Material 02": 500}, *m(4))


@case("41-near")
def near(s: Scenario) -> None:
    s.make_palette(11, 7)
    s.aim_at(*m(1, 2, 6, 9))
    s.brief["match"] = "level"
    s.brief["near"] = {"formula": "gc.toml", "within": 31}
    (three,) = s.cas_of(*m(3))
    s.files["gc.toml"] = {
        "title": "A made-up analysis",
        "source": "invented for this test",
        "parts": {
            "Material 02": {"percent": 22},
            "Material 04": {"percent": 14.5},
            "Another name": {"percent": 31, "cas": three},
            "Material 10": {"percent": 9},
            "Not on the shelf": {"percent": 2, "cas": cas(7001), "strength": 12.5},
            "Nor this": {"percent": 3},
        },
    }
    formula(s, "a", {"Material 02": 250, "Material 04": 150, "Material 03": 330}, *m(10))
    formula(s, "b", {"Material 01": 300, "Material 09": 300}, *m(6))


@case("42-near-whole")
def near_whole(s: Scenario) -> None:
    s.make_palette(9, 6, carriers=1)
    s.aim_at(*m(1, 3, 5))
    s.brief["formula"] = {"step": 5, "min_dose": 10, "max_materials": 5}
    s.brief["doses"] = {"Carrier A": {"max": 250}, "Material 08": {"use": "never"}}
    s.brief["near"] = {"formula": "old.toml", "within": 24}
    s.files["old.toml"] = {
        "palette": "palette.toml",
        "parts": {"Material 02": 320, "Material 04": 210, "Material 07": 95, "Material 08": 40, "Carrier A": 335},
    }
    formula(s, "a", {"Material 02": 320, "Material 04": 200, "Material 07": 100}, "Carrier A")
    formula(s, "b", {"Material 01": 400, "Material 03": 100}, *m(5))


@case("43-near-parts")
def near_parts(s: Scenario) -> None:
    s.make_palette(10, 8, carriers=1)
    s.aim_at(*m(2, 4, 8))
    s.change("Material 04", bottle={"percent": 10, "carrier": "Carrier A"})
    s.change("Material 06", bottle={"percent": 50, "carrier": "some odourless ester"})
    s.brief["formula"] = {"basis": "bottle", "step": 2, "max_materials": 6}
    s.brief["budget"] = {"max_price": 160}
    s.brief["near"] = {"formula": "gc.toml", "by": "parts", "within": 42.5}
    s.files["gc.toml"] = {
        "unknown_percent": 12,
        "parts": {
            "Material 01": {"parts": 31},
            "Material 04": {"parts": 4, "cas": cas(1)},
            "Material 06": {"parts": 22.25},
            "Material 09": 17,
            "Not on the shelf": {"parts": 6},
            "A solvent of theirs": {"parts": 5, "strength": 0},
        },
    }
    formula(s, "a", {"Material 01": 300, "Material 04": 300, "Material 06": 200}, *m(9))
    formula(s, "b", {"Material 02": 300, "Material 08": 300}, *m(3))
