"""Random scenarios for `trial.py`: every kind of rule on a made-up shelf of `trial_shelf.py`.

Rules are laid around the witness, so that most briefs have an answer; in many, some rules are moved to
its wrong side, which leaves about a fifth without an answer. Nothing here says anything about a real substance.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from trial_shelf import ELSEWHERE, STEPS, Draw, bottle_fraction, downward, exact
from trial_shelf import make_palette, make_steps, make_target, make_witness, step_of

from evaluate import Verdict, brought, evaluate
from resolve import Limit, neat_parts, read_problem
from scenario import SOURCE

CATEGORIES = ["4", "5", "leave-on", "rinse-off"]


def dose_rules(draw: Draw, neat: dict[str, Fraction]) -> None:
    rng, form, doses = draw.rng, draw.brief["formula"], draw.brief["doses"]
    for entry in draw.entries:
        name, dose = entry["name"], draw.witness.get(entry["name"], Fraction(0))
        amount = neat.get(name, Fraction(0))
        if draw.chance(0.25):
            entry["max"] = min(1000.0, draw.above(amount) if amount > 0 else float(rng.choice([5, 80, 300])))
        has_step = bool(step_of(draw, entry))
        fraction = bottle_fraction(entry)
        if draw.chance(0.12) and (has_step or draw.form != "continuous"):
            top = min(exact(entry.get("max", 1000)), 1000) * (min(fraction, 1) if fraction else 1)
            entry["min"] = downward(min(dose or Fraction(rng.choice([2, 15, 60])), top))
        if draw.chance(0.3):
            given: dict = doses.get(name, {})
            pick = rng.random()
            if dose > 0 and pick < 0.25:
                given["fixed"] = float(dose)
                draw.kinds.add("fixed")
            elif dose > 0 and pick < 0.5:
                given.update(use="must", min=max(0.001, draw.below(dose)))
                given["min"] = min(given["min"], 1000.0)
                draw.kinds.add("must")
            elif dose == 0 and pick < 0.3:
                given["use"] = "never"
                draw.kinds.add("never")
            elif pick < 0.8:
                given["max"] = min(1000.0, draw.above(dose) if dose > 0 else float(rng.choice([3, 40, 250])))
            if draw.form in ("whole", "mixed") and draw.chance(0.3) and dose % Fraction(1, 100) == 0:
                given["step"] = rng.choice([s for s in STEPS if dose % exact(s) == 0])
            if given:
                doses[name] = given
    if draw.chance(0.45) or draw.form == "count":
        fewest = len(draw.witness)
        change = -rng.randint(1, 2) if draw.broken and draw.chance(0.3) else rng.choice([0, 0, 1, 3])
        form["max_materials"] = max(1, fewest + change)
        draw.kinds.add("max_materials")
    absent = [e["name"] for e in draw.entries if e["name"] not in draw.witness]
    if draw.chance(0.1):
        form["only"] = [*draw.witness, *rng.sample(absent, len(absent) // 2)]
        if draw.broken and len(form["only"]) > 1 and draw.chance(0.3):
            form["only"].pop(0)
        draw.kinds.add("only")
    if draw.chance(0.15):
        form["own_only"] = True
        for name in rng.sample(absent, len(absent) // 2):
            next(e for e in draw.entries if e["name"] == name)["have"] = False
        draw.kinds.add("own_only")


def put_max(bounds: dict, most: float) -> None:
    """An upper bound, unless the lower one passes it: equalities are a question of number theory."""
    if most > bounds.get("min", -1):
        bounds["max"] = most


def sum_rules(draw: Draw, neat: dict[str, Fraction]) -> None:
    rng = draw.rng
    groups, ratios = [], []
    tags = sorted({tag for e in draw.entries for tag in e["tags"]})
    for k in range(rng.choice([0, 0, 1, 1, 2])):
        group: dict = {"name": f"group {k}"}
        if tags and draw.chance(0.6):
            group["tag"] = rng.choice(tags)
        if "tag" not in group or draw.chance(0.3):
            names = [e["name"] for e in draw.entries]
            group["materials"] = rng.sample(names, min(len(names), rng.randint(1, 5)))
        listed = group.get("materials", [])
        members = {e["name"] for e in draw.entries if group.get("tag") in e["tags"] or e["name"] in listed}
        total = sum((neat.get(name, Fraction(0)) for name in members), Fraction(0))
        if total > 0 and draw.chance(0.6):
            group["min"] = min(1000.0, draw.below(total))
        if "min" not in group or draw.chance(0.4):
            put_max(group, min(1000.0, draw.above(total)))
        if len(group.keys() & {"min", "max"}) > 0:
            groups.append(group)
    for _ in range(rng.choice([0, 0, 1, 2])):
        of, to = rng.sample([e["name"] for e in draw.entries], 2)
        if draw.chance(0.6) and len(neat) > 1:
            of, to = rng.sample(sorted(neat), 2)
        a, b = neat.get(of, Fraction(0)), neat.get(to, Fraction(0))
        ratio: dict = {"of": of, "to": to}
        if b == 0 or (a > 0 and draw.chance(0.6)):
            ratio["min"] = min(1e6, draw.below(a / b)) if b > 0 else rng.choice([0.5, 1, 3])
        if b > 0 and ("min" not in ratio or draw.chance(0.4)):
            put_max(ratio, min(1e6, draw.above(a / b)))
        if len(ratio) > 2:
            ratios.append(ratio)
    for key, found in (("group", groups), ("ratio", ratios)):
        if found:
            draw.brief[key] = found
            draw.kinds.add(key)


def money_and_strength(draw: Draw, verdict: Verdict) -> None:
    rng, form, brief = draw.rng, draw.brief["formula"], draw.brief
    if draw.chance(0.35):
        strength = {}
        if draw.chance(0.6):
            strength["min"] = draw.below(verdict.strength)
        if not strength or draw.chance(0.4):
            put_max(strength, draw.above(verdict.strength))
        form["strength"] = strength
        draw.kinds.add("strength")
    if draw.chance(0.55):
        budget = {}
        if draw.chance(0.75):
            budget["max_price"] = draw.above(verdict.price, 0.2)
            draw.kinds.add("budget")
        if not budget or draw.chance(0.25):
            budget["max_price_of_effect"] = draw.above(verdict.price / verdict.strength, 0.2)
            draw.kinds.add("price of effect")
        brief["budget"] = budget
    elif draw.chance(0.4):
        for entry in rng.sample(draw.entries, max(1, len(draw.entries) // 5)):
            entry.pop("price", None)
        draw.kinds.add("no price")
    for d, value in verdict.profile.items():
        if draw.chance(0.12) and value <= 10:
            target = brief.setdefault("target", {})
            entry = target.get(d)
            if entry is None and "target_from" not in brief:
                continue
            entry = entry if isinstance(entry, dict) else {} if entry is None else {"score": entry}
            if draw.chance(0.5) and value > 0:
                entry["min"] = min(10.0, draw.below(value))
            if "min" not in entry or draw.chance(0.4):
                put_max(entry, min(10.0, draw.above(value)))
            target[d] = entry
            draw.kinds.add("target bounds")


def cover_within(entry: dict, cover: list[str]) -> bool:
    return any(number in cover for number in entry.get("constituents", {}))


def products(draw: Draw) -> None:
    """[use] or several [[use]], advice on single materials, and restrictions in one or two files."""
    rng, count = draw.rng, draw.rng.choice([0, 1, 1, 2, 3])
    if count == 0:
        return
    numbers = [e["cas"] for e in draw.entries if "cas" in e] + ELSEWHERE
    uses = []
    for k in range(count):
        use = {"name": f"product {k}", "category": rng.sample(CATEGORIES, rng.choice([1, 1, 2]))}
        use["dosage"] = rng.choice([0.7, 5, 12.5, 18, 100])
        if draw.chance(0.5):
            use["accord_share"] = rng.choice([7.5, 40, 60])
        if draw.chance(0.3):
            use["reserve"] = {n: rng.choice([0.01, 0.2]) for n in rng.sample(numbers, min(2, len(numbers)))}
        uses.append(use)
    restrictions = []
    for k in range(rng.choice([0, 1, 2, 3, 5])):
        cover = rng.sample(numbers, min(len(numbers), rng.choice([1, 1, 2, 3])))
        entry = {"substance": f"Substance {k}", "cas": cover, "source": SOURCE}
        entry["applies"] = rng.choice(["all", "all", "added", "constituents"])
        if any(e.get("cas") in cover and cover_within(e, cover) for e in draw.entries):
            entry["applies"] = "all"  # "constituents" of a material that is itself listed can be read two ways
        if draw.chance(0.35):
            entry["joint"] = rng.choice(["phototoxic", "other"])
        restrictions.append(entry)
    draw.brief["use"] = uses if count > 1 or draw.chance(0.3) else dict(uses[0])
    draw.kinds.add("several uses" if count > 1 else "one use")
    problem = read_problem(draw.write())  # the uses alone, so that what the witness brings can be told
    neat = neat_parts(problem.palette, problem.basis, draw.witness)
    for entry in draw.entries:
        amount = neat.get(entry["name"], Fraction(0))
        for key in ("max_in_concentrate", "max_in_product"):
            if draw.chance(0.08):
                part = {use.suffix: use.dosage / 100 if key == "max_in_product" else 1 for use in problem.uses}
                most = max(amount / 1000 * use.share * part[use.suffix] for use in problem.uses)
                entry[key] = min(100.0, draw.above(most) if amount > 0 else rng.choice([0.5, 3]))
                draw.kinds.add(key)
    if not restrictions:
        return
    for entry in restrictions:
        sharing = sum(1 for other in restrictions if "joint" in entry and other.get("joint") == entry["joint"]) or 1
        limits = [Limit("", entry["cas"], entry["applies"], Fraction(1), None, use) for use in problem.uses]
        entry["limits"] = limits_of(draw, entry, max(sum(brought(problem, limit, neat)) for limit in limits) * sharing)
    for use in uses:  # every category of the brief stands in some restriction
        for category in use["category"]:
            if not any(category in entry["limits"] for entry in restrictions):
                restrictions[0]["limits"][category] = "none"
    cut = len(restrictions) // 2 if draw.chance(0.3) else 0
    named = {"limits.toml": restrictions[cut:], "more.toml": restrictions[:cut]}
    draw.files.update({name: {"restriction": entries} for name, entries in named.items() if entries})
    draw.brief["limits"] = [name for name, entries in named.items() if entries] if cut else "limits.toml"
    draw.kinds.add("restrictions")
    draw.kinds.update(["joint"] if any("joint" in entry for entry in restrictions) else [])


def limits_of(draw: Draw, entry: dict, most: Fraction) -> dict:
    limits: dict = {}
    for category in [*CATEGORIES, "*"]:
        pick = draw.rng.random()
        if pick < 0.1:
            limits[category] = "none"
        elif pick < 0.5:
            if most > 0:
                limits[category] = min(100.0, draw.above(most))
            else:
                banned = draw.chance(0.4) and "joint" not in entry
                limits[category] = 0 if banned else draw.rng.choice([0.05, 0.6])
    return limits or {"*": min(100.0, draw.above(most)) or 0.1}


def make(seed: str, size: int, smallest: int, folder: Path) -> Draw:
    """The scenario of a seed, written to `folder`; draws that cannot give a witness are drawn again."""
    for attempt in range(50):
        draw = Draw(f"{seed}/{attempt}", size, smallest, folder)
        draw.broken = draw.chance(0.6)
        draw.brief = {"title": f"Made-up brief {seed}", "palette": "palette.toml"}
        make_palette(draw)
        make_target(draw)
        make_steps(draw)
        try:
            make_witness(draw)
        except ValueError:
            continue
        problem = read_problem(draw.write())
        verdict = evaluate(problem, draw.witness)
        if verdict.loss is None or sum(aim.weight * aim.score for aim in problem.aims.values()) == 0:
            continue
        amounts = neat_parts(problem.palette, problem.basis, draw.witness)
        neat = {name: amount for name, amount in amounts.items() if amount > 0}
        dose_rules(draw, neat)
        sum_rules(draw, neat)
        money_and_strength(draw, verdict)
        products(draw)
        draw.write()
        return draw
    raise RuntimeError(f"no scenario for seed {seed}")
