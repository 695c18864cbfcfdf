#!/usr/bin/env python3
"""Write the made-up scenarios below tests/reference/cases, the same ones on every run.

Which case uses what:
  01 continuous, balance, no rule at all (with price: the cheapest tie)
  02 continuous, level; max of palette and of [doses], strength min and max, budget, group by tag
  03 continuous; weight, weight 0, excess, off_note_weight, target min and max, price of effect
  04 continuous, bottle; second bottles, a bottle's carrier with and without a palette entry, fixed, ratio, must with min
  05 whole parts, min_dose, max_materials, a material without a price that may not be used
  06 steps 1, 0.5, 0.1 and 0.01, a min off its step, min and step precedence, groups by tag and by materials
  07 limits (a string): several categories, "*", "none", all / added / constituents, accord_share, isomers summed
  08 limits (a list), level; joint, reserve; continuous
  09 two products: max_in_concentrate, max_in_product, limits and joint for each; whole parts
  10 only, own_only, must, never; steps of 2 and 1; no prices at all
  11 target_from a natural, entry without score, step 0.5, carrier named in [doses], strength max
  12 target_from a formula (bottle basis), level, steps and count
  13 bottle, whole parts; carriers' CAS and palette max, carrier's group, count, product limits
  14 limit 0 with added and with all; one category and "*"; a group's min
  15 count alone, doses continuous; ratios both ways
  16 min_dose without steps, one stepped material among continuous ones; price of effect
  17 infeasible, continuous: the budget against strength min
  18 infeasible, whole parts: a restriction against a group's min
  19 infeasible, whole parts: a fixed dose that no steps complete
  20 infeasible, whole parts: caps and a count that cannot fill 1000
  21 infeasible at once: a must that `only` leaves out
  22 level, bottle, several uses, everything together
  23 unusual doses counted: at most one, in steps; both keys, a carrier's own
  24 unusual doses counted in basis bottle, level; a bottle of 30 %, a fixed dose that is unusual
  25 unusual doses counted, continuous: none may be; a count besides
  26 idle weight, continuous, a carrier; 27 in whole parts, level, a count; 28 by the bottle, whole parts
  41 near an analysis: percent with a rest, by name and by CAS number, parts that the shelf lacks; continuous, level
  42 near a formula with a carrier in it; steps, count, balance
  43 near by parts, with an unknown rest and a foreign solvent; bottle, whole parts
  44 infeasible, continuous: near what the doses leave out
  51 two stages, whole parts: strength, kept and share of a stage, both ways; a stage's own target
  52 three stages, level, steps: a dip at which lasting was not noted, weights, a carrier that dries; target keys by stage
  53 a stage at minute 0 and one later, continuous: pressures, notes and the shelf in the place of lasting; a budget
  54 two stages, basis bottle: carriers on the paper, a film weight, a share that is not easily kept
  55 two noses, the worst, continuous: a material that the second lacks, one that it does not smell; a floor
  56 three noses, the worst, whole parts: a target taken from a material, as each smells it
  57 the mean of three noses, whole parts; 58 one nose of two, rules included
  59 both laws, 60 the compressive one (level, a ceiling, a carrier), 61 both laws and two noses: every formula is listed
  62 two stages and two noses, whole parts
  63 infeasible, whole parts: no film lasts; 64 infeasible, continuous: what has to be kept against a group
"""

from __future__ import annotations

import shutil
from pathlib import Path

import cases_impossible  # noqa: F401  (its scenarios enter CASES)
import cases_solvable  # noqa: F401
import cases_views  # noqa: F401
from scenario import CASES, Scenario, toml

SEED = 20261125
HERE = Path(__file__).parent


def main() -> None:
    target = HERE / "cases"
    shutil.rmtree(target, ignore_errors=True)
    for name, make in CASES:
        scenario = Scenario(name, SEED)
        make(scenario)
        folder = target / name
        folder.mkdir(parents=True)
        files = {"palette.toml": scenario.palette, "brief.toml": scenario.brief, **scenario.files, **scenario.formulas}
        for file, document in files.items():
            (folder / file).write_text(toml(document), encoding="utf-8")
    print(f"{len(CASES)} cases written")


if __name__ == "__main__":
    main()
