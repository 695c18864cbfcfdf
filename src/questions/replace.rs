//! What takes the place of a material in a formula.

use super::{Outcome, Refusal, Resolved, reasons};
use crate::analysis::basis::in_basis;
use crate::analysis::repair::Reasons;
pub use crate::analysis::replace::Wish;
use crate::analysis::replace::replace;
use crate::control::Control;
use crate::files::ReadFormula;
use crate::formula::Formula;
use crate::results::replace::{ReplaceReport, Subject};
use crate::solve::{Method, Status};

/// What is said where nothing fits.
const NOTHING_FITS: &str = "nothing can take its place within the rules (proven)";

/// What is asked for; there is no default for the formula.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    /// The formula as it was read, with the lines of its parts; parts that do not
    /// add up to 1000 are scaled.
    pub read: &'a ReadFormula,
    /// What is taken out or lowered, and what may come in.
    pub wish: Wish,
    /// Whether the text names the rules that collide where nothing fits.
    pub says_why: bool,
    /// Whether they are looked for all the same, for a format that has them.
    pub wants_why: bool,
    /// Which method answers.
    pub method: Method,
}

/// The replacement.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All that is told of it.
    pub report: ReplaceReport,
    /// The new formula, with a title that says what is not in it any more.
    pub formula: Option<Formula>,
    /// How sure it is that none is nearer.
    pub status: Status,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.status, NOTHING_FITS)
    }
}

/// A formula as 1000 parts in the basis of a brief.
pub fn in_basis_of(of: &Resolved, read: &Formula) -> Formula {
    in_basis(&of.problem.palette, &read.rescaled(), of.problem.basis)
}

/// Looks for the formula that comes nearest to the old one's own profile.
///
/// # Errors
/// Nothing in the formula smells of what counts, or a solver failed.
pub fn ask(of: &Resolved, asked: &Asked<'_>, control: &Control) -> Result<Answer, Refusal> {
    of.linear("replace")?;
    let Resolved { problem, brief, .. } = of;
    let ReadFormula { formula: read, places } = asked.read;
    let formula = in_basis_of(of, read);
    // By what its own film leaves: what takes its place leaves nearly as much.
    let problem = &problem.as_it_dries(&formula);
    let own = problem.with_profile_of(brief, &formula).ok_or_else(|| {
        let words = "nothing in the formula has an odour that counts, so nothing can be told to come near it";
        Refusal::Wrong(words.to_owned())
    })?;
    let control = &control.untold();
    let done = |done, of| control.count("searches", done, of);
    let found = replace(&own, &formula, places, &asked.wish, asked.method, control, &done)?;
    let status = found.solution.status;
    // The reasons are looked for in what is left of the time.
    let is_told = asked.says_why || asked.wants_why;
    let why = if is_told { reasons(&found.rules, status, control) } else { Reasons::default() };
    let subject = Subject { problem, own: &own, brief, read, formula: &formula };
    let report = ReplaceReport::new(&subject, &asked.wish, &found, &why, of.warnings.clone());
    let report = ReplaceReport { says_why: asked.says_why, ..report };
    let title = title(of, read, &asked.wish);
    let formula = found.solution.answer.map(|answer| Formula { title, ..answer.formula });
    Ok(Answer { report, formula, status })
}

/// A title that says what is not in a formula any more.
fn title(of: &Resolved, read: &Formula, wish: &Wish) -> Option<String> {
    let asked = wish.out.iter().chain(wish.lowered.iter().map(|(material, _)| material));
    let names: Vec<&str> = asked.map(|&material| of.problem.material(material).name.as_str()).collect();
    let old = read.title.clone()?;
    Some(if names.is_empty() { old } else { format!("{old}, {} replaced", names.join(" and ")) })
}
