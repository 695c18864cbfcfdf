//! How far a strong material can go.

use super::{FOR_CLOCKS, Outcome, Refusal, Resolved, reasons};
use crate::analysis::caps::caps;
use crate::analysis::push;
use crate::control::Control;
use crate::results::push::{PushReport, Subject};
use crate::solve::{Method, Status};

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The material: index into the palette.
    pub material: usize,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Whether formulas are proven at many doses, and told in full.
    pub whole: bool,
    /// Grams of accord to be made: what is on hand is then a cap.
    pub batch_grams: Option<f64>,
    /// Which method answers.
    pub method: Method,
}

impl Asked {
    /// Points of fidelity that are given away unless said.
    pub const MARGIN: f64 = 1.0;

    /// How far a material can go, and nothing else said.
    pub fn of(material: usize) -> Asked {
        Asked { material, margin: Asked::MARGIN, whole: false, batch_grams: None, method: Method::Auto }
    }
}

/// The curve.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it; why there is none where no formula keeps the rules.
    pub report: PushReport,
    /// What it came to where there is no curve.
    pub none: Option<Status>,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        self.none.map_or(Outcome::Answered, |status| Outcome::of(status, "no blend keeps the rules (proven)"))
    }
}

/// What may not be what was meant.
pub fn warnings(of: &Resolved, asked: &Asked) -> Vec<String> {
    let mut warnings = of.warnings.clone();
    let material = of.problem.material(asked.material);
    if asked.batch_grams.is_some() && material.stock_grams.is_none() {
        let name = &material.name;
        warnings.push(format!("the palette does not say how much of {name} is on hand: --batch caps nothing"));
    }
    warnings
}

/// Finds the best formulas at doses of a material from nothing to its cap and
/// beyond.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn ask(of: &Resolved, asked: &Asked, control: &Control) -> Result<Answer, Refusal> {
    of.linear("push")?;
    let of = of.settled(asked.method, &control.untold().with_share(FOR_CLOCKS))?;
    let Resolved { problem, brief, .. } = of;
    let Asked { material, margin, whole, batch_grams, method } = *asked;
    let control = &control.untold();
    let caps = caps(problem, brief, material, batch_grams);
    let wanted = push::Asked { material, margin, many: whole, method };
    let found = push::push(problem, &caps, wanted, control, &|done, of| control.count("formulas", done, of))?;
    let reasons = match found.none {
        Some(status) => reasons(&push::opened(problem, material, &caps), status, control),
        None => Default::default(),
    };
    let subject =
        Subject { material, margin, caps: &caps, let_in: problem.sentence_of_set_aside(material), in_full: whole };
    let mut warnings = warnings(of, asked);
    warnings.extend(of.by_one_film(found.points.iter().chain(&found.beyond).map(|point| &point.answer.formula)));
    let report = PushReport::new(problem, brief, subject, &found, &reasons, warnings);
    Ok(Answer { report, none: found.none })
}
