//! Idle weight in linear rows.
//!
//! Which materials are idle hangs on the strength of the formula alone
//! ([`crate::problem::idle`]). Let `s_1 < s_2 < ...` be the different strengths of
//! the materials and `S` the strength of the formula, its mean over 1000 parts. A
//! formula stands on rung `k` where the materials of the first `k` strengths are
//! idle: `10 s_k < S <= 10 s_(k+1)`. The rule then says that their neat parts are
//! at most so many. So of the formulas that keep the rule, those on rungs `lo` to
//! `hi` keep three rows,
//!
//! - the strength is at least `10 s_lo`,
//! - the strength is at most `10 s_(hi+1)`,
//! - the materials of the first `lo` strengths are at most so many parts,
//!
//! and where `lo = hi` whatever keeps these rows keeps the rule, but for the very
//! edge of the first one, on which fewer materials are idle. The rule is the union
//! of its rungs, and a union of some of them is relaxed by three rows.

use super::blend::{Blend, BlendRow};
use crate::problem::idle::HEARD;
use crate::problem::{Problem, RuleKind};
use crate::tolerance::rules::{IDLE, IDLE_EDGE};

/// The rungs of a rule on idle weight.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// Index of the rule in the problem.
    pub rule: usize,
    /// Greatest idle weight, in ppt.
    pub most: f64,
    /// What one ppt of each column adds to the strength of the formula.
    pub strength: Vec<f64>,
    /// What lies between a rung and the next one, from below.
    pub steps: Vec<Step>,
}

/// Where one rung ends and the next begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Strength of the formula above which the materials below it are idle.
    pub strength: f64,
    /// (column, neat parts of those materials in one ppt), nonzero entries only.
    pub weight: Vec<(usize, f64)>,
}

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

    /// The highest rung; the lowest is 0.
    pub fn top(&self) -> usize {
        self.steps.len()
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

    /// The rung on which doses in ppt stand, and their idle weight. On the edge of
    /// two rungs it is the lower one.
    pub fn rung(&self, ppt: &[f64]) -> (usize, f64) {
        let strength: f64 = self.strength.iter().zip(ppt).map(|(strength, ppt)| strength * ppt).sum();
        let rung = self.steps.iter().take_while(|step| step.strength * (1.0 + IDLE_EDGE) < strength).count();
        (rung, self.weight_below(rung, ppt))
    }

    /// Where some rungs, more than one, are split: the last of the first half. A
    /// point of the rows of all of them that breaks the rule is in neither half;
    /// the rung of one that keeps it is cut out.
    pub fn split(&self, (lo, hi): (usize, usize), ppt: Option<&[f64]>) -> usize {
        let Some(ppt) = ppt else { return lo.midpoint(hi) };
        let rung = self.rung(ppt).0.clamp(lo, hi);
        let is_kept = self.weight_below(rung, ppt) <= self.most * (1.0 + IDLE_EDGE);
        if is_kept && rung < hi { rung } else { rung.max(lo + 1) - 1 }
    }

    /// The neat parts of what is idle on a rung.
    pub fn weight_below(&self, rung: usize, ppt: &[f64]) -> f64 {
        let step = rung.checked_sub(1).and_then(|below| self.steps.get(below));
        step.map_or(0.0, |step| step.weight.iter().map(|&(k, part)| part * ppt[k]).sum())
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
