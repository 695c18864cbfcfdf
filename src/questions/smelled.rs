//! Trials, their parts as 1000 neat parts: what every question about smelled
//! formulas starts from.

use std::sync::Arc;

use super::Refusal;
use crate::brief::Brief;
use crate::escape::escaped;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::trials::{Trials, fingerprint};
use crate::units::Ppt;

/// Trials and what they were made of.
#[derive(Clone, Debug)]
pub struct Smelled {
    /// The palette.
    pub palette: Arc<Palette>,
    /// The trials; every formula adds up to 1000.
    pub trials: Trials,
    /// Neat parts per thousand of every palette material in each.
    pub neat_ppt: Vec<Vec<f64>>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

impl Smelled {
    /// The trials as they were read, with the warnings of their reader.
    ///
    /// # Errors
    /// The parts of some do not add up to 1000, and they are not to be scaled.
    pub fn of(
        palette: Palette,
        mut trials: Trials,
        mut warnings: Vec<String>,
        rescale: bool,
    ) -> Result<Smelled, Refusal> {
        let odd = trials.trials.iter().filter(|trial| trial.formula.sum() != Ppt::WHOLE);
        let odd: Vec<String> =
            odd.map(|trial| format!("{} to {}", escaped(&trial.code), trial.formula.sum())).collect();
        if !odd.is_empty() && !rescale {
            let list = odd.join(", ");
            let words = format!("the parts of these trials do not add up to 1000: {list}; --rescale scales them");
            return Err(Refusal::No(words));
        }
        trials.trials.iter_mut().for_each(|trial| trial.formula = trial.formula.rescaled());
        if trials.palette_fingerprint.as_ref().is_some_and(|stamped| *stamped != fingerprint(&palette)) {
            warnings.push(format!(
                "scores or strengths of {} have changed since {} was stamped: what these trials taught may be in it \
                 already, and would count twice; --stamp marks it as it is now",
                escaped(&palette.file),
                escaped(&trials.file)
            ));
        }
        let problem = Problem::new(palette, &Brief::empty(trials.file.clone()), &[]);
        let neat_ppt = trials.trials.iter().map(|trial| problem.neat_ppt(&trial.formula)).collect();
        Ok(Smelled { palette: problem.palette, trials, neat_ppt, warnings })
    }
}

/// Refuses trials of another palette than a brief's; `is_same` says whether two
/// paths lead to one file.
///
/// # Errors
/// Which palettes they are of.
pub fn share_palette(own: &Palette, read: &Smelled, is_same: impl Fn(&str, &str) -> bool) -> Result<(), Refusal> {
    let (own, other) = (&own.file, &read.palette.file);
    if is_same(own, other) {
        return Ok(());
    }
    let (own, other) = (escaped(own), escaped(other));
    let words = format!("the brief is of the palette {own}, the trials of {other}: they have to share one");
    Err(Refusal::Wrong(words))
}
