#!/usr/bin/env python3
"""Many briefs in one run: a thousand of 40 materials and 20 descriptors, ten materials at most, whole parts.

    cargo build --release && python3 benches/many.py --count 1000

Every brief has a shelf of its own, random and seeded. Prints the wall time of the whole run, how many are proven,
and whether the lines are those of one thread and of a run that was cut in the middle and resumed.
"""

import argparse
import json
import pathlib
import random
import subprocess
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
MATERIALS, DESCRIPTORS = 40, 20


def write(folder: pathlib.Path, seed: int) -> None:
    """One shelf and one brief: strengths over three decades, four smells for each material."""
    draw = random.Random(seed)
    words = [f"d{at}" for at in range(DESCRIPTORS)]
    palette = ["[descriptors]"] + [f'{word} = ""' for word in words]
    for at in range(MATERIALS):
        scores = {word: draw.randint(1, 10) for word in draw.sample(words, 4)}
        palette += ["[[material]]", f'name = "M{at}"', f"strength = {10 ** draw.uniform(0.7, 3.3):.4g}"]
        palette += ["scores = { " + ", ".join(f"{word} = {score}" for word, score in scores.items()) + " }"]
        palette += [f"price = {draw.randint(5, 500)}"]
    target = "\n".join(f"{word} = {draw.randint(0, 8)}" for word in words)
    brief = f'palette = "palette-{seed}.toml"\n[target]\n{target}\n[formula]\nstep = 1\nmin_dose = 2\nmax_materials = 10\n'
    (folder / f"palette-{seed}.toml").write_text("\n".join(palette) + "\n")
    (folder / f"brief-{seed:05}.toml").write_text(brief)


def run(program: str, folder: pathlib.Path, *more: str) -> tuple[bytes, float]:
    command = [program, "propose", str(folder), "--format", "jsonl", "--no-worth", "--quiet", *more]
    start = time.monotonic()
    done = subprocess.run(command, capture_output=True, check=False)
    return done.stdout, time.monotonic() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--program", default=str(ROOT / "target/release/permil"))
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as at:
        folder = pathlib.Path(at)
        for seed in range(options.seed, options.seed + options.count):
            write(folder, seed)
        whole, took = run(options.program, folder)
        lines = [json.loads(line) for line in whole.splitlines()]
        proven = sum(line["status"] == "optimal" for line in lines)
        print(f"{len(lines)} briefs, {proven} proven, {took:.1f} s on all cores")
        alone, took = run(options.program, folder, "--threads", "1")
        print(f"one thread: {took:.1f} s, {'the same lines' if alone == whole else 'OTHER LINES'}")
        kept = folder / "kept.jsonl"
        kept.write_bytes(whole[: len(whole) // 2])
        _, took = run(options.program, folder, "--resume", str(kept))
        print(f"the second half: {took:.1f} s, {'the same file' if kept.read_bytes() == whole else 'ANOTHER FILE'}")


if __name__ == "__main__":
    main()
