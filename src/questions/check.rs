//! What there is to say of a brief before anything is mixed.

use super::{Outcome, Resolved};
use crate::analysis::basis::in_basis;
use crate::analysis::check::{Check, Verdict};
use crate::control::Control;
use crate::formula::Formula;
use crate::results::check::CheckReport;

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

/// Looks at a brief, and at what is idle of given formulas, in what is left of the
/// control's time.
pub fn ask(of: &Resolved, given: &[Formula], control: &Control) -> Answer {
    let check = Check::of(&of.problem, control);
    let in_basis = |read: &Formula| {
        let (file, title) = (read.file.clone(), read.title.clone());
        Formula { file, title, ..in_basis(&of.problem.palette, &read.rescaled(), of.problem.basis) }
    };
    let given: Vec<Formula> = given.iter().map(in_basis).collect();
    let report = CheckReport::new(&of.problem, &of.brief, &check, of.warnings.clone()).with_given(&of.problem, &given);
    Answer { report, verdict: check.verdict }
}
