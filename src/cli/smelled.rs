//! Trials from the command line: read, their parts as 1000 neat parts.

use std::path::Path;
use std::sync::Arc;

use super::Ending;
use super::output::{self, Colour, complain};
use crate::brief::Brief;
use crate::escape::escaped;
use crate::files::load_trials;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::trials::{Trials, fingerprint};
use crate::units::Ppt;

/// Trials and what they were made of.
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

/// Reads trials; what is wrong is told.
///
/// # Errors
/// How the command ends then.
pub fn smelled(path: &Path, rescale: bool, colour: Colour) -> Result<Smelled, Ending> {
    let (palette, mut trials, mut warnings) = load_trials(path).map_err(|faults| output::faults(&faults, colour))?;
    let odd = trials.trials.iter().filter(|trial| trial.formula.sum() != Ppt::WHOLE);
    let odd: Vec<String> = odd.map(|trial| format!("{} to {}", escaped(&trial.code), trial.formula.sum())).collect();
    if !odd.is_empty() && !rescale {
        let list = odd.join(", ");
        complain(&format!("the parts of these trials do not add up to 1000: {list}; --rescale scales them"));
        return Err(Ending::No);
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
