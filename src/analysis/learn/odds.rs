//! Where a palette's numbers are at odds with a published composition: what its
//! known parts would smell of by these numbers, beside what was smelled of the
//! natural, and which numbers would have to change so.
//!
//! The composition is a trial by itself: the fit to it alone says how all numbers
//! together give way, each by as much as its error allows, and the fit with one
//! number free and all others as they are says what that number alone mends. How
//! unlikely the natural is by the palette is the misfit of the trial left out: what
//! is left is the palette alone.

use super::fit::fit;
use super::model::{Evidence, Prediction, predict};
use super::posterior::left_out;
use super::unknowns::{Kind, Unknowns};
use super::{Why, evidence};
use crate::brief::Match;
use crate::palette::Palette;
use crate::portable::Portable;
use crate::problem::target::{Target, fidelity_percent, worst_loss};
use crate::trials::Trials;

/// A composition is at odds with the palette from this misfit on, or where one number
/// by itself would have to move by more of its own errors: of many descriptors that
/// agree and one that does not the misfit of all together says little.
pub const AT_ODDS: f64 = 2.0;
/// Numbers that are named.
const NAMED: usize = 6;
/// Changes below this part of a number's own error are not spoken of.
const SPOKEN: f64 = 0.1;

/// A composition beside the palette.
#[derive(Clone, Debug, PartialEq)]
pub struct Odds {
    /// Index of the trial.
    pub trial: usize,
    /// Match of what the known parts would smell of with what was smelled, over
    /// the descriptors that were judged, in percent; `None` where none was, or in
    /// balance nothing of it was smelled.
    pub fidelity_percent: Option<f64>,
    /// The same once all numbers have given way.
    pub reconciled_percent: Option<f64>,
    /// One standard deviation of a judged score, in points, with what the analysis
    /// leaves open.
    pub error: f64,
    /// How unlikely the natural is by the palette: standard normal where it is not.
    pub misfit: f64,
    /// Each judged descriptor with what was smelled of it, what the palette says,
    /// and what it would say then.
    pub scores: Vec<(usize, f64, f64, f64)>,
    /// What would have to change so, all together, the most in its own error first.
    pub moved: Vec<Moved>,
    /// The one number that mends most by itself.
    pub alone: Option<Alone>,
}

/// A number that gives way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Which.
    pub kind: Kind,
    /// As the palette has it: points, or the strength.
    pub before: f64,
    /// As the composition would have it.
    pub after: f64,
    /// The change in the number's own standard deviations.
    pub deviations: f64,
}

/// One number that changes while all others stay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alone {
    /// The number, and how it changes.
    pub moved: Moved,
    /// The match then, in percent.
    pub fidelity_percent: Option<f64>,
    /// How much of what all numbers together mend it mends alone, in percent of the
    /// fall of the sum of squares.
    pub part_percent: f64,
}

/// Each trial of a natural whose composition is known, beside the palette. `neat_ppt`
/// holds the neat parts of every palette material in each trial.
pub fn odds(
    palette: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    matching: Match,
) -> Vec<Result<Odds, (usize, Why)>> {
    let naturals = trials.trials.iter().enumerate().filter(|(_, trial)| trial.analysed.is_some());
    let each = naturals.map(|(at, _)| {
        let one = evidence(palette, trials, at, &neat_ppt[at], matching).map_err(|why| (at, why))?;
        Ok(beside(palette, one, matching))
    });
    each.collect()
}

impl Odds {
    /// Whether the palette is at odds with it.
    pub fn is_at_odds(&self) -> bool {
        self.misfit > AT_ODDS || self.alone.is_some_and(|alone| alone.moved.deviations.abs() > AT_ODDS)
    }
}

fn beside(palette: &Palette, one: Evidence, matching: Match) -> Odds {
    let all = std::slice::from_ref(&one);
    let unknowns = Unknowns::touched(palette, all);
    let look = |unknowns: &Unknowns, values: &[f64]| predict(palette, &one, unknowns, matching, 1.0, values);
    let (before, found) = (look(&unknowns, &unknowns.prior), fit(palette, all, &unknowns, matching, 1.0));
    let after = look(&unknowns, &found.values);
    let squares = |prediction: &Prediction| one.residuals(prediction).iter().map(|it| it * it).sum::<f64>();
    // Half the squares at the palette's own numbers, and what is left when all give way.
    let (whole, least) = (0.5 * squares(&before), found.cost);
    let moved = |unknowns: &Unknowns, values: &[f64], at: usize, kind: Kind| Moved {
        kind,
        before: shown(kind, unknowns.prior[at]),
        after: shown(kind, values[at]),
        deviations: (values[at] - unknowns.prior[at]) / unknowns.deviations[at],
    };
    let kinds: Vec<Kind> = unknowns.kinds().collect();
    let mut all_moved: Vec<Moved> =
        kinds.iter().enumerate().map(|(at, kind)| moved(&unknowns, &found.values, at, *kind)).collect();
    all_moved.retain(|one| one.deviations.abs() >= SPOKEN);
    all_moved.sort_by(|a, b| b.deviations.abs().total_cmp(&a.deviations.abs()));
    all_moved.truncate(NAMED);
    let none = Unknowns::touched(palette, &[]);
    let by_itself = |kind: &Kind| {
        let free = match *kind {
            Kind::Score { material, descriptor } => none.with(palette, &[(descriptor, material)], &[]),
            Kind::Strength { material } => none.with(palette, &[], &[material]),
            // A natural is not followed as it dries.
            Kind::Lasting { .. } => none.clone(),
        };
        let found = fit(palette, all, &free, matching, 1.0);
        (found.cost, moved(&free, &found.values, 0, *kind), fidelity(&one, &look(&free, &found.values), matching))
    };
    let best = kinds.iter().map(by_itself).min_by(|a, b| a.0.total_cmp(&b.0));
    let alone = best.filter(|(cost, moved, _)| *cost < whole && moved.deviations.abs() >= SPOKEN);
    let left = left_out(palette, all, &unknowns, matching, 1.0, &found);
    Odds {
        trial: one.trial,
        fidelity_percent: fidelity(&one, &before, matching),
        reconciled_percent: fidelity(&one, &after, matching),
        error: one.error,
        misfit: left.first().map_or(0.0, |left| left.misfit),
        scores: (one.judged.iter().zip(&before.scores).zip(&after.scores))
            .map(|((&(descriptor, smelled), before), after)| (descriptor, smelled, *before, *after))
            .collect(),
        moved: all_moved,
        alone: alone.map(|(cost, moved, fidelity_percent)| Alone {
            moved,
            fidelity_percent,
            part_percent: (100.0 * (whole - cost) / (whole - least)).clamp(0.0, 100.0),
        }),
    }
}

fn shown(kind: Kind, value: f64) -> f64 {
    match kind {
        Kind::Score { .. } => value,
        Kind::Strength { .. } | Kind::Lasting { .. } => value.exponential(),
    }
}

/// Match in percent of what was predicted with what was judged, all descriptors
/// alike, as a brief of these scores would have it.
fn fidelity(one: &Evidence, prediction: &Prediction, matching: Match) -> Option<f64> {
    let wanted = |&(descriptor, score): &(usize, f64)| Target { descriptor, score, weight: 1.0, excess: 1.0 };
    let targets: Vec<Target> = one.judged.iter().map(wanted).collect();
    let loss = targets.iter().zip(&prediction.scores).map(|(target, blend)| target.gap(*blend)).sum();
    let worst = worst_loss(matching, targets.iter());
    (worst > 0.0).then(|| fidelity_percent(loss, worst))
}
