//! One file for each question that a perfumer asks: what is asked for, with its
//! defaults; how it is worked out, with its seeds, margins and shares of the
//! time; and the answer as data. Terminal, page and report ask here and say the
//! answer in their own words.
//!
//! A question is a function `ask` of a [`Resolved`] brief (or of what else it is
//! about), an `Asked` with an `impl Default` where every field has one, and a
//! [`Control`]. It gives an `Answer` with the report, what a caller needs beside
//! it and an [`Outcome`], or a [`Refusal`]. Nothing in here reads a file, a clock
//! or the environment, nor begins a thread of its own: files come resolved,
//! time, stop and progress through the control, parallel work through
//! [`pool`](crate::pool).

pub mod adjust;
pub mod buy;
pub mod check;
pub mod compare;
pub mod compositions;
pub mod doubt;
pub mod journal;
pub mod learn;
pub mod leeway;
pub mod next;
pub mod product;
pub mod propose;
pub mod push;
pub mod replace;
pub mod report;
pub mod shelf;
pub mod smelled;
pub mod starts;
pub mod strengths;
pub mod strip;
pub mod taught;
pub mod tradeoff;
pub mod verify;
pub mod weigh;

use std::sync::OnceLock;

use crate::analysis::repair::Reasons;
use crate::brief::Brief;
use crate::control::Control;
use crate::evaluate::evaluate;
use crate::files::Scenario;
use crate::formula::Formula;
use crate::limits::Limits;
use crate::palette::Material;
use crate::problem::Problem;
use crate::problem::check::{Checker, REPORT_TOLERANCE};
use crate::problem::target::fidelity_percent;
use crate::sentences::{blotter, said};
use crate::solve::clocks::{self, Holds};
use crate::solve::{self, Failure, Method, Solution, Status};

/// What most questions are about: a brief, with its shelf and its limits
/// resolved.
#[derive(Debug)]
pub struct Resolved {
    /// The problem.
    pub problem: Problem,
    /// The brief.
    pub brief: Brief,
    /// The limits files, in the order in which the brief names them.
    pub limits: Vec<Limits>,
    /// What is no fault, but may not be what was meant: of the files, then of
    /// the problem.
    pub warnings: Vec<String>,
    /// Of a brief by the clocks that were found for it, what was found.
    found: Option<Found>,
    /// The brief by the clocks that were found for it, once they are.
    settled: OnceLock<Box<Resolved>>,
}

/// What can be done where a question knows the linear law alone.
const INSTEAD: &str =
    "take the line out or say \"linear\"; propose, compare, weigh, product, journal and doubt follow the law";

/// The best formula of a brief with stages, which was found together with its clocks.
#[derive(Debug)]
struct Found {
    solution: Solution,
    holds: Holds,
    any_amounts: Option<f64>,
}

impl From<Scenario> for Resolved {
    fn from(scenario: Scenario) -> Resolved {
        let Scenario { palette, brief, limits, mut warnings } = scenario;
        let problem = Problem::new(palette, &brief, &limits);
        warnings.extend(problem.warnings.iter().cloned());
        let usable = problem.domains().into_iter().enumerate().filter(|(_, domain)| domain.is_ok());
        let usable: Vec<&Material> = usable.map(|(at, _)| problem.material(at)).collect();
        warnings.extend(said::loose(usable.iter().copied()));
        Resolved { problem, brief, limits, warnings, found: None, settled: OnceLock::new() }
    }
}

impl Resolved {
    /// Whether a question can be asked that rests on programmes of the linear law.
    ///
    /// # Errors
    /// Where the brief is judged by the compressive law.
    pub fn linear(&self, question: &str) -> Result<(), Refusal> {
        if self.problem.is_linear() {
            return Ok(());
        }
        let words = format!(
            "{question} rests on the linear law alone, and law = \"{}\" is asked for: {INSTEAD}",
            self.brief.laws.word()
        );
        Err(Refusal::Wrong(words))
    }

    /// The brief by clocks that agree with its best formula: itself where it has no stages.
    /// Found once; what is asked later has the same clocks.
    ///
    /// # Errors
    /// A solver failed, or a result failed its own check.
    pub fn settled(&self, method: Method, control: &Control) -> Result<&Resolved, Refusal> {
        if self.problem.paper.is_none() || self.found.is_some() {
            return Ok(self);
        }
        if self.settled.get().is_none() {
            let clocks::Settled { problem, solution, holds, any_amounts, .. } =
                clocks::settle(&self.problem, method, control)?;
            let (brief, limits, warnings) = (self.brief.clone(), self.limits.clone(), self.warnings.clone());
            let found = Some(Found { solution, holds, any_amounts });
            let settled = Resolved { problem, brief, limits, warnings, found, settled: OnceLock::new() };
            // Whoever was first has the same.
            let _ = self.settled.set(Box::new(settled));
        }
        Ok(self.as_settled())
    }

    /// The same as far as it is known: the brief by the clocks to begin with where none were
    /// looked for.
    pub fn as_settled(&self) -> &Resolved {
        self.settled.get().map_or(self, |settled| settled)
    }

    /// For which amounts left on the paper a bound holds; `None` where there are no stages, or
    /// no clocks were looked for.
    pub fn holds(&self) -> Option<Holds> {
        self.found.as_ref().map(|found| found.holds)
    }

    /// Fidelity in percent that no formula passes by the amounts that its own film leaves;
    /// `None` where there are no stages, or that is not known.
    pub fn any_amounts_fidelity(&self) -> Option<f64> {
        let loss = self.found.as_ref()?.any_amounts?;
        Some(fidelity_percent(loss, self.problem.worst_loss()))
    }

    /// What formulas that were all judged by the clocks of this brief come to by those of
    /// their own films, as a warning; `None` where the brief has no stages, or there are none.
    pub fn by_one_film<'a>(&self, formulas: impl Iterator<Item = &'a Formula>) -> Option<String> {
        self.problem.paper.as_ref()?;
        let (mut apart, mut broken, mut count) = (0.0_f64, 0, 0);
        for formula in formulas {
            let own = self.problem.as_it_dries(formula);
            count += 1;
            broken += usize::from(!Checker::new(&own).breaches(formula, REPORT_TOLERANCE).is_empty());
            if let (Ok(by_one), Ok(by_own)) = (evaluate(&self.problem, formula), evaluate(&own, formula)) {
                apart = apart.max((by_one.fidelity_percent - by_own.fidelity_percent).abs());
            }
        }
        (count > 0).then(|| blotter::by_one_film(apart, broken, count))
    }
}

/// The part of the time in which a brief's clocks are looked for where the answer needs more
/// than its best formula.
pub(crate) const FOR_CLOCKS: f64 = 0.4;

/// How a question ended that was put rightly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// There is an answer.
    Answered,
    /// The answer is a no, and says itself why.
    No,
    /// Proven that nothing keeps the rules, in a sentence.
    Impossible(&'static str),
    /// Stopped before there was an answer.
    Stopped,
}

impl Outcome {
    /// The outcome of a search; `impossible` says what is proven where it proves
    /// that there is none.
    pub fn of(status: Status, impossible: &'static str) -> Outcome {
        match status {
            Status::Optimal | Status::Feasible => Outcome::Answered,
            Status::Infeasible => Outcome::Impossible(impossible),
            Status::Unknown => Outcome::Stopped,
        }
    }

    /// Why there is no answer, in a sentence.
    pub fn why(self) -> Option<&'static str> {
        match self {
            Outcome::Answered | Outcome::No => None,
            Outcome::Impossible(sentence) => Some(sentence),
            Outcome::Stopped => Some("stopped without an answer"),
        }
    }
}

/// What is said where no formula keeps the rules of a brief.
pub const NO_BLEND: &str = "no blend can meet this brief (proven)";

/// Why there is no answer at all, in words fit to be shown unless a failure's.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// This cannot be asked of these files.
    #[error("{0}")]
    Wrong(String),
    /// The answer is a no, and there is nothing to report.
    #[error("{0}")]
    No(String),
    /// Stopped at a limit, with nothing to report.
    #[error("{0}")]
    Stopped(String),
    /// A solver failed, or a result failed its own check.
    #[error(transparent)]
    Failed(#[from] Failure),
}

/// The best formula of a brief, however far the control lets it be proven. What
/// is told of this search is told to nobody of those that follow: pass them
/// [`Control::untold`].
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn best(of: &Resolved, method: Method, control: &Control) -> Result<Solution, Refusal> {
    let of = of.settled(method, control)?;
    match &of.found {
        Some(found) => Ok(found.solution.clone()),
        None => Ok(solve::propose(&of.problem, method, control)?),
    }
}

/// The same, and where the brief gives match away to come nearer to a known
/// formula, the one that is nearer. Other questions compare with the best alone.
///
/// # Errors
/// As [`best`].
pub fn proposed(of: &Resolved, method: Method, control: &Control) -> Result<Solution, Refusal> {
    let of = of.settled(method, control)?;
    Ok(best(of, method, control)?.giving(&of.problem, &control.untold())?)
}

/// Why there is no formula, in what is left of the time, where that is proven.
pub fn reasons(problem: &Problem, status: Status, control: &Control) -> Reasons {
    match status {
        Status::Infeasible => Reasons::of(problem, control),
        Status::Optimal | Status::Feasible | Status::Unknown => Reasons::default(),
    }
}
