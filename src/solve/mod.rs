//! The one place that knows a solver: from a problem to a verified formula
//! with a proof, or with an honest bound.

pub mod backend;
pub mod below;
mod borrowed;
mod boxes;
mod by_method;
pub mod certify;
mod cheapest;
pub mod clocks;
pub mod curved;
pub mod direct;
pub mod extent;
mod glance;
pub mod least;
pub mod nearer;
pub mod nearest;
mod next_worst;
mod own_film;
pub(crate) mod quiet;
pub mod ratio;
pub mod reach;
pub mod search;
mod second_opinion;
pub mod shares;
mod traces;
pub mod usual;
mod verify;

use crate::control::Control;
use crate::evaluate::Evaluation;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::Problem;
pub use crate::tolerance::loss::PROVEN;
use backend::Backend;
use by_method::{by_curved, nearest_of};
use search::{Aim, Known};

/// Which method proposes the formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Method {
    /// One linear programme where that is enough, the exact search otherwise.
    #[default]
    Auto,
    /// The exact search, whatever the rules.
    Search,
    /// A borrowed solver: the linear programme of Charnes and Cooper, or
    /// Dinkelbach's method on mixed-integer programmes.
    Borrowed(Backend),
}

/// How sure an answer is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Proven best: loss - bound <= [`PROVEN`] max(1, loss).
    Optimal,
    /// Inside the rules, not proven best.
    Feasible,
    /// Proven that no formula keeps all rules.
    Infeasible,
    /// Stopped before a formula was found or excluded.
    Unknown,
}

impl Status {
    /// The word that reports use.
    pub fn word(self) -> &'static str {
        match self {
            Status::Optimal => "optimal",
            Status::Feasible => "feasible",
            Status::Infeasible => "infeasible",
            Status::Unknown => "unknown",
        }
    }
}

/// A verified formula.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The formula; keeps every rule, adds up to exactly 1000.
    pub formula: Formula,
    /// Judged in plain arithmetic.
    pub evaluation: Evaluation,
}

/// What solving a problem came to.
#[derive(Clone, Debug)]
pub struct Solution {
    /// How sure it is.
    pub status: Status,
    /// The best formula found.
    pub answer: Option<Answer>,
    /// No formula inside the rules has a loss below this, in score points.
    /// `None` where there is no formula at all.
    pub bound: Option<f64>,
    /// Whether it is proven that no formula of equal loss (within 1e-7
    /// max(1, loss)) is cheaper; not asked of solutions that serve another.
    pub is_cheapest: bool,
    /// Nodes of the search.
    pub nodes: u64,
    /// Simplex iterations of the search.
    pub iterations: u64,
    /// What was given away of the match to come nearer to a known formula, where
    /// that was asked for.
    pub given: Option<Box<Given>>,
}

/// A formula that is not the best because it is nearer to a known one.
#[derive(Clone, Debug)]
pub struct Given {
    /// The formula that gives nothing away.
    pub best: Answer,
    /// The nearer one; the same where none is nearer.
    pub nearer: nearer::Nearer,
}

/// Why there is no solution to report. Neither case is the user's doing.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Failure {
    /// The method asked for cannot take this problem.
    #[error("{0}")]
    Unsupported(String),
    /// A result did not pass its own check, or a solver panicked.
    #[error("internal error: {0}")]
    Internal(String),
}

/// What is known of a problem before it is solved, from others like it.
#[derive(Clone, Debug, Default)]
pub struct Start {
    /// Formulas of the problem's basis that may keep its rules; those that do
    /// not are passed over.
    pub formulas: Vec<Formula>,
    /// No formula inside the rules has a loss below this, in score points:
    /// the bound of a problem with the same rules or looser ones. 0 says
    /// nothing.
    pub bound: f64,
    /// Formulas with a loss of this or more are of no use: a search may end
    /// without one when it has shown that there is none below. The status is
    /// then `Unknown`, and the bound is this, less what counts as equal.
    pub ceiling: Option<f64>,
}

/// Finds the best formula of a problem, and in what is then left of the time the
/// cheapest of those that are as near.
///
/// # Errors
/// Where the method cannot take the problem, or a result failed its check.
pub fn propose(problem: &Problem, method: Method, control: &Control) -> Result<Solution, Failure> {
    watched(problem, &Start::default(), method, control, None, true)
}

/// Finds the best formula of a problem of which something is known. A linear
/// programme is solved afresh; the search begins with what is known.
///
/// # Errors
/// As [`propose`].
pub fn propose_from(problem: &Problem, start: &Start, method: Method, control: &Control) -> Result<Solution, Failure> {
    watched(problem, start, method, control, None, false)
}

/// The same as [`propose`], shown as it goes on: `found` gets every formula of
/// the search that keeps all rules and is nearer than those before it. It is
/// called from the threads that search.
///
/// # Errors
/// As [`propose`].
pub fn propose_watched(
    problem: &Problem,
    method: Method,
    control: &Control,
    found: &(dyn Fn(Answer) + Sync),
) -> Result<Solution, Failure> {
    watched(problem, &Start::default(), method, control, Some(found), true)
}

/// Whom to show the formulas of a search.
type Watcher<'a> = Option<&'a (dyn Fn(Answer) + Sync)>;

fn watched(
    problem: &Problem,
    start: &Start,
    method: Method,
    control: &Control,
    found: Watcher<'_>,
    by_price: bool,
) -> Result<Solution, Failure> {
    // Rows and doses know no law; the objective of this one is not asked where a view is
    // not linear.
    let blend = if problem.is_linear() { Blend::new(problem) } else { Blend::new(&problem.plain()) };
    let verifier = verify::Verifier::new(problem, &blend);
    let solution = if problem.is_linear() {
        nearest_of(&blend, &verifier, start, method, control, found)?
    } else {
        by_curved(problem, &blend, &verifier, start, method, control, found)?
    };
    if matches!(method, Method::Borrowed(_)) {
        return Ok(solution);
    }
    let solution = if by_price && problem.is_linear() {
        let mut among = blend.clone();
        let next_worst::NextWorst { solution, kept } =
            next_worst::next_worst(problem, &blend, &verifier, solution, control)?;
        among.caps.extend(kept);
        cheapest::cheapest(&among, &verifier, solution, control)?
    } else {
        solution
    };
    Ok(match solution.answer {
        Some(answer) if !blend.is_whole_part() => {
            let answer = traces::cleared(problem, &blend, &verifier, answer);
            Solution { answer: Some(answer), ..solution }
        }
        _ => solution,
    })
}

impl Solution {
    fn unknown() -> Solution {
        Solution {
            status: Status::Unknown,
            answer: None,
            bound: Some(0.0),
            is_cheapest: false,
            nodes: 0,
            iterations: 0,
            given: None,
        }
    }

    fn infeasible() -> Solution {
        Solution { status: Status::Infeasible, bound: None, ..Solution::unknown() }
    }

    /// The solution with the formula that comes nearer to what the brief wants to
    /// stay near to, where it gives match away for that and `self` has a formula.
    ///
    /// # Errors
    /// Where a result failed its check.
    pub fn giving(self, problem: &Problem, control: &Control) -> Result<Solution, Failure> {
        let near = problem.near.as_ref().and_then(|near| Some((&near.skeleton, near.give?)));
        let (Some((skeleton, give)), Some(best)) = (near, self.answer.clone()) else { return Ok(self) };
        if !problem.is_linear() {
            let by = problem.laws_in_words();
            let why = format!("[near] give rests on the linear law alone, and the brief is judged by {by}");
            return Err(Failure::Unsupported(why));
        }
        let Some(nearer) = nearer::nearer(problem, skeleton, give, &best, control)? else { return Ok(self) };
        let is_best = nearer.answer.formula.parts == best.formula.parts;
        let given = Some(Box::new(Given { best, nearer: nearer.clone() }));
        if is_best {
            return Ok(Solution { given, ..self });
        }
        let told = Solution::from_parts(Some(nearer.answer), self.bound.unwrap_or(0.0));
        Ok(Solution { status: told.status, answer: told.answer, is_cheapest: false, given, ..self })
    }

    /// Whether the formula is another one than the best, since that is nearer to
    /// a known one.
    pub fn gives(&self) -> bool {
        let differs = |given: &Given| given.best.formula.parts != given.nearer.answer.formula.parts;
        self.given.as_deref().is_some_and(differs)
    }

    /// The same with the formula that gives nothing away.
    pub fn on_match_alone(&self) -> Solution {
        match &self.given {
            Some(given) if self.gives() => {
                let told = Solution::from_parts(Some(given.best.clone()), self.bound.unwrap_or(0.0));
                Solution { status: told.status, answer: told.answer, given: None, ..self.clone() }
            }
            _ => Solution { given: None, ..self.clone() },
        }
    }

    /// A solution from a formula and a proven bound.
    pub fn from_parts(answer: Option<Answer>, bound: f64) -> Solution {
        let Some(answer) = answer else {
            return if bound.is_infinite() {
                Solution::infeasible()
            } else {
                Solution { bound: Some(bound.max(0.0)), ..Solution::unknown() }
            };
        };
        let loss = answer.evaluation.loss;
        let bound = bound.clamp(0.0, loss);
        let proven = loss - bound <= PROVEN * loss.max(1.0);
        let status = if proven { Status::Optimal } else { Status::Feasible };
        Solution { status, answer: Some(answer), bound: Some(bound), ..Solution::unknown() }
    }
}

/// A formula that no solver offered as an answer; `None` unless it is in the
/// problem's basis and keeps every rule.
pub fn kept(problem: &Problem, formula: &Formula) -> Option<Answer> {
    let blend = Blend::new(problem);
    let verifier = verify::Verifier::new(problem, &blend);
    let doses = (formula.basis == problem.basis).then(|| blend.column_doses(formula))??;
    verifier.judge(&doses)?;
    verifier.answer(&doses).ok()
}

/// Whether the rules of a problem can be kept at all.
#[derive(Clone, Debug)]
pub enum Feasibility {
    /// By this formula, verified.
    Possible(Formula),
    /// Proven that no formula keeps them.
    Impossible,
    /// Stopped before either was known.
    Unknown,
}

/// Looks for any formula that keeps all rules, however far from the target.
pub fn feasibility(problem: &Problem, control: &Control) -> Feasibility {
    let blend = Blend::new(problem);
    let verifier = verify::Verifier::new(problem, &blend);
    if let Some(seen) = glance::feasibility(&blend, &verifier) {
        return seen;
    }
    let outcome = search::search(
        &blend,
        &|doses| verifier.judge(doses),
        verifier.tolerance(),
        Aim::Any,
        &Known::default(),
        control,
    );
    // A search that failed has found out nothing.
    let Ok(outcome) = outcome else { return Feasibility::Unknown };
    match outcome.found.map(|found| verifier.answer(&found.doses)) {
        Some(Ok(answer)) => Feasibility::Possible(answer.formula),
        None if outcome.bound.is_infinite() => Feasibility::Impossible,
        _ => Feasibility::Unknown,
    }
}
