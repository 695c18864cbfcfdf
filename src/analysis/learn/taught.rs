//! The palette as trials leave it, with the errors that they have tied together.

use std::sync::Arc;

use nalgebra::{Cholesky, DMatrix};

use super::{Aside, Asked, Depth, Kind, Learned, Posterior, learn_as};
use crate::brief::Match;
use crate::control::Control;
use crate::palette::Palette;
use crate::tied::{Tied, TiedNumber};
use crate::trials::Trials;

/// A score that was written as 0 and is below this, in points, is still one: what trials
/// move by less nobody smells, and what is not smelled at all counts as certain.
const STILL_NOTHING: f64 = 0.05;
/// What is added to the variances, as a part of their mean, where rounding leaves a
/// covariance without a root; ten times as much at every further attempt.
const JITTER: f64 = 1e-12;
const ATTEMPTS: i32 = 6;

/// What trials taught.
#[derive(Clone, Debug)]
pub struct Taught {
    /// The palette as they leave it.
    pub palette: Palette,
    /// Indices of the trials that said something.
    pub used: Vec<usize>,
    /// Trials that were left aside.
    pub aside: Vec<Aside>,
    /// How judged scores were compared.
    pub matching: Match,
    /// One standard deviation of a judged score in points, on average over the trials.
    pub error: f64,
}

/// Learns from trials. `neat_ppt` holds the neat parts of every palette material in each.
/// The trials that were left aside where none says anything.
///
/// # Errors
/// No trial says anything: all of them were left aside.
pub fn taught(
    before: &Palette,
    trials: &Trials,
    neat_ppt: &[Vec<f64>],
    asked: Asked,
    control: &Control,
) -> Result<Taught, Vec<Aside>> {
    let (learned, aside) = learn_as(before, trials, neat_ppt, asked, Depth::Estimate, control);
    let Some(learned) = learned else { return Err(aside) };
    let used = learned.evidence.iter().map(|one| one.trial).collect();
    let error = learned.evidence.iter().map(|one| one.error).sum::<f64>() / learned.evidence.len() as f64;
    let palette = learned.palette_with_ties(before);
    Ok(Taught { palette, used, aside: learned.aside, matching: learned.matching, error })
}

impl Learned {
    /// The palette as the trials leave it, the errors that they have tied together in it.
    pub fn palette_with_ties(&self, before: &Palette) -> Palette {
        let mut palette = self.palette(before);
        for (material, was) in palette.materials.iter_mut().zip(&before.materials) {
            for (score, was) in material.scores.iter_mut().zip(&was.scores) {
                if *was == 0.0 && *score < STILL_NOTHING {
                    *score = 0.0;
                }
            }
        }
        palette.tied = self.tied(before, &palette).map(Arc::new);
        palette
    }

    /// The errors of what is uncertain in the palette after the trials.
    fn tied(&self, before: &Palette, after: &Palette) -> Option<Tied> {
        let number = |kind: Kind| match kind {
            Kind::Score { material, descriptor } if after.materials[material].scores[descriptor] > 0.0 => {
                Some(TiedNumber { material, descriptor: Some(descriptor) })
            }
            Kind::Score { .. } => None,
            Kind::Strength { material } => Some(TiedNumber { material, descriptor: None }),
            // Drawn with a match as it is dipped, which does not hang on it.
            Kind::Lasting { .. } => None,
        };
        let mut numbers: Vec<(TiedNumber, usize)> =
            self.unknowns.kinds().enumerate().filter_map(|(at, kind)| Some((number(kind)?, at))).collect();
        numbers.sort_unstable();
        let covariance = Posterior::covariance(
            before,
            &self.evidence,
            &self.unknowns,
            self.matching,
            self.asked.exponent,
            &self.fit,
        );
        let own = DMatrix::from_fn(numbers.len(), numbers.len(), |a, b| covariance[(numbers[a].1, numbers[b].1)]);
        let mean = own.trace() / numbers.len().max(1) as f64;
        let root = (0..ATTEMPTS).find_map(|attempt| {
            let more = if attempt == 0 { 0.0 } else { mean * JITTER * 10f64.powi(attempt) };
            Cholesky::new(&own + DMatrix::identity(numbers.len(), numbers.len()) * more)
        })?;
        let root = root.unpack();
        let rows = (0..numbers.len()).map(|at| (0..=at).map(|column| root[(at, column)]).collect()).collect();
        Some(Tied::new(numbers.into_iter().map(|(number, _)| number).collect(), rows))
    }
}
