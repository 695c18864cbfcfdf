//! Which blend comes nearest to a brief, how sure that is, and what holds it
//! back.
//!
//! [`ask`] answers in one go. A page that shows what is known as it becomes
//! known takes the same steps one by one: [`watched`], [`at_once`], [`around`].

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::{NO_BLEND, Outcome, Refusal, Resolved, best, proposed};
use crate::analysis::explain::Explanation;
pub use crate::analysis::steady::Aim;
use crate::analysis::steady::{Steady, steady};
pub use crate::analysis::teaching;
use crate::analysis::teaching::teaching as mods;
pub use crate::analysis::worth::Worths;
use crate::control::{Control, Progress};
use crate::formula::Formula;
use crate::model::Blend;
use crate::results::Around;
use crate::results::propose::ProposeReport;
use crate::results::steady::SteadyReport;
use crate::results::teaching::TeachingReport;
use crate::sentences::views::NO_STEADY;
use crate::solve::certify::Unwritten;
use crate::solve::{self, Method, Solution, direct};

/// The seed of the draws that a steady formula is judged on: that of `doubt`
/// where nothing else is said, so that both tell the same.
const FRESH_DRAWS: u64 = 1;

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Which method answers.
    pub method: Method,
    /// Whether it is worked out what each rule costs and which materials could
    /// go: both take solving again.
    pub worth: bool,
    /// What is looked for over what scores and strengths may be; `None`: the best by
    /// what is written.
    pub aim: Option<Aim>,
    /// What is to be learned by what is proposed, beside the best match to be expected.
    pub explore: Option<teaching::Asked>,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked { method: Method::Auto, worth: true, aim: None, explore: None }
    }
}

/// The proposal.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All that is told of it.
    pub report: ProposeReport,
    /// The formula that is reported, and how sure it is.
    pub solution: Solution,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.solution.status, NO_BLEND)
    }

    /// The formula, where there is one.
    pub fn formula(&self) -> Option<&Formula> {
        self.solution.answer.as_ref().map(|answer| &answer.formula)
    }
}

/// Finds the blend that comes nearest, and says what holds it back in what is
/// then left of the time.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn ask(of: &Resolved, asked: &Asked, control: &Control) -> Result<Answer, Refusal> {
    let solution = found(of, asked, control)?;
    Ok(explained(of, solution, asked, &control.untold()))
}

/// The solution alone: the first part of [`ask`].
///
/// # Errors
/// As [`ask`].
pub fn found(of: &Resolved, asked: &Asked, control: &Control) -> Result<Solution, Refusal> {
    let is_steady = asked.aim == Some(Aim::Steady);
    if is_steady {
        of.linear("--steady")?;
    }
    if is_steady && of.problem.views.len() > 1 {
        return Err(Refusal::Wrong(NO_STEADY.to_owned()));
    }
    // A search over the draws begins at the best.
    if asked.aim.is_some() { best(of, asked.method, control) } else { proposed(of, asked.method, control) }
}

/// What is to be said of a solution that is known: the rest of [`ask`].
pub fn explained(of: &Resolved, mut solution: Solution, asked: &Asked, control: &Control) -> Answer {
    let of = of.as_settled();
    let problem = &of.problem;
    let nearest = solution.answer.clone().zip(asked.aim);
    let found =
        nearest.as_ref().and_then(|(best, aim)| steady(problem, best, *aim, FRESH_DRAWS, asked.method, control));
    let told = nearest.as_ref().zip(found.as_ref()).map(|((best, _), found)| SteadyReport::new(problem, best, found));
    let explored = asked.explore.zip(found.as_ref()).and_then(|(asked, found)| {
        let pool: Vec<Formula> =
            std::iter::once(found.answer.formula.clone()).chain(found.pool.iter().cloned()).collect();
        mods(problem, &pool, asked, control)
    });
    let explore = explored.as_ref().map(|explored| TeachingReport::new(problem, explored));
    let first = explored.and_then(|explored| Some(explored.mods.into_iter().next()?.answer));
    let taken = first.or_else(|| found.filter(Steady::buys).map(|found| found.answer));
    // What the rules cost is asked of the best on paper alone.
    let worth = asked.worth && taken.is_none() && !solution.gives();
    if let Some(found) = taken {
        solution.status = solve::Status::Feasible;
        solution.is_cheapest = false;
        solution.answer = Some(found);
    }
    let explanation = Explanation::of(problem, &solution, worth, asked.method, control);
    let report = ProposeReport::new(problem, &of.brief, &solution, &explanation, of.warnings.clone())
        .with_found(asked.aim, told)
        .with_explored(explore)
        .proven_for(of.holds(), of.any_amounts_fidelity());
    Answer { report, solution }
}

/// What is known at once of a solution, before anything is solved again.
pub fn at_once(of: &Resolved, solution: &Solution) -> ProposeReport {
    let of = of.as_settled();
    ProposeReport::new(&of.problem, &of.brief, solution, &Explanation::default(), of.warnings.clone())
        .proven_for(of.holds(), of.any_amounts_fidelity())
}

/// What holds a solution back and what could go from it, with the changes of
/// the rules behind it; `None` where there is no formula.
pub fn around(of: &Resolved, solution: &Solution, method: Method, control: &Control) -> Option<(Around, Worths)> {
    let of = of.as_settled();
    let answer = solution.answer.as_ref()?;
    let explanation = Explanation::of(&of.problem, solution, !solution.gives(), method, control);
    let around = Around::new(&of.problem, answer, &explanation);
    Some((around, explanation.worths.unwrap_or_default()))
}

/// A formula on the way to the best.
#[derive(Debug)]
pub enum Piece<'a> {
    /// The best over any doses, where the brief asks for steps, counts or least
    /// doses: known at once.
    Continuous(&'a solve::Answer),
    /// One that keeps every rule and is nearer than those before it, and the
    /// fidelity in percent that none can pass.
    Better(&'a solve::Answer, f64),
}

/// Finds the blend that comes nearest and shows what there is on the way. `heard`
/// is called from the threads that search; the control's own listener is not.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn watched(
    of: &Resolved,
    method: Method,
    control: &Control,
    heard: &(dyn Fn(Piece<'_>) + Sync),
) -> Result<Solution, Refusal> {
    let of = of.settled(method, &control.untold())?;
    if let Some(found) = &of.found {
        // Found with its clocks, in one go.
        return Ok(found.solution.clone().giving(&of.problem, &control.untold())?);
    }
    let problem = &of.problem;
    // Over continuous doses the answer itself comes as fast.
    if problem.is_whole_part()
        && !Blend::new(problem).is_continuous()
        && let Ok(Solution { answer: Some(answer), .. }) = direct::best(&problem.relaxed(), control)
    {
        heard(Piece::Continuous(&answer));
    }
    let bound = Arc::new(AtomicU64::new(0.0_f64.to_bits()));
    let told = Arc::clone(&bound);
    let listener = move |progress: Progress| told.store(progress.bound.to_bits(), Ordering::Relaxed);
    let control = Control { progress: Some(Arc::new(listener)), ..control.clone() };
    let found = |answer: solve::Answer| {
        let most = problem.fidelity_percent(f64::from_bits(bound.load(Ordering::Relaxed)));
        heard(Piece::Better(&answer, most));
    };
    Ok(solve::propose_watched(problem, method, &control, &found)?.giving(problem, &control.untold())?)
}

/// What the proof of a solution rests on, as a text for `permil verify`.
///
/// # Errors
/// A solver failed, the time did not suffice, or rounding decides.
pub fn certificate(of: &Resolved, solution: &Solution, control: &Control) -> Result<String, Refusal> {
    let written = solve::certify::certify(&of.as_settled().problem, solution, control)?;
    written.map_err(|why| Refusal::Stopped(no_certificate(why).to_owned()))
}

fn no_certificate(why: Unwritten) -> &'static str {
    match why {
        Unwritten::NothingProven => {
            "there is no certificate, since nothing was proven in the time allowed; a longer --time-limit may do"
        }
        Unwritten::OutOfTime => "the certificate was not finished in the time allowed; a longer --time-limit may do",
        Unwritten::NotClosed => {
            "there is no certificate: in one part of the proof the numbers lie so close together that rounding \
             decides, and a certificate says nothing that rounding decides; more time does not help"
        }
    }
}
