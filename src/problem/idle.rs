//! Idle weight: what of a formula fills the bottle and is not heard.
//!
//! A material is idle in a formula where its share of the odour is less than a
//! tenth of its share of the weight. With strengths `s` and doses `x` in ppt of
//! neat material, and `S = sum s x`, its share of the odour is `s_i x_i / S` and
//! its share of the weight `x_i / 1000`; so it is idle where
//! `s_i < S / 10 000`, be its dose large or small: where it is less than a tenth
//! as strong as the formula as a whole. A share of just a tenth is not idle. The
//! weight is that of the whole formula, solvents in it; carriers themselves are
//! no idle weight, since nobody expects to smell them. The tenth is the project's
//! own choice.
//!
//! Which materials are idle hangs on the strength of the formula alone. Sorted by
//! strength they are a ladder: on each rung the idle ones are those below it
//! (`model::ladder` makes rows of that).

use num_traits::Zero;

use super::{Problem, exact};
use crate::formula::Formula;
use crate::tolerance::rules::{IDLE_EDGE, SEARCHED};

/// A material is idle where its share of the odour is below this part of its
/// share of the weight.
pub const HEARD: f64 = 0.1;
/// More idle weight than this, in ppt, is told: a quarter of the formula.
pub const TOLD_PPT: f64 = 250.0;

/// What of a formula is idle.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Idle {
    /// The idle materials, the most of them by weight first.
    pub materials: Vec<usize>,
    /// Parts of neat material that they are, in 1000 of the formula.
    pub ppt: f64,
    /// Percent of the odour that they bring.
    pub share_percent: f64,
}

impl Idle {
    /// What of a formula is idle; `None` where it has no odour.
    pub fn of(problem: &Problem, formula: &Formula) -> Option<Idle> {
        Idle::new(problem, formula, &problem.neat_ppt(formula), problem.is_whole_part())
    }

    /// The same of a formula whose neat amounts are known. Where `is_exact`, exact
    /// fractions decide what the last bit of a sum must not; else a material at
    /// the edge is not idle.
    pub(crate) fn new(problem: &Problem, formula: &Formula, neat_ppt: &[f64], is_exact: bool) -> Option<Idle> {
        let materials = &problem.palette.materials;
        let odour: f64 = materials.iter().zip(neat_ppt).map(|(material, ppt)| material.strength * ppt).sum();
        let weight = formula.sum().as_f64();
        if odour <= 0.0 {
            return None;
        }
        // Strength below which a material is idle.
        let edge = HEARD * odour / weight;
        let is_idle = |strength: f64| {
            if (strength - edge).abs() > IDLE_EDGE.max(SEARCHED) * edge {
                return strength < edge;
            }
            is_exact && is_below(problem, formula, strength)
        };
        let used = (0..materials.len()).filter(|&m| neat_ppt[m] > 0.0 && !materials[m].is_carrier());
        let mut idle: Vec<usize> = used.filter(|&m| is_idle(materials[m].strength)).collect();
        idle.sort_by(|&a, &b| neat_ppt[b].total_cmp(&neat_ppt[a]).then(a.cmp(&b)));
        let ppt: f64 = idle.iter().map(|&m| neat_ppt[m]).sum();
        let heard: f64 = idle.iter().map(|&m| neat_ppt[m] * materials[m].strength).sum();
        Some(Idle { materials: idle, ppt: 1000.0 * ppt / weight, share_percent: 100.0 * heard / odour })
    }

    /// Whether there is so much of it that a report says more of it.
    pub fn is_told(&self) -> bool {
        self.ppt > TOLD_PPT
    }
}

/// Whether a strength is below the edge, in exact fractions of the decimals that
/// the files say.
fn is_below(problem: &Problem, formula: &Formula, strength: f64) -> bool {
    let odour = problem
        .exact_neat(formula)
        .into_iter()
        .map(|(material, ppt)| exact::decimal(problem.material(material).strength) * ppt);
    let odour = odour.fold(num_rational::BigRational::zero(), |sum, term| sum + term);
    exact::decimal(strength) * exact::dose(formula.sum()) < exact::decimal(HEARD) * odour
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tenth_is_a_decimal() {
        assert_eq!(exact::decimal(HEARD).recip(), exact::decimal(10.0));
    }
}
