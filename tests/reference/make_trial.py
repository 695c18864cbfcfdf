#!/usr/bin/env python3
"""Write seeded briefs below tests/reference/trial, and their optima to trial.json: the fast part of benches/trial.py.

    python3 make_trial.py

Random shelves of 4 to 10 materials with every kind of rule (benches/trial_briefs.py), so many for each way to
match, each basis, and for briefs with and without an answer. Kept are those that the reference settles in time
and with room to spare: what hangs on a tolerance of its solver is the business of the long trial.
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent.parent / "benches"))

from trial_briefs import make  # noqa: E402

from evaluate import evaluate  # noqa: E402
from oracle import quiet_output  # noqa: E402
from resolve import read_problem  # noqa: E402
from solve import solve  # noqa: E402

SEED = "standing"
EACH = 5  # of each match, basis and outcome
SECONDS = 10


def main() -> None:
    target = HERE / "trial"
    shutil.rmtree(target, ignore_errors=True)
    found, counts, kinds = {}, Counter(), Counter()
    for index in range(2000):
        if len(counts) == 8 and min(counts.values()) >= EACH:
            break
        with tempfile.TemporaryDirectory() as place:
            draw = make(f"{SEED}/{index}", 10, 4, Path(place) / "drawn")
            problem = read_problem(draw.folder / "brief.toml")
            with quiet_output():
                answer = solve(problem, SECONDS)
            key = (problem.match, problem.basis, answer.status)
            if answer.status not in ("optimal", "infeasible") or counts[key] >= EACH:
                continue
            # Neither a brief that only a tolerance makes possible nor one that it makes impossible.
            if answer.status == "optimal" and evaluate(problem, answer.parts).broken:
                continue
            if answer.status == "infeasible" and not evaluate(problem, draw.witness).broken:
                continue
            counts[key] += 1
            kinds.update(draw.kinds)
            name = f"{index:03}"
            shutil.copytree(draw.folder, target / name)
        loss = None if answer.verdict is None else float(answer.verdict.loss)
        found[name] = {"status": answer.status, "method": answer.method, "loss": loss}
        print(name, *key, draw.form, loss, flush=True)
    print("with: " + ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items())))
    (HERE / "trial.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
