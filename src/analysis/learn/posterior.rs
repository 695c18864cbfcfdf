//! How sure the estimate is, and what each trial has to do with it.

use nalgebra::{DMatrix, DVector};

use super::fit::{Fit, bounded, predictions};
use super::model::{Evidence, predict};
use super::system::System;
use super::unknowns::Unknowns;
use crate::brief::Match;
use crate::palette::Palette;
use crate::portable::Portable;

/// What is known after the trials.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// One standard deviation of each unknown.
    pub deviations: Vec<f64>,
}

/// How much one trial moved one unknown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effect {
    /// Index among the evidence.
    pub evidence: usize,
    /// By how much, in the unknown's own measure.
    pub moved: f64,
}

/// A trial held against the fit without it: its scores by a fit to the others
/// where that is cheap, else and for all other figures to first order, by the
/// linearised model at the estimate, in which leaving a trial out is exact.
#[derive(Clone, Debug, PartialEq)]
pub struct Left {
    /// Points of each judged descriptor by the palette's own numbers.
    pub before: Vec<f64>,
    /// By the fit to all trials.
    pub fitted: Vec<f64>,
    /// By the fit to all the others.
    pub without: Vec<f64>,
    /// Whether that is a fit anew.
    pub is_refitted: bool,
    /// What was judged less that, in standard deviations of the difference:
    /// the rows of [`Evidence::residuals`].
    pub standardised: Vec<f64>,
    /// How unlike the others the trial is as a whole: a standard normal number
    /// where it is like them.
    pub misfit: f64,
    /// How far the trial moved every unknown.
    pub moved: Vec<f64>,
}

impl Posterior {
    /// The errors after a fit, as if no score pressed against the scale.
    pub fn new(
        palette: &Palette,
        evidence: &[Evidence],
        unknowns: &Unknowns,
        matching: Match,
        exponent: f64,
        fit: &Fit,
    ) -> Posterior {
        let predicted = predictions(palette, evidence, unknowns, matching, exponent, &fit.values);
        let system = System::new(evidence, &predicted, unknowns, &vec![true; unknowns.len()], 0.0);
        let variances = system.map(|system| system.variances());
        let prior = &unknowns.deviations;
        // Never above the prior's; rounding may say so where no trial says much.
        let deviations = match variances {
            Some(found) => found.iter().zip(prior).map(|(one, most)| one.max(0.0).sqrt().min(*most)).collect(),
            None => prior.clone(),
        };
        Posterior { deviations }
    }

    /// The covariance of all unknowns.
    pub fn covariance(
        palette: &Palette,
        evidence: &[Evidence],
        unknowns: &Unknowns,
        matching: Match,
        exponent: f64,
        fit: &Fit,
    ) -> DMatrix<f64> {
        let predicted = predictions(palette, evidence, unknowns, matching, exponent, &fit.values);
        let prior = || {
            let variances = unknowns.deviations.iter().map(|deviation| deviation * deviation);
            DMatrix::from_diagonal(&DVector::from_iterator(unknowns.len(), variances))
        };
        let system = System::new(evidence, &predicted, unknowns, &vec![true; unknowns.len()], 0.0);
        system.map_or_else(prior, |system| system.inverse())
    }
}

/// The squares that are left of a gap between predictions and what is told, or between two
/// predictions, once what is unsure of the unknowns has excused what it can:
/// `d' inv(1 + J C J') d`, in units of the error of a judgement. `None` where rounding leaves
/// that without a root.
pub fn unexcused(gap: &DVector<f64>, slopes: &DMatrix<f64>, covariance: &DMatrix<f64>) -> Option<f64> {
    // Few of the unknowns have a part in a blend.
    let touched: Vec<usize> =
        (0..slopes.ncols()).filter(|&at| slopes.column(at).iter().any(|slope| *slope != 0.0)).collect();
    let own = slopes.select_columns(&touched);
    let open = DMatrix::from_fn(touched.len(), touched.len(), |a, b| covariance[(touched[a], touched[b])]);
    let whole: DMatrix<f64> = DMatrix::identity(own.nrows(), own.nrows()) + &own * open * own.transpose();
    whole.cholesky().map(|factor| gap.dot(&factor.solve(gap)))
}

/// Every trial held against the fit without it.
pub fn left_out(
    palette: &Palette,
    evidence: &[Evidence],
    unknowns: &Unknowns,
    matching: Match,
    exponent: f64,
    fit: &Fit,
) -> Vec<Left> {
    let predicted = predictions(palette, evidence, unknowns, matching, exponent, &fit.values);
    let system = System::new(evidence, &predicted, unknowns, &fit.free, 0.0);
    let left = |(one, prediction): (&Evidence, &super::model::Prediction)| {
        let residuals = DVector::from_vec(one.residuals(prediction));
        let slopes = one.slope_matrix(unknowns, prediction).transpose();
        let spread = match &system {
            Some(system) => system.solve(&slopes),
            None => DMatrix::zeros(unknowns.len(), residuals.len()),
        };
        let own = slopes.transpose() * &spread;
        let rest = DMatrix::identity(residuals.len(), residuals.len()) - own;
        // What a trial says is never all that is known: the prior is there too.
        let inverse = rest.try_inverse().unwrap_or_else(|| DMatrix::identity(residuals.len(), residuals.len()));
        let gap = &inverse * &residuals;
        let moved: Vec<f64> = (&spread * &gap).iter().copied().collect();
        let values: Vec<f64> =
            (0..unknowns.len()).map(|at| bounded(unknowns, at, fit.values[at] - moved[at])).collect();
        let by = |values: &[f64]| predict(palette, one, unknowns, matching, exponent, values).scores;
        let standardised = (0..gap.len()).map(|at| gap[at] / inverse[(at, at)].max(f64::MIN_POSITIVE).sqrt()).collect();
        Left {
            before: by(&unknowns.prior),
            fitted: prediction.scores.clone(),
            without: by(&values),
            is_refitted: false,
            standardised,
            misfit: normal(gap.dot(&residuals), one.degrees(matching, prediction)),
            moved,
        }
    };
    evidence.iter().zip(&predicted).map(left).collect()
}

/// A standard normal number as unlikely as a sum of squares (E. B. Wilson and
/// M. M. Hilferty, Proceedings of the National Academy of Sciences 17, 1931).
pub(super) fn normal(squares: f64, degrees: usize) -> f64 {
    if degrees == 0 {
        return 0.0;
    }
    let spread = 2.0 / (9.0 * degrees as f64);
    ((squares.max(0.0) / degrees as f64).cube_root() - (1.0 - spread)) / spread.sqrt()
}
