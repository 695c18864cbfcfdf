//! The ladder of a problem, and the rows of a blend on some of its rungs.

use super::blend::{Blend, BlendRow};
use super::ladder::{Ladder, Step};
use crate::problem::idle::HEARD;
use crate::problem::{Problem, RuleKind};
use crate::tolerance::rules::IDLE;

impl Ladder {
    /// The ladder of a rule; `None` where no formula can break it.
    pub(super) fn new(blend: &Blend, problem: &Problem) -> Option<Ladder> {
        let is_rule = |rule: &crate::problem::Rule| rule.kind == RuleKind::MaxIdle;
        let rules = problem.rules.iter().enumerate().filter(|(_, rule)| is_rule(rule));
        let (rule, tightest) = rules.min_by(|a, b| a.1.at.total_cmp(&b.1.at))?;
        if tightest.at >= 1000.0 {
            return None;
        }
        let times = 1.0 / HEARD;
        let strength_of = |material: usize| problem.material(material).strength;
        let usable = |k: &usize| blend.columns[*k].most >= blend.columns[*k].least;
        let columns: Vec<usize> = (0..blend.columns.len()).filter(usable).collect();
        let content = |k: usize| problem.columns[blend.columns[k].material].neat.iter();
        // The different strengths of what can be in a formula, carriers apart.
        let mut strengths: Vec<f64> =
            columns.iter().flat_map(|&k| content(k)).map(|&(material, _)| strength_of(material)).collect();
        strengths.retain(|strength| *strength > 0.0);
        strengths.sort_by(f64::total_cmp);
        strengths.dedup();
        // No formula is stronger than its strongest material.
        let strongest = strengths.last().copied()?;
        let mut steps = Vec::new();
        for &below in strengths.iter().filter(|strength| **strength * times <= strongest) {
            let is_below = |material: usize| strength_of(material) > 0.0 && strength_of(material) <= below;
            let of = |k: usize| content(k).filter(|(material, _)| is_below(*material)).map(|(_, part)| part).sum();
            let weight: Vec<(usize, f64)> =
                columns.iter().map(|&k| (k, of(k))).filter(|(_, part)| *part > 0.0).collect();
            let greatest: f64 = weight.iter().map(|&(k, part)| part * blend.columns[k].most.as_f64()).sum();
            // A rung on which nothing can be too much belongs to the one below.
            if greatest.min(1000.0) > tightest.at * (1.0 - IDLE) {
                steps.push(Step { strength: below * times, weight });
            }
        }
        let strength = blend.columns.iter().map(|column| problem.strength_per_ppt(column.material)).collect();
        (!steps.is_empty()).then_some(Ladder { rule, most: tightest.at, strength, steps })
    }

    /// The rows that formulas on these rungs keep: the strength at most and at
    /// least, and the idle weight at most; `None` where there is no such row.
    pub fn rows(&self, (lo, hi): (usize, usize)) -> [Option<BlendRow>; 3] {
        let row = |coefficients: Vec<(usize, f64)>, upper: f64| BlendRow {
            rule: self.rule,
            coefficients,
            upper,
            ..BlendRow::default()
        };
        let strength = |sign: f64, at: f64| {
            let all = self.strength.iter().enumerate().map(|(k, strength)| (k, sign * strength));
            row(all.filter(|(_, a)| *a != 0.0).collect(), sign * at)
        };
        let below = lo.checked_sub(1).and_then(|below| self.steps.get(below));
        [
            self.steps.get(hi).map(|above| strength(1.0, above.strength)),
            below.map(|below| strength(-1.0, below.strength)),
            below.map(|below| row(below.weight.clone(), self.most)),
        ]
    }
}

impl Blend {
    /// The formulas on these rungs of the ladder, or all that keep their rows: a
    /// blend without a ladder.
    pub fn on_rungs(&self, rungs: (usize, usize)) -> Blend {
        let mut part = Blend { ladder: None, ..self.clone() };
        part.rows.extend(self.ladder.iter().flat_map(|ladder| ladder.rows(rungs)).flatten());
        part
    }
}
