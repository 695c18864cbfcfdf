//! Whether the balance or the level of judged scores explains a nose better.
//!
//! Each trial is predicted by the fit to the others. A balance is told the total
//! of what was smelled and a level is not, so that both are held against it at
//! that total: the level's prediction is brought to it first.

use super::judge::{Verdict, verdict};
use super::model::Evidence;
use super::{Asked, Depth, Learned, learn_as};
use crate::brief::Match;
use crate::control::Control;
use crate::palette::Palette;
use crate::stage::Dip;
use crate::tolerance::fits::NO_SCORE;
use crate::trials::Trials;

/// A way of comparing that was tried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TriedMatch {
    /// The way.
    pub matching: Match,
    /// How far trials are off that were left out, in points at the total of what
    /// was smelled, over the trials that both ways learned from; `None` where
    /// there are none.
    pub without: Option<f64>,
    /// Trials that it learned from.
    pub trials: usize,
    /// Trials that do not fit the others.
    pub misfits: usize,
    /// Whether the estimate came to rest.
    pub settled: bool,
}

impl TriedMatch {
    /// Of one fit, over what the other learned from as well.
    pub(super) fn of(own: &Learned, other: &Learned) -> TriedMatch {
        let pairs = squares(own, other);
        let (sum, count) = pairs.iter().fold((0.0, 0), |(sum, count), (own, _, scores)| (sum + own, count + scores));
        TriedMatch {
            matching: own.matching,
            without: (count > 0).then(|| (sum / count as f64).sqrt()),
            trials: own.evidence.len(),
            misfits: own.misfits(),
            settled: own.fit.settled,
        }
    }
}

/// For each trial that both learned from: the squares of the one, of the other,
/// and how many scores.
fn squares(one: &Learned, other: &Learned) -> Vec<(f64, f64, usize)> {
    let at = |learned: &Learned, trial: usize| learned.evidence.iter().position(|it| it.trial == trial);
    let both = |here: usize| {
        let evidence = &one.evidence[here];
        let there = at(other, evidence.trial)?;
        let own = off_at_total(evidence, &one.left[here].without)?;
        let its = off_at_total(&other.evidence[there], &other.left[there].without)?;
        Some((own, its, evidence.judged.len()))
    };
    (0..one.evidence.len()).filter_map(both).collect()
}

/// The sum of squares of what was judged less what was predicted, brought to one
/// total; `None` where that compares nothing.
fn off_at_total(one: &Evidence, predicted: &[f64]) -> Option<f64> {
    let total: f64 = one.judged.iter().map(|(_, points)| points).sum();
    if one.judged.len() < 2 || total <= 0.0 {
        return None;
    }
    let factor = total / predicted.iter().sum::<f64>().max(NO_SCORE);
    Some(one.judged.iter().zip(predicted).map(|((_, points), p)| (points - factor * p).powi(2)).sum())
}

/// Whether the first predicts better than the second.
pub(super) fn beside(first: &Learned, second: &Learned) -> Verdict {
    let differences: Vec<f64> =
        squares(first, second).iter().map(|(own, its, scores)| (its - own) / *scores as f64).collect();
    verdict(&differences)
}

/// The same the other way round.
pub(super) fn opposite(verdict: Verdict) -> Verdict {
    match verdict {
        Verdict::Better => Verdict::Worse,
        Verdict::Worse => Verdict::Better,
        other => other,
    }
}

/// Whether one fit is to be taken rather than another: it came to rest where the
/// other did not, or else it predicts trials that were left out better. Too few
/// trials change nothing.
pub(super) fn is_to_be_preferred(one: &Learned, than: &Learned) -> bool {
    if beside(one, than) == Verdict::TooFew {
        return false;
    }
    let (own, its) = (TriedMatch::of(one, than), TriedMatch::of(than, one));
    match (own.settled, its.settled) {
        (true, false) => true,
        (false, true) => false,
        _ => own.without.zip(its.without).is_some_and(|(own, its)| own < its),
    }
}

/// The way of comparing that trials are learned from: the one that predicts
/// better, that of their file where they say nothing.
pub fn choose(
    palette: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    pool: bool,
    dip: &Dip,
    control: &Control,
) -> Match {
    let asked = Asked { exponent: 1.0, pool, matching: None, dip: *dip };
    learn_as(palette, trials, neat_ppt, asked, Depth::Estimate, control)
        .0
        .map_or(trials.matching, |learned| learned.matching)
}
