//! What there is to say of a brief before anything is mixed.

use super::smelled::Smelled;
use super::{Outcome, Resolved, compositions};
use crate::analysis::basis::in_basis;
use crate::analysis::check::{Check, Verdict};
use crate::analysis::first::First;
use crate::control::Control;
use crate::formula::Formula;
use crate::results::check::{CheckReport, SmellFirst};

/// What is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked<'a> {
    /// Whether to work out which numbers to smell first where all strengths are
    /// numbers too; where a material that may be used has one that is not, that is
    /// told in any case.
    pub first: bool,
    /// Formulas of which it is said what is idle.
    pub given: &'a [Formula],
    /// Trials of the same palette, of which those of a natural are held against it.
    pub naturals: Option<&'a Smelled>,
}

/// What a look at a brief came to.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it.
    pub report: CheckReport,
    /// Whether the rules can be kept together.
    pub verdict: Verdict,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        match self.verdict {
            Verdict::Possible => Outcome::Answered,
            Verdict::Contradictory => Outcome::No,
            Verdict::Unknown => Outcome::Stopped,
        }
    }
}

/// Looks at a brief, at what is idle of given formulas and at naturals that were
/// smelled, in what is left of the control's time.
pub fn ask(of: &Resolved, asked: Asked<'_>, control: &Control) -> Answer {
    let problem = &of.problem;
    let check = Check::of(problem, control);
    let domains = problem.domains();
    let is_loose = |at: usize| domains[at].is_ok() && problem.material(at).said.is_loose();
    let wanted = asked.first || (0..domains.len()).any(is_loose);
    let first = if wanted && check.verdict != Verdict::Contradictory { First::of(problem, control) } else { None };
    let in_basis = |read: &Formula| {
        let (file, title) = (read.file.clone(), read.title.clone());
        Formula { file, title, ..in_basis(&problem.palette, &read.rescaled(), problem.basis) }
    };
    let given: Vec<Formula> = asked.given.iter().map(in_basis).collect();
    let report = CheckReport::new(problem, &of.brief, &check, of.warnings.clone());
    let mut report = report.with_given(problem, &given);
    let naturals = asked.naturals.map(|read| compositions::beside(read, read.trials.matching));
    report.compositions = naturals.unwrap_or_default();
    report.smell_first = first.map(|first| SmellFirst::new(&first));
    Answer { report, verdict: check.verdict }
}
