//! Linear-fractional programmes: the best value of
//! (p x + p0) / (q x + q0) over the rows and bounds of a [`Programme`], where
//! the denominator is positive.
//!
//! Two methods, each resting on programmes without a ratio:
//!
//! - [`charnes_cooper`] turns a continuous one into a single linear programme.
//!   A. Charnes and W. W. Cooper, "Programming with linear fractional
//!   functionals", Naval Research Logistics Quarterly 9 (1962) 181-186.
//! - [`dinkelbach`] solves a sequence with the objective
//!   N(x) - lambda D(x), whole numbers included.
//!   W. Dinkelbach, "On nonlinear fractional programming", Management Science
//!   13 (1967) 492-498.
//!
//! The direction is the programme's own [`Sense`]; its costs are not looked
//! at.

use thiserror::Error;

use super::backend::{self, Backend, FEASIBILITY, GAP, LpSolution, SolveError};
use crate::control::Control;
use crate::model::programme::{Programme, Relation, Sense};
pub use crate::tolerance::borrowed::CONVERGED;
use crate::tolerance::borrowed::NO_SCALE;

/// The method converges faster than linearly; more steps than this mean that
/// rounding has taken over.
const MAX_STEPS: usize = 100;

/// Numerator and denominator of a ratio.
#[derive(Clone, Debug, PartialEq)]
pub struct Ratio {
    /// p: one coefficient a column.
    pub numerator: Vec<f64>,
    /// p0.
    pub numerator_constant: f64,
    /// q: one coefficient a column.
    pub denominator: Vec<f64>,
    /// q0.
    pub denominator_constant: f64,
}

impl Ratio {
    /// N(x) = p x + p0.
    pub fn numerator_at(&self, x: &[f64]) -> f64 {
        dot(&self.numerator, x) + self.numerator_constant
    }

    /// D(x) = q x + q0.
    pub fn denominator_at(&self, x: &[f64]) -> f64 {
        dot(&self.denominator, x) + self.denominator_constant
    }

    /// N(x) / D(x); an error unless D(x) is positive.
    pub fn value_at(&self, x: &[f64]) -> Result<f64, RatioError> {
        let denominator = self.denominator_at(x);
        let value = self.numerator_at(x) / denominator;
        if denominator > 0.0 && value.is_finite() { Ok(value) } else { Err(RatioError::Denominator(denominator)) }
    }

    /// Refuses a ratio that does not fit the programme or is not finite.
    fn check(&self, programme: &Programme) -> Result<(), RatioError> {
        let columns = programme.columns.len();
        let constants = [self.numerator_constant, self.denominator_constant];
        let fits = self.numerator.len() == columns && self.denominator.len() == columns;
        let finite = self.numerator.iter().chain(&self.denominator).chain(&constants).all(|value| value.is_finite());
        if fits && finite {
            Ok(())
        } else {
            let what = "a ratio needs one finite coefficient a column".to_owned();
            Err(RatioError::Solve(SolveError::Invalid(what)))
        }
    }
}

/// The best point of a ratio, by [`charnes_cooper`].
#[derive(Clone, Debug, PartialEq)]
pub struct RatioSolution {
    /// Value of each column.
    pub x: Vec<f64>,
    /// N(x) / D(x), computed from `x`.
    pub value: f64,
    /// No feasible point with a positive denominator has a better ratio;
    /// `None` where the backend proves none.
    pub bound: Option<f64>,
    /// tau = 1 / D(x), the scale between the two programmes.
    pub tau: f64,
}

/// One step of Dinkelbach's method.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// The ratio of the point that the step started from.
    pub lambda: f64,
    /// F(lambda): the optimum of N(x) - lambda D(x).
    pub f: f64,
    /// Where that optimum was found.
    pub x: Vec<f64>,
}

/// A run of [`dinkelbach`].
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// The best point found.
    pub x: Vec<f64>,
    /// Its ratio.
    pub value: f64,
    /// Whether F(lambda) fell to 0, so that the point is an optimum as far as
    /// the backend is to be trusted; `false` when the deadline came first.
    pub converged: bool,
    /// The steps, in order; their lambdas only improve.
    pub steps: Vec<Step>,
}

/// Why a ratio has no answer.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RatioError {
    /// The best ratio is only approached, along a direction that never ends
    /// (tau = 0); no point attains it.
    #[error("the best ratio is approached without end, at no point")]
    Recession,
    /// The denominator, given here, is not positive where it must be.
    #[error("the denominator is {0}, and must be positive")]
    Denominator(f64),
    /// The starting point breaks a row or bound by this part of its size, or
    /// is no point of the programme at all.
    #[error("the starting point is off by {0:e} of a rule's size")]
    Start(f64),
    /// A programme on the way was not solved.
    #[error(transparent)]
    Solve(#[from] SolveError),
}

/// Solves a continuous linear-fractional programme as one linear programme
/// (Charnes and Cooper 1962).
///
/// With tau = 1 / D(x) and y = tau x: optimise p y + p0 tau subject to
/// a y - b tau compared with 0 for every row and bound, q y + q0 tau = 1 and
/// tau >= 0. Only points with D(x) > 0 take part.
///
/// # Errors
///
/// [`RatioError::Recession`] where tau comes back as 0;
/// [`SolveError::Infeasible`] where no point has a positive denominator;
/// [`SolveError::Unbounded`] where the ratio has no limit;
/// [`SolveError::Unsupported`] for whole-number columns.
pub fn charnes_cooper(
    backend: Backend,
    programme: &Programme,
    ratio: &Ratio,
    control: &Control,
) -> Result<RatioSolution, RatioError> {
    ratio.check(programme)?;
    if programme.is_mixed() {
        let what = "whole numbers do not survive the scaling of Charnes and Cooper".to_owned();
        return Err(SolveError::Unsupported(what).into());
    }
    let largest = ratio.denominator.iter().fold(ratio.denominator_constant.abs(), |most, q| most.max(q.abs()));
    if largest == 0.0 {
        return Err(RatioError::Denominator(0.0));
    }
    let scaled = scaled_programme(programme, ratio, largest);
    let solution = backend::solve(backend, &scaled, control)?;
    scaled_back(programme, ratio, largest, &solution)
}

/// The programme in y and tau; tau is its last column. The denominator is
/// divided by `largest`, so y and tau are `largest` times those of the text.
fn scaled_programme(programme: &Programme, ratio: &Ratio, largest: f64) -> Programme {
    let mut scaled = Programme { sense: programme.sense, ..Programme::default() };
    let tau = programme.columns.len();
    for (column, &p) in programme.columns.iter().zip(&ratio.numerator) {
        // A bound of 0 stays a bound; any other moves with tau.
        let lower = if column.lower == 0.0 { 0.0 } else { f64::NEG_INFINITY };
        let upper = if column.upper == 0.0 { 0.0 } else { f64::INFINITY };
        scaled.column(p / largest, lower, upper);
    }
    scaled.column(ratio.numerator_constant / largest, 0.0, f64::INFINITY);
    for row in &programme.rows {
        let mut coefficients = row.coefficients.clone();
        coefficients.push((tau, -row.rhs));
        scaled.row(coefficients, row.relation, 0.0);
    }
    let moves = |bound: f64| bound != 0.0 && bound.abs() < backend::INFINITE_FROM;
    for (j, column) in programme.columns.iter().enumerate() {
        let relations: &[(Relation, f64)] = if column.lower == column.upper {
            &[(Relation::Equal, column.lower)]
        } else {
            &[(Relation::AtLeast, column.lower), (Relation::AtMost, column.upper)]
        };
        for &(relation, bound) in relations.iter().filter(|(_, bound)| moves(*bound)) {
            scaled.row(vec![(j, 1.0), (tau, -bound)], relation, 0.0);
        }
    }
    let mut denominator: Vec<(usize, f64)> =
        ratio.denominator.iter().enumerate().map(|(j, q)| (j, q / largest)).collect();
    denominator.push((tau, ratio.denominator_constant / largest));
    scaled.row(denominator, Relation::Equal, 1.0);
    scaled
}

/// The point in x, judged again in x.
fn scaled_back(
    programme: &Programme,
    ratio: &Ratio,
    largest: f64,
    solution: &LpSolution,
) -> Result<RatioSolution, RatioError> {
    let (&tau, y) = solution.x.split_last().ok_or(RatioError::Recession)?;
    let furthest = y.iter().fold(1.0, |most: f64, value| most.max(value.abs()));
    if tau <= NO_SCALE * furthest {
        return Err(RatioError::Recession);
    }
    let x: Vec<f64> = programme
        .columns
        .iter()
        .zip(y)
        // Rounding alone may carry a value past its bound here.
        .map(|(column, value)| within(value / tau, column.lower, column.upper))
        .collect();
    let violation = programme.violation(&x);
    let value = ratio.value_at(&x)?;
    let apart = (value - solution.objective).abs() / value.abs().max(1.0);
    if violation > FEASIBILITY || apart > GAP {
        let what = format!("scaled back, it breaks a rule by {violation:e} and its ratio by {apart:e}");
        return Err(SolveError::NotCertain(what).into());
    }
    Ok(RatioSolution { x, value, bound: solution.bound, tau: tau / largest })
}

/// The value, or the bound where it oversteps one by no more than rounding.
fn within(value: f64, lower: f64, upper: f64) -> f64 {
    let near = |bound: f64| (value - bound).abs() <= FEASIBILITY * bound.abs().max(1.0);
    match (value < lower && near(lower), value > upper && near(upper)) {
        (true, _) => lower,
        (_, true) => upper,
        _ => value,
    }
}

/// Solves a linear-fractional programme, whole numbers included, by a sequence
/// of programmes without a ratio (Dinkelbach 1967).
///
/// From a point with ratio lambda the next point optimises N(x) - lambda D(x);
/// the lambdas improve until that optimum, F(lambda), is 0. Without `start` any
/// feasible point serves. When the deadline comes, the best point so far is
/// returned as not converged.
///
/// # Errors
///
/// [`RatioError::Start`] for a start outside the rules;
/// [`RatioError::Denominator`] for a point with D(x) <= 0;
/// [`SolveError::Unbounded`] where a step has no optimum: the method is for
/// bounded feasible sets.
pub fn dinkelbach(
    backend: Backend,
    programme: &Programme,
    ratio: &Ratio,
    start: Option<&[f64]>,
    control: &Control,
) -> Result<Run, RatioError> {
    ratio.check(programme)?;
    let x = match start {
        Some(point) => checked_start(programme, point)?,
        None => backend::solve(backend, &with_costs(programme, |_| 0.0), control)?.x,
    };
    let mut run = Run { value: ratio.value_at(&x)?, x, converged: false, steps: Vec::new() };
    while run.steps.len() < MAX_STEPS {
        let lambda = run.value;
        let step = with_costs(programme, |j| ratio.numerator[j] - lambda * ratio.denominator[j]);
        let x = match backend::solve(backend, &step, control) {
            Ok(solution) => solution.x,
            Err(SolveError::TimeLimit) => return Ok(run),
            Err(other) => return Err(other.into()),
        };
        let f = ratio.numerator_at(&x) - lambda * ratio.denominator_at(&x);
        let left = f.abs() / ratio.denominator_at(&run.x) / lambda.abs().max(1.0);
        let value = ratio.value_at(&x)?;
        run.steps.push(Step { lambda, f, x: x.clone() });
        let better = match programme.sense {
            Sense::Minimise => value < lambda,
            Sense::Maximise => value > lambda,
        };
        if better {
            (run.x, run.value) = (x, value);
        }
        if left <= CONVERGED {
            run.converged = true;
            return Ok(run);
        }
        if !better {
            // The solver's last digits are spent: an optimum only if what is
            // left lies within the gap it answers for.
            run.converged = left <= GAP;
            return Ok(run);
        }
    }
    Ok(run)
}

/// The starting point, once it is known to keep every row, bound and whole
/// number.
fn checked_start(programme: &Programme, point: &[f64]) -> Result<Vec<f64>, RatioError> {
    if point.len() != programme.columns.len() || point.iter().any(|value| !value.is_finite()) {
        return Err(RatioError::Start(f64::INFINITY));
    }
    let fraction = programme
        .columns
        .iter()
        .zip(point)
        .filter(|(column, _)| column.integer)
        .map(|(_, value)| (value - value.round()).abs())
        .fold(0.0, f64::max);
    let off = programme.violation(point).max(fraction);
    if off > FEASIBILITY { Err(RatioError::Start(off)) } else { Ok(point.to_vec()) }
}

/// The same rows and bounds under another objective.
fn with_costs(programme: &Programme, cost: impl Fn(usize) -> f64) -> Programme {
    let mut changed = programme.clone();
    for (j, column) in changed.columns.iter_mut().enumerate() {
        column.cost = cost(j);
    }
    changed
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
