//! How a formula dries on a blotter: what is left of it, who carries it and how near
//! the target it still is at some times. Nothing is solved.

use super::{Outcome, Refusal, Resolved};
use crate::analysis::basis::in_basis;
use crate::analysis::strip::dried;
use crate::formula::Formula;
use crate::results::strip::StripReport;
use crate::stage::Dip;
use crate::tenacity::Blotter;

/// Minutes after dipping where nothing else is said: the opening, the heart, a working
/// day and the next morning.
pub const MINUTES: [f64; 4] = [5.0, 60.0, 480.0, 1440.0];

/// What is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Minutes after dipping, 0 or more; where there are none those of the brief's stages,
    /// and [`MINUTES`] where it has none either.
    pub minutes: Vec<f64>,
    /// Percent of the accord in what the blotter is dipped in, above 0, at most 100;
    /// `None` is what the brief says, else what tenacities were noted at.
    pub percent: Option<f64>,
    /// g/m2 of the film, above 0, for tenacities from vapour pressures; `None` asks the
    /// brief, then the shelf.
    pub film_weight: Option<f64>,
}

/// How it dries.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it.
    pub report: StripReport,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::Answered
    }
}

/// Dries a formula; one whose parts do not add up to 1000 is scaled.
///
/// # Errors
/// Nothing on the shelf says how long a material lasts.
pub fn ask(of: &Resolved, formula: &Formula, asked: &Asked) -> Result<Answer, Refusal> {
    let dip = &of.brief.dip;
    let (percent, film_weight) = (asked.percent.or(dip.percent), asked.film_weight.or(dip.film_weight));
    let blotter = Blotter::of(&Dip { percent, film_weight }, &of.problem.palette);
    let own: Vec<f64> = of.brief.stages.iter().map(|stage| stage.minutes).collect();
    let minutes = [&asked.minutes[..], &own, &MINUTES].into_iter().find(|all| !all.is_empty()).unwrap_or_default();
    let hours: Vec<f64> = minutes.iter().map(|minutes| minutes / 60.0).collect();
    let judged = in_basis(&of.problem.palette, &formula.rescaled(), of.problem.basis);
    let dried = dried(&of.problem, &judged, &blotter, &hours).ok_or_else(|| {
        let why = "nothing on the shelf says how long it lasts: write `lasting` in hours, or `vapour_pressure` in Pa";
        Refusal::Wrong(why.to_owned())
    })?;
    let warnings = of.warnings.clone();
    Ok(Answer { report: StripReport::new(&of.problem, &of.brief, &judged, &blotter, &dried, warnings) })
}
