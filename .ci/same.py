#!/usr/bin/env python3
"""Whether two builds of the program give the same bytes.

usage: same.py PROGRAM OTHER [--under RUNNER]

Runs both on every brief of the references and of the shipped scenarios, each with a folder of
its own, and compares exit status, output and every file that was written. RUNNER (wine, say)
runs OTHER. Searches that a clock would cut are given all the time that they need; a case that
takes too long is named below. Ends with 1 where anything differs, and prints where first.
"""

import argparse
import hashlib
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

ROOT = pathlib.Path(__file__).resolve().parent.parent
# Takes minutes to prove: arithmetic is compared here, not patience.
LONG = {"15-count-alone"}


def briefs(root: pathlib.Path) -> list[str]:
    found = sorted((root / "cases").glob("*/brief.toml")) + sorted((root / "profiles").glob("*/brief.toml"))
    found += [root / "profiles/rose-otto/stages.toml"]
    return [path.relative_to(root).as_posix() for path in found if path.parent.name not in LONG and path.is_file()]


def commands(brief: str, at: int) -> list[list[str]]:
    out = f"out/{at}"
    search = ["--no-worth", "--time-limit", "600"]
    commands = [["propose", brief, *search], ["propose", brief, *search, "--format", "json", "--quiet"]]
    if brief.startswith("profiles/"):
        # What a person keeps: a formula, a sheet to weigh from, a report, drawings.
        formula, palette = f"{out}-formula.toml", f"{pathlib.PurePosixPath(brief).parent}/palette.toml"
        commands += [
            ["check", brief],
            ["propose", brief, *search, "--quiet", "--save", formula],
            ["propose", brief, *search, "--quiet", "--plot", f"{out}-target.svg"],
            ["propose", brief, *search, "--quiet", "--plot", f"{out}-share.png", "--chart", "contributions"],
            ["doubt", brief, formula],
            ["weigh", formula, "--batch", "10", "--balance", "0.001"],
            ["export", palette, "--save", f"{out}-palette.csv"],
            ["report", brief, "--formula", formula, "--save", f"{out}-report.html", "--time-limit", "600", "--quiet"],
        ]
    return commands


def run(program: list[str], folder: pathlib.Path, arguments: list[str]) -> tuple[int, bytes, bytes]:
    # A locale and a time zone of neither machine; what a clock would print is given.
    told = {"LC_ALL": "de_DE.UTF-8", "TZ": "Pacific/Chatham", "SOURCE_DATE_EPOCH": "1700000000", "WINEDEBUG": "-all", "COLUMNS": "80"}
    done = subprocess.run(program + arguments, cwd=folder, capture_output=True, check=False, env={**os.environ, **told})
    return done.returncode, done.stdout, done.stderr


def digest(path: pathlib.Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("other")
    parser.add_argument("--under")
    options = parser.parse_args()
    one = [os.path.abspath(options.program)]
    other = ([options.under] if options.under else []) + [os.path.abspath(options.other)]
    with tempfile.TemporaryDirectory() as at:
        folders = [pathlib.Path(at) / "one", pathlib.Path(at) / "two"]
        for folder in folders:
            shutil.copytree(ROOT / "profiles", folder / "profiles")
            shutil.copytree(ROOT / "tests/reference/cases", folder / "cases")
            (folder / "out").mkdir()
        asked = [ask for at, brief in enumerate(briefs(folders[0])) for ask in commands(brief, at)]
        apart = []
        with ThreadPoolExecutor(2) as pool:
            for ask in asked:
                jobs = [pool.submit(run, program, folder, ask) for program, folder in zip((one, other), folders)]
                told = [job.result() for job in jobs]
                for what, ours, theirs in zip(("exit status", "output", "messages"), *told):
                    if ours != theirs:
                        apart.append(f"{' '.join(ask)}: {what}\n{first(ours, theirs)}")
        wrote = [sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()) for folder in folders]
        if wrote[0] != wrote[1]:
            apart.append(f"other files: {sorted(set(wrote[0]) ^ set(wrote[1]))}")
        for name in sorted(set(wrote[0]) & set(wrote[1])):
            if digest(folders[0] / name) != digest(folders[1] / name):
                apart.append(f"{name}: content\n{first((folders[0] / name).read_bytes(), (folders[1] / name).read_bytes())}")
        kept = sum(name.startswith("out/") for name in wrote[0])
    print("\n".join(apart))
    print(f"{len(asked)} commands, {kept} files: {len(apart)} differ")
    sys.exit(bool(apart))


def first(ours: object, theirs: object) -> str:
    """The first line in which they differ."""
    if not (isinstance(ours, bytes) and isinstance(theirs, bytes)):
        return f"  {ours}\n  {theirs}"
    pairs = zip(ours.split(b"\n") + [b""], theirs.split(b"\n") + [b""])
    for left, right in pairs:
        if left != right:
            return f"  {left[:300]!r}\n  {right[:300]!r}"
    return "  one is longer"


main()
