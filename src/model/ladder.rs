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
//!
//! `rungs` makes them of a problem.

use crate::tolerance::rules::IDLE_EDGE;

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
    /// The highest rung; the lowest is 0.
    pub fn top(&self) -> usize {
        self.steps.len()
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
