//! How a formula dries on a blotter: what is left of it, who carries it and how near
//! the target it still is at some times. Nothing is solved.

use super::{Outcome, Refusal, Resolved};
use crate::analysis::basis::in_basis;
use crate::analysis::strip::{Blotter, dried};
use crate::formula::Formula;
use crate::results::strip::StripReport;

/// Minutes after dipping where nothing else is said: the opening, the heart, a working
/// day and the next morning.
pub const MINUTES: [f64; 4] = [5.0, 60.0, 480.0, 1440.0];

/// What is asked for.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Minutes after dipping, 0 or more; [`MINUTES`] where there are none.
    pub minutes: Vec<f64>,
    /// Percent of the accord in what the blotter is dipped in, above 0, at most 100;
    /// `None` is what tenacities were noted at.
    pub percent: Option<f64>,
    /// g/m2 of the film, above 0, for tenacities from vapour pressures; `None` asks the
    /// shelf.
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
    let lasting_percent = of.problem.palette.lasting_percent;
    let percent = asked.percent.unwrap_or(lasting_percent);
    let blotter = Blotter { percent, lasting_percent, film_weight: asked.film_weight };
    let minutes = if asked.minutes.is_empty() { &MINUTES[..] } else { &asked.minutes };
    let hours: Vec<f64> = minutes.iter().map(|minutes| minutes / 60.0).collect();
    let judged = in_basis(&of.problem.palette, &formula.rescaled(), of.problem.basis);
    let dried = dried(&of.problem, &judged, &blotter, &hours).ok_or_else(|| {
        let why = "nothing on the shelf says how long it lasts: write `lasting` in hours, or `vapour_pressure` in Pa";
        Refusal::Wrong(why.to_owned())
    })?;
    let warnings = of.warnings.clone();
    Ok(Answer { report: StripReport::new(&of.problem, &of.brief, &judged, &blotter, &dried, warnings) })
}
