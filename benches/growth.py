#!/usr/bin/env python3
"""How the time of every command grows with the shelf: 45, 300, 1000 and 3000 materials.

    cargo build --release && python3 benches/growth.py
    python3 benches/growth.py --sizes 45,300 --only propose,leeway --program target/debug/permil

Shelves and briefs are random and seeded: strengths log-uniform over three decades, four smells a material, prices,
tenacities; descriptors grow from 20 to 146 as shelves do. Briefs are of continuous doses, so that what is timed is no
proof in whole parts. Prints the computing time of whole processes (user and system, of all threads: a machine that does
other work changes it little) in seconds, best of some runs, and the exponent with which it grows with the numbers of the
palette (materials times descriptors) between one size and the next above 0.05 s. `start` is an empty run: it is taken off
before the exponent is told.
"""

from __future__ import annotations

import argparse
import math
import os
import random
import subprocess
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
DESCRIPTORS = {45: 16, 300: 40, 1000: 80, 3000: 146}
TOLD = 0.05  # s: what takes less says nothing of growth
NOTES = ["opening", "heart", "drydown"]


def write(folder: Path, materials: int, seed: int) -> None:
    draw = random.Random(f"{seed}/{materials}")
    words = [f"d{at}" for at in range(DESCRIPTORS.get(materials, 40))]
    palette = ["[descriptors]"] + [f'{word} = "made up"' for word in words]
    shelf = []
    for at in range(materials):
        smells = draw.sample(words, 4)
        shelf.append({word: draw.randint(1, 10) for word in smells})
        palette += ["[[material]]", f'name = "M{at}"', f"strength = {10 ** draw.uniform(0.7, 3.3):.4g}"]
        palette += ["scores = { " + ", ".join(f"{word} = {score}" for word, score in shelf[-1].items()) + " }"]
        palette += [f"price = {draw.randint(5, 500)}", f'note = "{draw.choice(NOTES)}"', f"lasting = {draw.randint(1, 300)}"]
    blend = draw.sample(range(materials), 8)
    target = {word: sum(shelf[at].get(word, 0) for at in blend) / 4 for word in words}
    wanted = "\n".join(f"{word} = {min(10, score):.1f}" for word, score in target.items() if score > 0)
    brief = f'palette = "palette.toml"\n[target]\n{wanted}\n[formula]\nstrength = {{ min = 10 }}\n[budget]\nmax_price = 200\n'
    parts = "\n".join(f'"M{at}" = 125' for at in blend)
    formula = f'palette = "palette.toml"\n[parts]\n{parts}\n'
    trials = ['palette = "palette.toml"']
    for code in range(6):
        mod = draw.sample(blend, 5)
        said = ", ".join(f"{word} = {min(10, target[word] + draw.random()):.1f}" for word in list(target)[:6])
        trials += ["[[trial]]", f'code = "t{code}"', "parts = { " + ", ".join(f"M{at} = 200" for at in mod) + " }"]
        trials += [f"scores = {{ {said} }}"]
    matches = ['reference = "M0"']
    for at in draw.sample(range(1, materials), min(30, materials - 1)):
        matches += ["[[equal]]", f'a = {{ material = "M{at}", percent = {draw.randint(1, 100) / 10} }}', 'b = { material = "M0", percent = 5 }']
    for name, text in (("palette", "\n".join(palette)), ("brief", brief), ("mod", formula), ("trials", "\n".join(trials)), ("matches", "\n".join(matches))):
        (folder / f"{name}.toml").write_text(text + "\n", encoding="utf-8")


COMMANDS = {
    "start": ["--version"],
    "shelf": ["shelf", "palette.toml"],
    "check": ["check", "brief.toml"],
    "propose": ["propose", "brief.toml", "--no-worth"],
    "propose, reasons": ["propose", "brief.toml"],
    "starts": ["starts", "brief.toml"],
    "compare": ["compare", "brief.toml", "mod.toml"],
    "strip": ["strip", "mod.toml", "--brief", "brief.toml"],
    "doubt": ["doubt", "brief.toml", "mod.toml"],
    "leeway": ["leeway", "brief.toml"],
    "tradeoff": ["tradeoff", "brief.toml"],
    "push": ["push", "brief.toml", "M1"],
    "adjust": ["adjust", "brief.toml", "mod.toml"],
    "replace": ["replace", "brief.toml", "mod.toml"],
    "strengths": ["strengths", "palette.toml", "matches.toml"],
    "learn": ["learn", "trials.toml"],
    "journal": ["journal", "trials.toml"],
    "next": ["next", "brief.toml", "trials.toml"],
    "weigh": ["weigh", "--balance", "0.01", "--batch", "10", "mod.toml"],
    "export": ["export", "palette.toml", "--save", "shelf.csv"],
    "import": ["import", "shelf.csv", "--save", "again.toml"],
    "report": ["report", "brief.toml", "--save", "report.html"],
}
NO_FORMAT = {"start", "export", "import", "report"}
UNLIMITED = {"shelf", "compare", "strip", "learn", "strengths", "journal", "weigh"}


def once(program: str, folder: Path, name: str, seconds: float) -> tuple[float, float, int]:
    """Computing time and wall time in seconds, and the exit status."""
    more = [] if name in NO_FORMAT else ["--format", "json", "--quiet"]
    if name not in NO_FORMAT | UNLIMITED:
        more += ["--time-limit", str(seconds)]
    for left in ("again.toml", "report.html") + (("shelf.csv",) if name == "export" else ()):
        (folder / left).unlink(missing_ok=True)
    before, start = os.times(), time.monotonic()
    ran = subprocess.run([program, *COMMANDS[name], *more], cwd=folder, capture_output=True, check=False)
    after, took = os.times(), time.monotonic() - start
    if ran.returncode == 2:
        raise SystemExit(f"{name}: {ran.stderr.decode()[:600]}")
    used = (after.children_user - before.children_user) + (after.children_system - before.children_system)
    return used, took, ran.returncode


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--program", default=str(ROOT / "target/release/permil"))
    parser.add_argument("--sizes", default="45,300,1000,3000")
    parser.add_argument("--only", default=",".join(COMMANDS).replace("propose, reasons", "propose; reasons"))
    parser.add_argument("--runs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=60.0, help="time limit that the commands are given")
    options = parser.parse_args()
    program = str(Path(options.program).resolve())
    sizes = [int(size) for size in options.sizes.split(",")]
    names = [name.replace(";", ",") for name in options.only.split(",")]
    with tempfile.TemporaryDirectory() as at:
        for size in sizes:
            (Path(at) / str(size)).mkdir()
            write(Path(at) / str(size), size, options.seed)
        idle = min(once(program, Path(at) / str(sizes[0]), "start", options.seconds)[0] for _ in range(3))
        numbers = [size * DESCRIPTORS.get(size, 40) for size in sizes]
        print(f"start {idle:.3f} s; computing time in s, wall time in brackets")
        print(f"{'command':18}" + "".join(f"{size:>17}" for size in sizes) + "   exponent from size to size")
        for name in names:
            if name == "start":
                continue
            times, cells = [], []
            for size in sizes:
                runs = [once(program, Path(at) / str(size), name, options.seconds) for _ in range(options.runs)]
                used, wall = min(run[0] for run in runs), min(run[1] for run in runs)
                times.append(max(used - idle, 1e-4))
                cells.append(f"{used:8.3f} ({wall:.2f})" + ("" if runs[0][2] in (0, 1) else f"!{runs[0][2]}"))
            grown = []
            for (before, after), (few, many) in zip(zip(times, times[1:]), zip(numbers, numbers[1:])):
                grown.append("-" if after < TOLD else f"{math.log(after / before) / math.log(many / few):.2f}")
            print(f"{name:18}" + "".join(f"{cell:>17}" for cell in cells) + "   " + ", ".join(grown), flush=True)


if __name__ == "__main__":
    main()
