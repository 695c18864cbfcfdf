#!/usr/bin/env python3
"""A standing trial: the built program against the independent reference of tests/reference.

    python3 benches/trial.py --count 200 --seed 1 --size 12
    python3 benches/trial.py --count 30 --size 40 --smallest 40 --keep /tmp/kept

Every scenario is random, seeded and made up; `trial_briefs.py` says what it may hold. The program's answer is
judged exactly by `evaluate.py` and its optimum held against `solve.py`. Where the two disagree, exact arithmetic
decides: a formula that keeps every rule exactly and lies below a proven bound refutes it. What only the
tolerances of HiGHS explain is counted apart. Needs scipy and numpy. Exit status 1 on any real difference.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from multiprocessing import Pool
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from trial_briefs import make  # noqa: E402  (puts tests/reference on the path)

from evaluate import LOOSE, Verdict, evaluate  # noqa: E402
from oracle import quiet_output  # noqa: E402
from resolve import TOTAL, Problem, neat_parts, read_problem  # noqa: E402
from rows import Impossible, usable_columns  # noqa: E402
from solve import Answer, solve  # noqa: E402

ROOT = Path(__file__).resolve().parent.parent
NEAR = 2e-6  # of max(1, loss): how far two optima may lie apart
SAME = 1e-9  # of the figure's size: how far two evaluations of one formula may lie apart
EXITS = {"optimal": 0, "feasible": 0, "infeasible": 1, "unknown": 3}
STRICT = ("budget", "limit:", "joint:")  # rules that a whole-part formula may not pass by anything


@dataclass
class Options:
    seed: int
    size: int
    smallest: int
    program: Path
    folder: Path
    seconds: float  # for the program, and for each integer programme of the reference
    slow: float


@dataclass
class Outcome:
    seed: str
    form: str = ""
    kinds: set[str] = field(default_factory=set)
    ours: str = ""
    theirs: str = ""
    took: float = 0.0
    wrong: list[str] = field(default_factory=list)  # real differences
    slips: list[str] = field(default_factory=list)  # what the reference's tolerances explain
    open: list[str] = field(default_factory=list)  # neither proven nor refuted
    sizes: str = ""


def run_program(options: Options, brief: Path) -> tuple[int, dict | None, str, float]:
    """Exit status, report with exact numbers, standard error, seconds."""
    command = [str(options.program), "propose", str(brief), "--format", "json", "--quiet"]
    command += ["--time-limit", str(options.seconds)]
    start = time.monotonic()
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=3 * options.seconds + 30)
    except subprocess.TimeoutExpired:
        return -1, None, "still running long after its time limit", time.monotonic() - start
    took = time.monotonic() - start
    try:
        return done.returncode, json.loads(done.stdout, parse_float=Fraction, parse_int=Fraction), done.stderr, took
    except json.JSONDecodeError:
        return done.returncode, None, done.stderr, took


def all_stepped(problem: Problem) -> bool:
    try:
        return all(c.step is not None or c.low == c.high for c in usable_columns(problem))
    except Impossible:
        return False


def compare_figures(report: dict, verdict: Verdict, out: Outcome) -> None:
    """Every figure that the program gives of its formula, against exact arithmetic."""
    theirs = verdict.report()
    second = report["second_opinion"]
    pairs = [(key, report[key], theirs[key]) for key in ("loss", "fidelity", "price", "strength", "price_of_effect")]
    pairs += [(f"second opinion's {key}", second[key], theirs["second_opinion"][key]) for key in ("loss", "fidelity")]
    blended = {row["descriptor"]: row["blend"] for row in report["profile"]}
    if set(blended) != set(theirs["profile"]):
        out.wrong.append(f"profile of {sorted(blended)} instead of {sorted(theirs['profile'])}")
    pairs += [(f"profile {d}", blended.get(d), value) for d, value in theirs["profile"].items()]
    for name, ours, exact in pairs:
        if (ours is None) != (exact is None):
            out.wrong.append(f"{name} {ours} instead of {exact}")
        elif ours is not None and abs(float(ours) - exact) > SAME * max(1.0, abs(exact)):
            out.wrong.append(f"{name} {float(ours)!r} instead of {exact!r}")


def judge_formula(problem: Problem, report: dict, out: Outcome) -> tuple[dict[str, Fraction], Verdict]:
    """The program's formula, which must keep the contract whatever the reference finds."""
    parts: dict[str, Fraction] = report["formula"]["parts"]
    total = sum(parts.values())
    if total != TOTAL:
        out.wrong.append(f"the parts add up to {float(total)!r}")
    loose = evaluate(problem, parts, LOOSE)
    if loose.broken:
        out.wrong.append(f"the formula breaks {loose.broken}")
    strict = evaluate(problem, parts)
    if all_stepped(problem) and (passed := [rule for rule in strict.broken if rule.startswith(STRICT)]):
        out.wrong.append(f"a whole-part formula passes {passed}")
    compare_figures(report, strict, out)
    if problem.basis == "bottle":
        neat = {name: amount for name, amount in neat_parts(problem.palette, "bottle", parts).items() if amount > 0}
        ours = report["formula"]["neat"]
        if set(ours) != set(neat) or any(abs(ours[name] - neat[name]) > SAME * 1000 for name in neat):
            out.wrong.append("the neat amounts differ")
    return parts, strict


def neighbours(problem: Problem, parts: dict[str, Fraction], seed: str, most: int = 250):
    """Formulas one exchange away: some of one material's dose given to another."""
    rng = random.Random(seed)
    names = [name for name, rule in problem.doses.items() if not rule.forbidden_by]
    for _ in range(most):
        giver, taker = rng.choice(sorted(parts)), rng.choice(names)
        step = max(problem.doses[n].step or Fraction(1, 1000) for n in (giver, taker))
        amount = parts[giver] if rng.random() < 0.15 else step * rng.choice([1, 1, 2, 5, 20])
        if giver == taker or amount > parts[giver]:
            continue
        moved = {**parts, giver: parts[giver] - amount, taker: parts.get(taker, Fraction(0)) + amount}
        yield {name: dose for name, dose in moved.items() if dose > 0}


def refute(problem: Problem, report: dict, formulas: dict[str, dict[str, Fraction]], out: Outcome) -> None:
    """No formula that keeps every rule exactly may lie below the bound, or exist where none shall be."""
    if report["status"] == "unknown" and any(not evaluate(problem, parts).broken for parts in formulas.values()):
        out.open.append("unknown, but there is a formula that keeps every rule")
    bound = None if report["formula"] is None else float(report["bound"])
    for source, parts in formulas.items():
        verdict = evaluate(problem, parts)
        if verdict.broken or verdict.loss is None:
            continue
        loss = float(verdict.loss)
        if report["status"] == "infeasible":
            out.wrong.append(f"infeasible, but {source} keeps every rule at loss {loss:.9g}")
            return
        if bound is not None and loss < bound - SAME * max(1.0, loss):
            out.wrong.append(f"bound {bound!r}, but {source} has loss {loss!r}")
            return


def dilutes(problem: Problem) -> bool:
    """Whether a carrier may take the whole formula but for a trace."""
    carriers = [c for c in usable_columns(problem) if problem.palette.materials[c.name].is_carrier]
    return problem.strength_min is None and any(c.high == TOTAL for c in carriers)


def compare_optimum(problem: Problem, report: dict, verdict: Verdict | None, answer: Answer, out: Outcome) -> None:
    """Statuses and losses; `refute` has already looked at the reference's formula."""
    ours, theirs = report["status"], answer.status
    if ours in ("feasible", "unknown"):
        loss, bound = (None if report[key] is None else float(report[key]) for key in ("loss", "bound"))
        out.open.append(f"stopped {ours} at {loss} (bound {bound})")
    if theirs == "unsettled":
        out.open.append(f"the reference is unsettled: {answer.note}")
    if ours == "infeasible" and theirs == "optimal" and (broken := evaluate(problem, answer.parts).broken):
        out.slips.append(f"the program calls it infeasible; the reference's formula breaks {broken} by a hair")
    if theirs == "infeasible" and verdict is not None:
        kept = "exactly" if not verdict.broken else f"but for a hair of {verdict.broken}"
        out.slips.append(f"the reference calls it infeasible; the program's formula keeps every rule {kept}")
    if theirs != "optimal" or verdict is None:
        return
    gap = float(verdict.loss - answer.verdict.loss) / max(1.0, float(verdict.loss))
    if ours == "optimal" and gap > NEAR:
        broken = evaluate(problem, answer.parts).broken
        if broken:
            out.slips.append(f"the reference is better by {gap:.3g}, with a hair of {broken}")
        else:
            ours_at, theirs_at = float(verdict.loss), float(answer.verdict.loss)
            out.wrong.append(f"optimal at {ours_at!r}, but the reference has {theirs_at!r}")
    if gap < -NEAR:
        hair = f", with a hair of {verdict.broken}" if verdict.broken else ""
        out.slips.append(f"the program is better by {-gap:.3g} of the loss{hair}")
    if answer.cheapest is not None and verdict.price is not None and ours == "optimal":
        dearer = float(verdict.price) - answer.cheapest
        if dearer > 1e-3 * max(1.0, answer.cheapest):
            # Without a least strength an uncapped carrier dilutes a tie without end: not an answer anybody wants.
            found = out.open if dilutes(problem) else out.wrong
            found.append(f"{float(verdict.price):.6f} per kg, a tie costs {answer.cheapest:.6f}")


def trial(task: tuple[Options, int]) -> Outcome:
    options, index = task
    seed = f"{options.seed}/{options.smallest}-{options.size}/{index}"
    folder = options.folder / seed.replace("/", "_")
    draw = make(seed, options.size, options.smallest, folder)
    brief = folder / "brief.toml"
    problem = read_problem(brief)
    out = Outcome(seed, draw.form, draw.kinds | {"match " + problem.match})
    out.sizes = f"{len(problem.palette.materials)} materials, {len(problem.aims)} descriptors"
    out.sizes += f", {draw.form}, {problem.basis}, {problem.match}"
    code, report, errors, out.took = run_program(options, brief)
    if report is None or report["status"] not in EXITS:
        out.ours = "refused"
        out.wrong.append(f"exit {code}: {errors.strip()[:600]}")
        return out
    out.ours = report["status"]
    if code != EXITS[out.ours]:
        out.wrong.append(f"exit {code} for {out.ours}")
    formulas, verdict = {"the witness": draw.witness}, None
    if report["formula"] is not None:
        parts, verdict = judge_formula(problem, report, out)
        for k, moved in enumerate(neighbours(problem, parts, seed)):
            formulas[f"neighbour {k}"] = moved
        if report["bound"] > verdict.loss + Fraction(SAME) * max(1, verdict.loss):
            out.wrong.append(f"bound {float(report['bound'])!r} above its own loss")
        proven = verdict.loss - report["bound"] <= Fraction(1, 10**6) * max(1, verdict.loss) * (1 + Fraction(SAME))
        if proven != (out.ours == "optimal"):
            out.wrong.append(f"{out.ours} with loss {float(verdict.loss)!r} and bound {float(report['bound'])!r}")
    with quiet_output():
        answer = solve(problem, options.seconds)
    out.theirs = answer.status
    if answer.parts is not None:
        formulas["the reference's formula"] = answer.parts
    refute(problem, report, formulas, out)
    compare_optimum(problem, report, verdict, answer, out)
    return out


def print_outcome(out: Outcome, options: Options) -> None:
    for label, lines in (("WRONG", out.wrong), ("slip", out.slips), ("open", out.open)):
        for line in lines:
            print(f"{label:5}  seed {out.seed} ({out.sizes}; {out.took:.2f} s): {line}", flush=True)
    if out.took > options.slow:
        print(f"slow   seed {out.seed} ({out.sizes}): {out.took:.2f} s, {out.ours}", flush=True)


def keep(out: Outcome, options: Options, target: Path | None) -> None:
    """Copies the files of a notable seed and removes the temporary ones."""
    folder = options.folder / out.seed.replace("/", "_")
    kinds = [("wrong", out.wrong), ("slip", out.slips), ("open", out.open), ("slow", out.took > options.slow)]
    for label, notable in kinds:
        if target is not None and notable:
            shutil.copytree(folder, target / label / folder.name, dirs_exist_ok=True)
    shutil.rmtree(folder)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=200, help="scenarios")
    parser.add_argument("--first", type=int, default=0, help="index of the first scenario")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--size", type=int, default=12, help="materials at the most, up to 200")
    parser.add_argument("--smallest", type=int, default=4, help="materials at the least")
    parser.add_argument("--jobs", type=int, default=1, help="scenarios at one time; more than one blurs the timings")
    seconds = "for the program, and for each integer programme of the reference"
    parser.add_argument("--seconds", type=float, default=20, help=seconds)
    parser.add_argument("--slow", type=float, default=2, help="report the program's runs that take longer")
    parser.add_argument("--keep", type=Path, help="a folder for the files of all notable seeds")
    parser.add_argument("--program", type=Path, default=ROOT / "target/release/permil")
    args = parser.parse_args()
    if not 4 <= args.smallest <= args.size <= 200:
        parser.error("4 <= smallest <= size <= 200")
    tally: Counter[tuple[str, str, str]] = Counter()
    kinds: Counter[str] = Counter()
    notable: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder, Pool(args.jobs, maxtasksperchild=50) as pool:
        options = Options(args.seed, args.size, args.smallest, args.program, Path(folder), args.seconds, args.slow)
        tasks = [(options, index) for index in range(args.first, args.first + args.count)]
        for out in pool.imap(trial, tasks):
            print_outcome(out, options)
            keep(out, options, args.keep)
            tally[out.form, out.ours, out.theirs] += 1
            kinds.update(out.kinds)
            found = {"wrong": out.wrong, "slips": out.slips, "open": out.open, "slow": out.took > options.slow}
            notable.update(name for name, lines in found.items() if lines)
    print("\nform, program, reference:")
    for key, count in sorted(tally.items()):
        print(f"{count:5}  {', '.join(key)}")
    print("with: " + ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items())))
    counts = f"{notable['wrong']} wrong, {notable['slips']} slips of the reference"
    print(f"{args.count} scenarios: {counts}, {notable['open']} open, {notable['slow']} slow")
    sys.exit(1 if notable["wrong"] else 0)


if __name__ == "__main__":
    main()
