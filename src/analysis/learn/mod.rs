//! What trials say of the scores and strengths of a palette.
//!
//! # The model
//!
//! Trial `t` holds parts `x_i` of materials whose log-strengths `u_i` and scores
//! `a_id` are known with errors. Odour shares are `h_i = (e^u_i x_i)^g / sum`, with
//! `g` the exponent (1, or 0.4 where strong materials weigh less), and the
//! blend smells of descriptor `d` by
//!
//! - match `level`: `p_d = sum_i h_i a_id`
//! - match `balance`: `p_d = T sum_i h_i a_id / sum_e sum_i h_i a_ie` with `e` over
//!   the descriptors that were judged and `T` the sum of what was smelled of them:
//!   the judged scores and those of the blend are compared at one total.
//!
//! What was smelled is `p_d` give or take the trial's error. A strength that was
//! judged is that of the undiluted formula, `sum_i e^u_i x_i / 1000`, with an error
//! in its logarithm; it is additive whatever the exponent.
//!
//! A trial that was smelled some time after a blotter was dipped smells by what is left:
//! `e^u_i` times the part of the material that its film has kept ([`drying`]). How long each
//! material lasts is known with an error, too, so that its logarithm is one more unknown.
//! One time alone does not tell it from the strength: it is then no more than a part of what
//! is unsure, and it counts as learned where several times speak of it.
//!
//! A trial may be a natural whose composition is known: its parts that are on the
//! shelf count like those of a mod, and what is left open makes its error larger
//! ([`rest`]).
//!
//! # The estimate
//!
//! Maximum a posteriori: the sum of squares of the standardised residuals and
//! of the standardised distances from the palette's own values, the prior, is
//! as small as it can be while scores stay within 0 and the scale. A common
//! factor of all strengths, which shares do not tell, is settled by the prior.
//! Gauss-Newton with Levenberg's damping (K. Levenberg, Quarterly of Applied
//! Mathematics 2, 1944), scores at an end of the scale held there as long as
//! they press against it (D. P. Bertsekas, SIAM Journal on Control and
//! Optimization 20, 1982). Posterior errors are those of the linearised model at
//! the estimate, as if nothing pressed against the scale: on the safe side for
//! what does.

mod drying;
mod exponent;
mod fit;
mod judge;
mod kin;
mod matching;
mod model;
mod odds;
mod posterior;
mod rest;
mod slips;
mod system;
mod taught;
mod unknowns;

use std::sync::Arc;

use crate::brief::Match;
use crate::control::Control;
use crate::evaluate::SECOND_EXPONENT;
use crate::palette::Palette;
use crate::pool::in_parallel;
use crate::stage::Dip;
use crate::trials::Trials;

use crate::portable::Portable;
use matching::{beside, is_to_be_preferred, opposite};

pub use drying::{Dried, Drying, GONE_FACTOR, tenacities, times_of};
pub use exponent::{Exponent, LEAST_EXPONENT, MOST_EXPONENT, exponent};
pub use fit::{Fit, fit};
pub use judge::{LEAST, MISFIT, Off, SURE, Untrusted, Verdict, off};
pub use kin::{Aside, Why, kin};
pub use matching::{TriedMatch, choose};
pub use model::{Evidence, Prediction, evidence, predict};
pub use odds::{AT_ODDS, Alone, Moved, Odds, odds};
pub use posterior::{Effect, Left, Posterior, left_out, unexcused};
pub use rest::{REST_FACTOR, REST_SCORE_PART, Rest};
pub use slips::{Explained, Slip, slip};
pub use taught::{Taught, taught};
pub use unknowns::{Kind, Unknowns};

/// One standard deviation of a judged score in points where a trial names
/// none.
pub const GIVE_OR_TAKE: f64 = 1.0;
/// The error of a score of 0 as a part of the material's error: what is not
/// smelled at all is surer than how much is smelled, but not certain.
pub const ZERO_PART: f64 = 0.5;
/// One standard deviation of a judged strength, as a factor.
pub const JUDGED_STRENGTH_FACTOR: f64 = 1.5;

/// Trials times unknowns up to which each trial is left out by fitting the others
/// anew.
const REFITTED: usize = 1_500;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Exponent of the odour shares.
    pub exponent: f64,
    /// Whether trials are put together however they were smelled.
    pub pool: bool,
    /// How judged scores are compared; `None`: whichever of both predicts trials
    /// that were left out better.
    pub matching: Option<Match>,
    /// How blotters were dipped where a trial does not say it itself.
    pub dip: Dip,
}

/// How long a material lasts, as trials at several times tell it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lasting {
    /// The material.
    pub material: usize,
    /// Where the logarithm of its hours stands among the unknowns.
    pub at: usize,
    /// Trials that speak of it.
    pub trials: usize,
    /// Times at which it was smelled, those alike counted once: two or more.
    pub times: usize,
}

/// What was learned.
#[derive(Clone, Debug)]
pub struct Learned {
    /// What was asked for.
    pub asked: Asked,
    /// How judged scores were compared.
    pub matching: Match,
    /// Both ways of comparing them, the one that was used first; one alone where
    /// the other learned nothing.
    pub matches: Vec<TriedMatch>,
    /// Whether the one that was used predicts better than the other.
    pub match_is: Verdict,
    /// Trials that say something, in the order of the file.
    pub evidence: Vec<Evidence>,
    /// Trials that were left aside.
    pub aside: Vec<Aside>,
    /// What could be learned: the scores and strengths that the trials touch.
    pub unknowns: Unknowns,
    /// The estimate.
    pub fit: Fit,
    /// What is known after it.
    pub posterior: Posterior,
    /// Each trial held against the fit without it, in the order of `evidence`.
    pub left: Vec<Left>,
    /// The same under the other exponent: (exponent, its fits).
    pub other: (f64, Vec<Left>),
    /// What the trials say of the exponent itself, as one more unknown; `None` where
    /// there are too many of them for that.
    pub exponent: Option<Exponent>,
}

/// Learns from trials. `neat_ppt` holds the neat parts of every palette material
/// in each trial. `None` where no trial says anything.
pub fn learn(
    palette: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    asked: Asked,
    control: &Control,
) -> (Option<Learned>, Vec<Aside>) {
    let (kept, aside) = learn_as(palette, trials, neat_ppt, asked, Depth::Whole, control);
    let with_exponent = |mut kept: Learned| {
        kept.exponent = exponent(palette, &kept.evidence, &kept.unknowns, kept.matching, control);
        kept
    };
    (kept.map(with_exponent), aside)
}

/// How much is worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Depth {
    /// All that is told of trials.
    Whole,
    /// What a brief is answered by: nothing of another exponent.
    Estimate,
}

/// The same without what trials say of the exponent.
fn learn_as(
    palette: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    asked: Asked,
    depth: Depth,
    control: &Control,
) -> (Option<Learned>, Vec<Aside>) {
    let first = asked.matching.unwrap_or(trials.matching);
    let second = match first {
        Match::Balance => Match::Level,
        Match::Level => Match::Balance,
    };
    let by = |matching: &Match| {
        learn_by(palette, trials, neat_ppt, Asked { matching: Some(*matching), ..asked }, depth, control)
    };
    // What is stopped has no fit, but trials left aside all the same.
    let begun = Control { deadline: None, stop: Arc::default(), ..control.clone() };
    let mut both = in_parallel(&[first, second], &begun, by).into_iter().flatten();
    let (one, other) = match (both.next(), both.next()) {
        (Some((Some(one), _)), Some((Some(other), _))) => (one, other),
        // A way under which trials say nothing has nothing to predict with.
        (first, _) => return first.unwrap_or_default(),
    };
    let verdict = beside(&one, &other);
    let turned = asked.matching.is_none() && is_to_be_preferred(&other, &one);
    let (mut kept, dropped, verdict) = if turned { (other, one, opposite(verdict)) } else { (one, other, verdict) };
    kept.matches = vec![TriedMatch::of(&kept, &dropped), TriedMatch::of(&dropped, &kept)];
    kept.match_is = verdict;
    kept.asked = asked;
    let aside = kept.aside.clone();
    (Some(kept), aside)
}

/// The same with one way of comparing.
fn learn_by(
    palette: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    asked: Asked,
    depth: Depth,
    control: &Control,
) -> (Option<Learned>, Vec<Aside>) {
    let matching = asked.matching.unwrap_or(trials.matching);
    let (all, aside) = gather(palette, trials, neat_ppt, asked.pool, matching, &asked.dip);
    if all.is_empty() {
        return (None, aside);
    }
    let unknowns = Unknowns::touched(palette, &all);
    let exponents = [asked.exponent, if asked.exponent == 1.0 { SECOND_EXPONENT } else { 1.0 }];
    let tried = if depth == Depth::Whole { &exponents[..] } else { &exponents[..1] };
    let solved = in_parallel(tried, control, |&exponent| solve(palette, &all, &unknowns, matching, exponent));
    let mut solved = solved.into_iter().flatten();
    let Some((fit, posterior, left)) = solved.next() else { return (None, aside) };
    let other = match (solved.next(), depth) {
        (Some((_, _, other)), _) => other,
        (None, Depth::Estimate) => Vec::new(),
        (None, Depth::Whole) => return (None, aside),
    };
    let other = (exponents[1], other);
    let learned = Learned {
        asked,
        matching,
        matches: Vec::new(),
        match_is: Verdict::TooFew,
        evidence: all,
        aside: aside.clone(),
        unknowns,
        fit,
        posterior,
        left,
        other,
        exponent: None,
    };
    (Some(learned), aside)
}

/// What the trials say, of those that were smelled alike unless `pool`, and those
/// that were left aside.
pub fn gather(
    palette: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    pool: bool,
    matching: Match,
    dip: &Dip,
) -> (Vec<Evidence>, Vec<Aside>) {
    let (mut all, mut aside) = (Vec::new(), Vec::new());
    let tenacities = tenacities(palette, dip);
    for (at, neat) in neat_ppt.iter().enumerate() {
        match evidence(palette, trials, at, neat, matching) {
            Ok(mut one) => {
                one.drying = tenacities.as_ref().and_then(|of| Drying::of(palette, &trials.trials[at], neat, dip, of));
                all.push(one);
            }
            Err(why) => aside.push(Aside { trial: at, why }),
        }
    }
    if !pool {
        let (used, others) = kin(trials, &all);
        all = used;
        aside.extend(others);
        aside.sort_by_key(|aside| aside.trial);
    }
    (all, aside)
}

fn solve(
    palette: &Palette,
    evidence: &[Evidence],
    unknowns: &Unknowns,
    matching: Match,
    exponent: f64,
) -> (Fit, Posterior, Vec<Left>) {
    let fit = fit(palette, evidence, unknowns, matching, exponent);
    let posterior = Posterior::new(palette, evidence, unknowns, matching, exponent, &fit);
    let mut left = left_out(palette, evidence, unknowns, matching, exponent, &fit);
    if is_cheap(evidence.len(), unknowns.len()) {
        for (at, left) in left.iter_mut().enumerate() {
            let mut others = evidence.to_vec();
            let one = others.remove(at);
            // First order is near already.
            let start: Vec<f64> =
                (0..unknowns.len()).map(|at| fit::bounded(unknowns, at, fit.values[at] - left.moved[at])).collect();
            let again = fit::fit_from(palette, &others, unknowns, matching, exponent, &start);
            if again.settled {
                left.without = predict(palette, &one, unknowns, matching, exponent, &again.values).scores;
                left.is_refitted = true;
            }
        }
    }
    (fit, posterior, left)
}

/// Whether every trial is left out by a fit anew: a moment's work.
fn is_cheap(trials: usize, unknowns: usize) -> bool {
    trials * unknowns <= REFITTED
}

impl Learned {
    /// Whether every trial was left out by a fit to the others, and none to first
    /// order.
    pub fn is_refitted(&self) -> bool {
        self.left.iter().all(|left| left.is_refitted)
    }

    /// The materials of which trials at several times tell how long they last, in the order
    /// of the palette.
    pub fn lastings(&self) -> Vec<Lasting> {
        let of = |(at, kind): (usize, Kind)| {
            let Kind::Lasting { material } = kind else { return None };
            let times = times_of(&self.evidence, material).len();
            let trials = self.evidence.iter().filter(|one| one.speaks_of_lasting(material)).count();
            (times > 1).then_some(Lasting { material, at, trials, times })
        };
        self.unknowns.kinds().enumerate().filter_map(of).collect()
    }

    /// The palette as the trials leave it: scores, strengths and their errors, and how long
    /// what was smelled at several times lasts.
    /// The error of a material's scores is the quadratic mean of those of the
    /// scores above 0; what no trial touches keeps its own.
    pub fn palette(&self, before: &Palette) -> Palette {
        let mut palette = self.unknowns.applied(before, &self.fit.values);
        for (after, before) in palette.materials.iter_mut().zip(&before.materials) {
            after.lasting_hours = before.lasting_hours;
        }
        for Lasting { material, at, .. } in self.lastings() {
            palette.materials[material].lasting_hours = Some(self.fit.values[at].exponential());
            palette.materials[material].lasting_factor = Some(self.posterior.deviations[at].exponential());
        }
        for (kind, deviation) in self.unknowns.kinds().zip(&self.posterior.deviations) {
            if let Kind::Strength { material } = kind {
                palette.materials[material].strength_factor = Some(deviation.exponential());
            }
        }
        for material in 0..palette.materials.len() {
            if let Some(error) = self.score_error(&palette, before, material) {
                palette.materials[material].score_error = Some(error);
            }
        }
        palette
    }

    fn score_error(&self, palette: &Palette, before: &Palette, material: usize) -> Option<f64> {
        let prior = unknowns::score_error(&before.materials[material]);
        let touched = |descriptor: usize| self.unknowns.score(material, descriptor);
        let heard = palette.materials[material].scores.iter().enumerate().filter(|(_, score)| **score > 0.0);
        let (mut sum, mut count, mut any) = (0.0, 0.0, false);
        for (descriptor, _) in heard {
            let at = touched(descriptor);
            any |= at.is_some();
            sum += at.map_or(prior, |at| self.posterior.deviations[at]).powi(2);
            count += 1.0;
        }
        any.then(|| f64::sqrt(sum / count))
    }
}
