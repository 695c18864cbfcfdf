//! The exponent of odour shares as one more unknown, between 0.3 and 1.
//!
//! Before the trials each exponent in that range is as likely as another: what speaks
//! for either end is in the crate's docs. At each of a row of exponents all other unknowns
//! are fitted, and what is left of their uncertainty is integrated out to first order
//! (Laplace's method: L. Tierney, J. B. Kadane, Journal of the American Statistical
//! Association 81, 1986). The estimate is the most likely exponent, its error the standard
//! deviation of what is then known of it.

use nalgebra::DMatrix;

use super::fit::{fit, predictions};
use super::model::Evidence;
use super::unknowns::Unknowns;
use crate::brief::Match;
use crate::control::Control;
use crate::palette::Palette;
use crate::pool::in_parallel;
use crate::portable::Portable;

/// The exponents that are possible.
pub const LEAST_EXPONENT: f64 = 0.3;
/// The greatest.
pub const MOST_EXPONENT: f64 = 1.0;
/// Judged scores beyond which the exponent is not estimated: each of those tried takes a
/// matrix of so many rows.
const MOST_JUDGED: usize = 600;
/// How many are tried, the ends among them.
const TRIED: usize = 15;

/// What trials say of the exponent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exponent {
    /// The most likely one.
    pub value: f64,
    /// One standard deviation of what is known of it. Without any trial it is
    /// [`Exponent::UNKNOWN`].
    pub error: f64,
}

impl Exponent {
    /// The standard deviation before any trial, where each is as likely.
    pub const UNKNOWN: f64 = (MOST_EXPONENT - LEAST_EXPONENT) * 0.288_675_134_594_812_9;

    /// Whether trials say where in its range it lies: their error is less than half of
    /// what there was.
    pub fn is_told(self) -> bool {
        self.error < 0.5 * Self::UNKNOWN
    }
}

/// What trials say of the exponent; `None` where they say nothing at all, or there are too
/// many of them.
pub fn exponent(
    palette: &Palette,
    evidence: &[Evidence],
    unknowns: &Unknowns,
    matching: Match,
    control: &Control,
) -> Option<Exponent> {
    let judged: usize = evidence.iter().map(|one| one.judged.len() + 1).sum();
    if evidence.is_empty() || judged > MOST_JUDGED {
        return None;
    }
    let step = (MOST_EXPONENT - LEAST_EXPONENT) / (TRIED - 1) as f64;
    let tried: Vec<f64> = (0..TRIED).map(|at| LEAST_EXPONENT + step * at as f64).collect();
    let logs = in_parallel(&tried, control, |&exponent| log_chance(palette, evidence, unknowns, matching, exponent));
    let logs: Vec<f64> = logs.into_iter().collect::<Option<Vec<f64>>>()?;
    let best = (0..TRIED).max_by(|a, b| logs[*a].total_cmp(&logs[*b]))?;
    // Chances at the trapezoid rule's weights.
    let weight = |at: usize| if at == 0 || at == TRIED - 1 { 0.5 } else { 1.0 };
    let chances: Vec<f64> =
        logs.iter().enumerate().map(|(at, log)| weight(at) * (log - logs[best]).exponential()).collect();
    let sum: f64 = chances.iter().sum();
    let mean = tried.iter().zip(&chances).map(|(exponent, chance)| exponent * chance).sum::<f64>() / sum;
    let square = |(exponent, chance): (&f64, &f64)| (exponent - mean).powi(2) * chance;
    let variance = tried.iter().zip(&chances).map(square).sum::<f64>() / sum;
    Some(Exponent { value: tried[best] + step * beyond(&logs, best), error: variance.sqrt() })
}

/// How far the top of the parabola through a value and its neighbours lies from it, in
/// steps; 0 at an end.
fn beyond(logs: &[f64], best: usize) -> f64 {
    if best == 0 || best + 1 == logs.len() {
        return 0.0;
    }
    let (before, here, after) = (logs[best - 1], logs[best], logs[best + 1]);
    let bend = before - 2.0 * here + after;
    if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}

/// The logarithm of how likely the trials are with an exponent, but for a constant.
fn log_chance(palette: &Palette, evidence: &[Evidence], unknowns: &Unknowns, matching: Match, exponent: f64) -> f64 {
    let fitted = fit(palette, evidence, unknowns, matching, exponent);
    let predicted = predictions(palette, evidence, unknowns, matching, exponent, &fitted.values);
    // What the other unknowns leave open: the determinant of 1 + J C J', with C what was
    // known of them before.
    let mut rows: Vec<Vec<(usize, f64)>> = Vec::new();
    for (one, prediction) in evidence.iter().zip(&predicted) {
        rows.extend(one.slopes(unknowns, prediction));
    }
    let mut spread: DMatrix<f64> = DMatrix::zeros(rows.len(), unknowns.len());
    for (row, slopes) in rows.iter().enumerate() {
        for &(at, slope) in slopes {
            spread[(row, at)] += slope * unknowns.deviations[at];
        }
    }
    let whole: DMatrix<f64> = DMatrix::identity(rows.len(), rows.len()) + &spread * spread.transpose();
    let half_log: f64 =
        whole.cholesky().map_or(0.0, |factor| factor.l_dirty().diagonal().iter().map(|d: &f64| d.logarithm()).sum());
    -fitted.cost - half_log
}
