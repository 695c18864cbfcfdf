#!/usr/bin/env python3
"""Random tiny briefs that one to six views judge, all their formulas listed and judged one by one.

    python3 brute_views.py [COUNT] [SEED]                     the listing against the programmes of `several`
    python3 brute_views.py COUNT SEED --program PERMIL        the built program against both
    python3 brute_views.py COUNT SEED --program PERMIL --keep FOLDER    keeps the briefs on which they differ

Shelves and briefs are written as files, made up and seeded: stages with every kind of rule, one to three noses,
both laws, both ways to match, both bases. Exit status 1 on any difference.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from fractions import Fraction
from math import inf
from pathlib import Path

from evaluate import LOOSE, Verdict, evaluate
from film import clocks_of
from listing import all_doses, best_listed, quick_losses
from oracle import quiet_output
from resolve import Problem, neat_parts, read_problem
from rows import Impossible, build
from scenario import toml
from several import best_over_clocks, build_rules, linear_best, solve_any, whole_best

NEAR = 1e-6  # of max(1, loss): how far two optima may lie apart
SAME = 1e-6  # of max(1, figure): how far two evaluations
LEFT = 1.0  # percent of a film: with less the rows of a stage are too small for a solver's tolerances
TRIED = 400  # formulas that are judged by the clocks of their own film where a verdict says that none keeps the rules


def maybe(rng: random.Random, chance: float, keys: dict, name: str, make) -> None:
    if rng.random() < chance:
        keys[name] = make()


def shelf(rng: random.Random, n: int, words: list[str]) -> dict:
    materials = []
    for i in range(n):
        entry = {"name": f"M{i}", "strength": rng.choice([1, 3, 10, 30, 100, 300])}
        entry["scores"] = {d: rng.randint(1, 10) for d in words if rng.random() < 0.7} or {words[0]: 5}
        entry["price"] = rng.randint(1, 300)
        entry["tags"] = ["a", "b"][i : i + 1] or rng.sample(["a", "b"], rng.randint(0, 2))
        maybe(rng, 0.8, entry, "note", lambda: rng.choice(["opening", "heart", "drydown"]))
        maybe(rng, 0.7, entry, "lasting", lambda: rng.choice([0.5, 1, 2, 5, 12, 40, 200]))
        maybe(rng, 0.5, entry, "molar_mass", lambda: rng.randint(100, 300))
        maybe(rng, 0.3, entry, "vapour_pressure", lambda: rng.choice([0.01, 0.3, 5, 60]))
        materials.append(entry)
    if not any("lasting" in entry or "vapour_pressure" in entry for entry in materials):
        materials[0]["lasting"] = 6
    if rng.random() < 0.3:
        materials.append({"name": "Carrier", "strength": 0, "price": 3, "lasting": 30})
        materials[0]["bottle"] = {"percent": rng.choice([10, 50]), "carrier": "Carrier"}
    palette = {"scale": 10, "descriptors": {d: "made up" for d in words}, "material": materials}
    maybe(rng, 0.3, palette, "lasting_percent", lambda: rng.choice([5, 10, 50]))
    return palette


def other_nose(rng: random.Random, palette: dict, words: list[str], name: str) -> dict:
    entries = []
    for entry in palette["material"]:
        if entry["strength"] == 0 or rng.random() < 0.15:
            continue
        told = {"name": entry["name"], "strength": entry["strength"] * rng.choice([0.2, 0.5, 1, 2, 5])}
        told["scores"] = {d: rng.randint(1, 10) for d in words if rng.random() < 0.7} or {words[-1]: 3}
        entries.append(told)
    return {"name": name, "scale": 10, "descriptors": palette["descriptors"], "material": entries}


def stages_of(rng: random.Random, words: list[str]) -> list[dict]:
    minutes, stages = rng.choice([0, 2, 10]), []
    for k in range(rng.randint(1, 3)):
        stage = {"name": f"stage {k}", "minutes": minutes}
        maybe(rng, 0.3, stage, "weight", lambda: rng.choice([0.5, 2]))
        ends = {}
        maybe(rng, 0.2, ends, "min", lambda: rng.choice([0.5, 3, 10]))
        maybe(rng, 0.15, ends, "max", lambda: rng.choice([50, 150]))
        if ends:
            stage["strength"] = ends
        if k:
            maybe(rng, 0.25, stage, "kept", lambda: {"min": rng.choice([5, 20, 60])})
        if rng.random() < 0.5:
            stage["target"] = {d: rng.choice([rng.randint(1, 9), {"score": rng.randint(1, 9), "weight": 2}]) for d in rng.sample(words, 1)}
        if rng.random() < 0.3:
            share = {"tag": rng.choice(["a", "b"])}
            share[rng.choice(["min", "max"])] = rng.choice([10, 30, 60])
            stage["share"] = [share]
        stages.append(stage)
        minutes += rng.choice([15, 60, 240, 900])
    return stages


def write(folder: Path, rng: random.Random, stepped: bool) -> None:
    words = [f"d{k}" for k in range(rng.randint(2, 4))]
    palette = shelf(rng, rng.randint(3, 5), words)
    brief: dict = {"palette": "palette.toml", "match": rng.choice(["balance", "level"])}
    target = {d: rng.randint(0, 9) for d in words if rng.random() < 0.8}
    target[words[0]] = target.get(words[0], 0) + 1
    if rng.random() < 0.3:
        target[words[1]] = {"score": rng.randint(0, 9), "weight": rng.choice([0.5, 2]), "excess": rng.choice([0.5, 3])}
    form: dict = {"basis": rng.choice(["neat", "bottle"])}
    if stepped:
        form["step"] = rng.choice([50, 100])
        maybe(rng, 0.3, form, "min_dose", lambda: rng.choice([100, 150]))
        maybe(rng, 0.4, form, "max_materials", lambda: rng.randint(2, 4))
    maybe(rng, 0.2, form, "off_note_weight", lambda: 0.5)
    ends = {}
    maybe(rng, 0.2, ends, "min", lambda: rng.choice([3, 10, 30]))
    maybe(rng, 0.1, ends, "max", lambda: rng.choice([50, 100]))
    if ends:
        form["strength"] = ends
    law = rng.choice(["linear", "linear", "linear", "compressive", "both"]) if stepped else "linear"
    is_on_paper = law == "linear" and rng.random() < 0.7
    if law != "linear":
        brief["law"] = law
    noses = rng.choice([0, 0, 1, 2])
    if noses:
        brief["noses"] = [f"nose-{k}.toml" for k in range(noses)]
        maybe(rng, 0.4, brief, "nose", lambda: rng.choice(["mean", "worst", "nose 0"]))
    brief["target"], brief["formula"] = target, form
    maybe(rng, 0.3, brief, "budget", lambda: {"max_price": rng.randint(50, 250)})
    if is_on_paper:
        maybe(rng, 0.5, brief, "blotter", lambda: {"percent": rng.choice([5, 10, 100])})
        brief["stage"] = stages_of(rng, words)
    (folder / "palette.toml").write_text(toml(palette), encoding="utf-8")
    (folder / "brief.toml").write_text(toml(brief), encoding="utf-8")
    for k in range(noses):
        (folder / f"nose-{k}.toml").write_text(toml(other_nose(rng, palette, words, f"nose {k}")), encoding="utf-8")


def near(one, other, by: float) -> bool:
    if one is None or other is None:
        return one is other
    return abs(float(one) - float(other)) <= by * max(1.0, abs(float(other)))


def compare_figures(report: dict, verdict: Verdict, wrong: list[str]) -> None:
    theirs = verdict.report()

    def same(name: str, ours, exact) -> None:
        if not near(ours, exact, SAME):
            wrong.append(f"{name} {ours} instead of {exact}")

    for key in ("loss", "fidelity", "price", "strength"):
        same(key, report[key], theirs[key])
    for key in ("loss", "fidelity"):
        same(f"second {key}", report["second_opinion"][key], theirs["second_opinion"][key])
    for row in report["profile"]:
        same(f"profile {row['descriptor']}", row["blend"], theirs["profile"].get(row["descriptor"]))
    seen = report.get("views", {}).get("each", [])
    if len(seen) != (len(theirs.get("views", [])) if len(theirs.get("views", [])) > 1 else len(seen)):
        wrong.append(f"{len(seen)} views instead of {len(theirs.get('views', []))}")
    for one, exact in zip(seen, theirs.get("views", [])):
        for key in ("loss", "fidelity", "strength"):
            same(f"{one['name']}: {key}", one[key], exact[key])
    for one, exact in zip(report.get("stages", []), theirs.get("stages", [])):
        for key in ("clock", "film_left", "strength", "kept_of_first"):
            same(f"{one['name']}: {key}", one[key], exact[key])
        for name, part in exact["left"].items():
            same(f"{one['name']}: {name} left", one["left"].get(name), part)


def run_program(program: str, brief: Path, seconds: float) -> tuple[int, dict | None, str]:
    command = [program, "propose", str(brief), "--format", "json", "--quiet", "--no-worth", "--time-limit", str(seconds)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60 + 3 * seconds)
    try:
        return done.returncode, json.loads(done.stdout), done.stderr
    except json.JSONDecodeError:
        return done.returncode, None, done.stderr


def parts_of(report: dict) -> dict[str, Fraction]:
    return {name: Fraction(str(dose)) for name, dose in report["formula"]["parts"].items()}


def check_program(problem: Problem, program: str, brief: Path, stepped: bool, seconds: float) -> tuple[str, list[str]]:
    """What the program says, and what of it is wrong."""
    code, report, told = run_program(program, brief, seconds)
    if report is None:
        return "refused", [f"exit {code}: {told.strip()[:300]}"]
    status, wrong = report["status"], []
    on_paper = problem.blotter is not None
    if report["formula"] is None:
        if status == "infeasible":
            wrong += [f"called infeasible: {found}" for found in some_that_keep(problem, stepped)]
        return status, wrong
    parts = parts_of(report)
    verdict = evaluate(problem, parts, Fraction(0) if stepped else LOOSE)
    compare_figures(report, verdict, wrong)
    if verdict.broken:
        wrong.append(f"{status}: breaks {verdict.broken}")
    if stepped and not verdict.broken:
        best = best_listed(problem, verdict.clocks or None)
        loss, bound = float(best[0]), report["bound"]
        if bound is not None and bound > loss + NEAR * max(1.0, loss):
            wrong.append(f"bound {bound} above {loss} of {best[1]}")
        if status == "optimal" and not near(report["loss"], loss, NEAR):
            wrong.append(f"called optimal: {report['loss']}, but {best[1]} has {loss}")
        if not on_paper and status != "optimal":
            wrong.append(f"only {status} on a tiny brief")
    elif not stepped:
        wrong += check_continuous(problem, report, verdict)
    kind = status + (f" for {report['proven_for']}" if on_paper and "proven_for" in report else "")
    return kind, wrong


def check_continuous(problem: Problem, report: dict, verdict: Verdict) -> list[str]:
    later = [] if problem.blotter is None else [s for s in problem.blotter.stages if s.minutes > 0]
    if len(later) > 1:
        return []
    if later:
        found = best_over_clocks(problem, verdict.clocks)
    elif problem.views:
        found = linear_best(build(problem, clocks=[0.0] if problem.blotter else None))
    else:
        found = (solve_any(problem).bound,)
    if found is None:
        return ["the reference finds no formula"]
    loss, slack = found[0], 1e-5 if later else NEAR
    wrong = []
    if report["bound"] is not None and report["bound"] > loss + slack * max(1.0, loss):
        wrong.append(f"bound {report['bound']} above {loss}")
    if report["status"] == "optimal" and report["loss"] > loss + slack * max(1.0, loss):
        wrong.append(f"called optimal: {report['loss']}, the reference has {loss}")
    if report["loss"] > loss * 1.006 + slack:
        wrong.append(f"open: {report['loss']} (bound {report['bound']}), the reference has {loss}")
    return wrong


def some_that_keep(problem: Problem, stepped: bool) -> list[str]:
    """A formula that keeps every rule by its own film, where one is met."""
    if not stepped:
        return []
    names, doses = all_doses(problem)
    rng = random.Random(len(doses))
    for k in rng.sample(range(len(doses)), min(TRIED, len(doses))):
        parts = {name: Fraction(dose).limit_denominator(10**6) for name, dose in zip(names, doses[k]) if dose > 0}
        verdict = evaluate(problem, parts)
        if not verdict.broken and verdict.loss is not None:
            return [str({name: float(dose) for name, dose in parts.items()})]
    return []


def check_halves(problem: Problem, stepped: bool, rng: random.Random) -> tuple[str, list[str]]:
    """The listing against the programmes, by the clocks of any formula."""
    if not stepped or any(view.law == "compressive" for view in problem.views) or not problem.views:
        return "not listed", []
    try:
        build_rules(problem)
        names, doses = all_doses(problem)
    except Impossible:
        return "impossible", []
    if not len(doses):
        return "impossible", []
    clocks = None
    if problem.blotter is not None:
        parts = {n: Fraction(d).limit_denominator(10**6) for n, d in zip(names, doses[rng.randrange(len(doses))]) if d > 0}
        clocks = clocks_of(problem.blotter, neat_parts(problem.palette, problem.basis, parts))
        told = evaluate(problem, parts).stages
        if inf in clocks or min(stage["film_left"] for stage in told) < LEFT:
            return "gone", []
    best = best_listed(problem, clocks)
    with quiet_output():
        answer = whole_best(problem, 60, clocks)
    if best is None or answer.status != "optimal":
        agrees = (best is None) == (answer.status == "infeasible")
        return answer.status, [] if agrees else [f"{answer.status} {answer.note}, listed {best and float(best[0])}"]
    gap = abs(float(best[0] - answer.verdict.loss))
    return "optimal", [] if gap <= NEAR * max(1.0, float(best[0])) else [f"by {gap}"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int, nargs="?", default=60)
    parser.add_argument("seed", type=int, nargs="?", default=1)
    parser.add_argument("--program", help="the built program")
    parser.add_argument("--keep", type=Path, help="a folder for the briefs on which they differ")
    parser.add_argument("--seconds", type=float, default=5.0, help="time limit of the program")
    parser.add_argument("--first", type=int, default=0)
    args = parser.parse_args()
    tally: Counter[str] = Counter()
    differ = 0
    for index in range(args.first, args.first + args.count):
        rng = random.Random(f"{args.seed}/{index}")
        stepped = index % 4 != 3
        with tempfile.TemporaryDirectory() as at:
            folder = Path(at)
            write(folder, rng, stepped)
            problem = read_problem(folder / "brief.toml")
            form = "paper" if problem.blotter else "both laws" if len({v.law for v in problem.views}) == 2 else (
                problem.views[0].law if problem.views else "plain"
            )
            if args.program:
                kind, wrong = check_program(problem, args.program, folder / "brief.toml", stepped, args.seconds)
            else:
                kind, wrong = check_halves(problem, stepped, rng)
            tally[f"{'stepped' if stepped else 'linear'} {form}: {kind}"] += 1
            if wrong:
                differ += 1
                print(f"brief {args.seed}/{index} ({form}, {len(problem.views)} views): {'; '.join(wrong)}", flush=True)
                if args.keep:
                    shutil.copytree(folder, args.keep / f"{args.seed}-{index}", dirs_exist_ok=True)
    for key, count in sorted(tally.items()):
        print(f"{count:5} {key}")
    sys.exit(differ > 0)


if __name__ == "__main__":
    main()
