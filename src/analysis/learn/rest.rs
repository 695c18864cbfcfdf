//! What an analysis leaves open of a natural that was smelled: the parts that the
//! shelf lacks, and what nobody identified.
//!
//! # The model
//!
//! Let `h` be the odour share of this rest. What the natural smells of is
//!
//! `y_d = (1 - h) p_d + h q_d + e_d`
//!
//! with `p` the blend of the known parts, `q` what the rest smells of, and `e` the
//! trial's own error of deviation `s`. Nothing is known of the rest but that it is
//! part of the same smell: `q_d` is `y_d` give or take `v`, a quarter of the scale.
//! (On the shelf of profiles/rose-otto the scores of the materials lie 2.2 points of
//! 10 from those of the oil, root mean square over all descriptors, and 2.6 over
//! those that the oil has.) Solved for `p_d`, with the odds `o = h / (1 - h)`:
//!
//! `p_d = y_d + o (y_d - q_d) - (1 + o) e_d`
//!
//! The odds are the rest's odour, strength times mass, over that of the known parts
//! by the palette's own numbers. Of a part whose strength the composition tells that
//! counts; all else is as strong per part as everything with a strength is on
//! average, give or take [`REST_FACTOR`], log-normal. With `o0` the median and `t` the deviation of its
//! logarithm the mean odds are `o0 exp(t²/2)`, their mean square `o0² exp(2 t²)`,
//! so that the error of a score is
//!
//! `sqrt(s² E[(1 + o)²] + v² E[o²])`, with `E[(1 + o)²] = 1 + 2 E[o] + E[o²]`
//!
//! It is `s` where nothing is left open and grows without bound as the rest
//! becomes everything. Errors count as independent of each other, and the odds as
//! fixed while scores and strengths are fitted.
//!
//! A strength that was judged is that of all of it. With the known parts alone it
//! would be less by a factor of `1 + o`; since `0 <= ln(1 + o) <= o` that adds at
//! most `E[o²]` to the variance of its logarithm.

use super::JUDGED_STRENGTH_FACTOR;
use crate::palette::Palette;
use crate::portable::Portable;
use crate::trials::Analysed;

/// One standard deviation of what the rest smells of, as a part of the scale.
pub const REST_SCORE_PART: f64 = 0.25;
/// One standard deviation of the rest's strength beside the known parts', as a
/// factor.
pub const REST_FACTOR: f64 = 3.0;

/// How much of a natural's odour an analysis leaves open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rest {
    /// Median of the odds of the rest's odour: that over the known parts'.
    pub odds: f64,
    /// Part of the mass that is known and on the shelf, 0 to 1.
    pub known: f64,
}

impl Rest {
    /// Of a composition that was smelled. Without a known part that smells the odds
    /// are infinite.
    pub fn of(palette: &Palette, analysed: &Analysed) -> Rest {
        let per_percent = analysed.per_percent();
        let (mut known, mut odour, mut told, mut told_percent) = (0.0, 0.0, 0.0, 0.0);
        for part in &analysed.composition.parts {
            let percent = part.percent * per_percent;
            match (part.material, part.strength) {
                (Some(material), _) => {
                    known += percent;
                    odour += percent * palette.materials[material].strength;
                }
                (None, Some(strength)) => {
                    told_percent += percent;
                    told += percent * strength;
                }
                (None, None) => {}
            }
        }
        // What is known to smell of nothing counts, on the shelf or not.
        let per_part = (odour + told) / (known + told_percent);
        let open = 100.0 - known - told_percent;
        let odds = if odour > 0.0 { (told + open.max(0.0) * per_part) / odour } else { f64::INFINITY };
        Rest { odds, known: known / 100.0 }
    }

    /// Mean of the odds.
    fn mean(&self) -> f64 {
        self.odds * (0.5 * REST_FACTOR.logarithm().powi(2)).exponential()
    }

    /// Mean square of the odds.
    fn square(&self) -> f64 {
        self.odds.powi(2) * (2.0 * REST_FACTOR.logarithm().powi(2)).exponential()
    }

    /// One standard deviation of a judged score about the known parts' blend, in
    /// points, where that of the judgement alone is `own`.
    pub fn score_error(&self, own: f64, scale: f64) -> f64 {
        let both = 1.0 + 2.0 * self.mean() + self.square();
        (own.powi(2) * both + (REST_SCORE_PART * scale).powi(2) * self.square()).sqrt()
    }

    /// The same of the logarithm of a judged strength.
    pub fn strength_error(&self) -> f64 {
        (JUDGED_STRENGTH_FACTOR.logarithm().powi(2) + self.square()).sqrt()
    }
}
