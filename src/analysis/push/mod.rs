//! How far one material can go: the best formula that keeps every rule at each
//! dose of it, all other doses solved again; what the dose gains, where the gain
//! is gone, and what gives way on both sides. What could be had over any doses
//! stands beside it as an upper limit.

mod continuous;
mod in_steps;
mod window_end;

use super::caps::Cap;
use crate::control::Control;
use crate::model::Blend;
use crate::problem::{Problem, Rule, RuleId, RuleKind};
use crate::solve::{Answer, Failure, Method, Solution, Status};

/// So many times the lowest cap is looked at.
const FURTHER: f64 = 2.0;

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The material.
    pub material: usize,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Whether formulas are proven at many doses instead of a few.
    pub many: bool,
    /// Which method proves them.
    pub method: Method,
}

/// How far a material can go.
#[derive(Clone, Debug, Default)]
pub struct Push {
    /// The best formulas that keep every rule, doses rising.
    pub points: Vec<Point>,
    /// The same beyond the lowest cap, the caps giving way as far as the dose
    /// needs and all other rules kept.
    pub beyond: Vec<Point>,
    /// What could be had over any doses and with any number of materials: doses
    /// in ppt and fidelities in percent. Empty where the brief allows any doses.
    pub upper_limit: Vec<(f64, f64)>,
    /// Whether the brief allows any doses.
    pub is_continuous: bool,
    /// The best within all rules.
    pub best: Option<Point>,
    /// The least and the greatest dose in ppt of a formula within the margin of
    /// the best.
    pub window: Option<(f64, f64)>,
    /// Whether each is certain.
    pub window_proven: [bool; 2],
    /// The best without any; `None` where no formula does without it, or none
    /// was found.
    pub without: Option<Point>,
    /// The dose in ppt from which on it is no better than without any, and
    /// whether that lies beyond a cap.
    pub gone: Option<(f64, bool)>,
    /// What gives way below the window and above it.
    pub ends: [Option<End>; 2],
    /// Doses with which no formula keeps the rules: proven.
    pub without_formula: Vec<f64>,
    /// Doses of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// Whether there was time for all of it.
    pub is_complete: bool,
    /// How sure it is that there is no formula, where there is none.
    pub none: Option<Status>,
}

/// The best formula with one dose.
#[derive(Clone, Debug)]
pub struct Point {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// The formula.
    pub answer: Answer,
    /// No formula with this dose has a loss below this, in score points.
    pub bound: f64,
    /// Whether it is proven best.
    pub proven: bool,
}

/// What gives way at an end of the window.
#[derive(Clone, Debug)]
pub struct End {
    /// The best blend there.
    pub point: Point,
    /// The counted descriptor whose gap grows most from the best dose to here,
    /// with what it adds to the loss in points.
    pub descriptor: Option<(usize, f64)>,
    /// Rules that hold the blend here and do not hold the best one.
    pub rules: Vec<Rule>,
    /// Whether the dose can go no further inside the rules.
    pub is_wall: bool,
}

/// The problem that is looked at: the dose open, and what is on hand a cap on
/// it where a batch was given.
pub fn opened(problem: &Problem, material: usize, caps: &[Cap]) -> Problem {
    let mut open = problem.freeing(material);
    for cap in caps.iter().filter(|cap| cap.rule.is_none() && cap.place.is_none()) {
        let kind = RuleKind::DoseMax(material);
        let place = crate::place::Place { file: "--batch".into(), line: 0, column: 0 };
        let id = RuleId::Stock(problem.material(material).name.as_str().into());
        open.rules.push(Rule { id, kind, place, at: cap.dose_ppt });
    }
    open
}

/// Works out how far a material can go. `done` is told how many of how many
/// formulas have ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn push(
    problem: &Problem,
    caps: &[Cap],
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Push, Failure> {
    let open = opened(problem, asked.material, caps);
    if Blend::new(&open).is_continuous() {
        continuous::over_any_doses(&open, caps, asked, control)
    } else {
        in_steps::in_steps(&open, caps, asked, control, done)
    }
}

impl Point {
    /// The best formula with a dose, and whether it is proven; `None` where the
    /// solution has none.
    fn of(solution: Solution, dose_ppt: f64) -> Option<Point> {
        let proven = solution.status == Status::Optimal;
        Some(Point { dose_ppt, answer: solution.answer?, bound: solution.bound.unwrap_or(0.0), proven })
    }
}
