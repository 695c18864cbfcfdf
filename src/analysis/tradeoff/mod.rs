//! What money, strength, a count or a dose buys: the best formula that keeps
//! every rule at every limit of one rule, and what happens on the way. What
//! could be had over any doses stands beside it as an upper limit.

mod by_count;
mod by_dose;
mod continuous;
mod in_steps;
mod upper_limit;

use std::time::Duration;

use super::axis::{Axis, NoRange};
use super::curve::knee;
use super::passing::{Passing, passings};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;
use crate::solve::{Answer, Failure, Method, Solution, Status};

pub use by_dose::on_grid;

/// The part of the time that the upper limit may take.
const FOR_THE_UPPER_LIMIT: f64 = 0.2;

/// A trade-off.
#[derive(Clone, Debug)]
pub struct Tradeoff {
    /// What is traded.
    pub axis: Axis,
    /// The best formulas that keep every rule, limits rising.
    pub points: Vec<Point>,
    /// Indices of the points that are told in full.
    pub formulas: Vec<usize>,
    /// What could be had over any doses and with any number of materials,
    /// limits rising; empty where the brief allows any doses, and against a
    /// count.
    pub upper_limit: Vec<Upper>,
    /// Whether the brief asks for neither steps, least doses nor a number of
    /// materials: the curve is then one line without steps.
    pub is_continuous: bool,
    /// Limits that no formula keeps: proven.
    pub without_formula: Vec<f64>,
    /// Limits of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// Whether both ends are certain.
    pub ends_proven: bool,
    /// Where the user's own limit stands, if the brief has one.
    pub own: Option<Own>,
    /// The point where the return falls off most.
    pub knee: Option<usize>,
    /// Which materials enter and leave.
    pub passings: Vec<Passing>,
    /// Whether there was time for all of it.
    pub is_complete: bool,
    /// Why there is no curve.
    pub none: Option<NoRange>,
}

/// The best at one limit, and at those beyond for which that is certain.
#[derive(Clone, Debug)]
pub struct Point {
    /// The tightest limit that the formula keeps, in the unit of the axis.
    pub at: f64,
    /// The loosest at which it is the best that was found, and as far as that
    /// is proven, the best; `at` where nothing is known beyond, infinite where
    /// no limit at all brings more.
    pub until: f64,
    /// The formula; it keeps every rule.
    pub answer: Answer,
    /// No formula with this limit has a loss below this, in score points.
    pub bound: f64,
    /// Whether it is proven best.
    pub proven: bool,
}

/// The most that blends over any doses come to at one limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Upper {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// No formula with this limit has a loss below this, in score points.
    bound: f64,
}

/// What the user's own limit means.
#[derive(Clone, Copy, Debug, Default)]
pub struct Own {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent there; `None` where no blend keeps it.
    pub fidelity: Option<f64>,
    /// What one more point of fidelity costs, in the unit of the axis; `None`
    /// where so much is not to be had, or the axis has no price.
    pub point_more: Option<f64>,
    /// What giving up one point saves.
    pub point_less: Option<f64>,
    /// Points of fidelity for one unit more of the limit.
    pub slope_up: Option<f64>,
    /// Points of fidelity for one unit less, as a positive slope where they
    /// fall with it.
    pub slope_down: Option<f64>,
}

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// What is traded.
    pub axis: Axis,
    /// How many limits are looked at between the ends of the curve.
    pub formulas: usize,
    /// Which method proves them.
    pub method: Method,
    /// What is known of the brief as it stands.
    pub known: Option<&'a Solution>,
}

/// Works a trade-off out. `done` is told how many of how many formulas have
/// ended.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn tradeoff(
    problem: &Problem,
    asked: Asked,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
) -> Result<Tradeoff, Failure> {
    tradeoff_watched(problem, asked, None, control, done, &mut |_| {})
}

/// The same, shown as it gets finer. What the brief's own formula says is shown
/// first; the upper limit takes no longer than `upper_within`, so that the next
/// picture does not wait for it.
///
/// # Errors
/// As [`tradeoff`].
pub fn tradeoff_watched(
    problem: &Problem,
    asked: Asked,
    upper_within: Option<Duration>,
    control: &Control,
    done: &(dyn Fn(usize, usize) + Sync),
    shown: &mut dyn FnMut(&Tradeoff),
) -> Result<Tradeoff, Failure> {
    let axis = asked.axis;
    if axis == Axis::Count {
        if let Some(point) = asked.known.and_then(|known| of_known(axis, known)) {
            let mut first = Tradeoff { points: vec![point], ends_proven: false, is_complete: false, ..nothing(axis) };
            first.along_the_way(problem);
            shown(&first);
        }
        return by_count::by_count(problem, asked.method, control, done);
    }
    let without = axis.without(problem);
    if Blend::new(&without).is_continuous() {
        return continuous::over_any_doses(problem, &without, asked, control);
    }
    let own = axis.own(problem);
    let mut for_the_upper = control.with_share(FOR_THE_UPPER_LIMIT);
    if let Some(limit) = upper_within {
        for_the_upper = for_the_upper.within(limit);
    }
    let above = upper_limit::upper_limit(axis, &without, own, &for_the_upper)?;
    match axis.loosens_upwards() {
        Some(_) => in_steps::in_steps(problem, &without, asked, &above, control, done, shown),
        None => by_dose::by_dose(problem, &without, asked, above, control, done),
    }
}

/// What is known of the brief as it stands, as a point.
fn of_known(axis: Axis, known: &Solution) -> Option<Point> {
    let answer = known.answer.clone()?;
    let (at, proven) = (axis.of(&answer)?, known.status == Status::Optimal);
    Some(Point { at, until: at, bound: known.bound.unwrap_or(0.0), answer, proven })
}

fn nothing(axis: Axis) -> Tradeoff {
    Tradeoff {
        axis,
        points: Vec::new(),
        formulas: Vec::new(),
        upper_limit: Vec::new(),
        is_continuous: false,
        without_formula: Vec::new(),
        not_computed: Vec::new(),
        ends_proven: true,
        own: None,
        knee: None,
        passings: Vec::new(),
        is_complete: true,
        none: None,
    }
}

impl Tradeoff {
    /// (limit, fidelity) of each point.
    pub fn heights(&self) -> Vec<(f64, f64)> {
        self.points.iter().map(|point| (point.at, point.answer.evaluation.fidelity_percent)).collect()
    }

    /// The point whose formula is the best known at a limit.
    pub fn kept_at(&self, limit: f64) -> Option<&Point> {
        match self.axis.loosens_upwards() {
            Some(true) => self.points.iter().rev().find(|point| point.at <= limit),
            Some(false) => self.points.iter().find(|point| point.at >= limit),
            None => self.points.iter().find(|point| point.at == limit),
        }
    }

    /// Takes the solutions at some limits, one each.
    fn take(&mut self, limits: Vec<f64>, solutions: Vec<Solution>) {
        for (at, solution) in limits.into_iter().zip(solutions) {
            let proven = solution.status == Status::Optimal;
            match solution.answer {
                Some(answer) => {
                    let bound = solution.bound.unwrap_or(0.0);
                    self.points.push(Point { at, until: at, answer, bound, proven });
                }
                None if solution.status == Status::Infeasible => self.without_formula.push(at),
                None => self.not_computed.push(at),
            }
        }
        self.is_complete &= self.not_computed.is_empty();
        self.formulas = (0..self.points.len()).collect();
    }

    fn along_the_way(&mut self, problem: &Problem) {
        self.knee = knee(&self.heights());
        let dose = |point: &Point| {
            let mut doses = vec![0.0; problem.columns.len()];
            point.answer.formula.parts.iter().for_each(|&(material, dose)| doses[material] = dose.as_f64());
            doses
        };
        let mut places: Vec<f64> = Vec::new();
        let mut doses: Vec<Vec<f64>> = Vec::new();
        for point in &self.points {
            // A step is as good as both of its ends.
            let (from, to) = (point.at.min(point.until), point.at.max(point.until));
            places.push(if from.is_finite() { from } else { point.at });
            doses.push(dose(point));
            if to.is_finite() && to > from && from.is_finite() {
                places.push(to);
                doses.push(dose(point));
            }
        }
        self.passings = passings(&places, &doses, self.axis == Axis::Count);
    }
}
