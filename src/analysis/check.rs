//! A brief looked at before anything is mixed.

use super::audit::{Finding, findings};
use super::repair::Reasons;
use crate::control::Control;
use crate::pool::in_parallel;
use crate::problem::Problem;
use crate::solve::reach::{End, Reaches};
use crate::solve::{Feasibility, feasibility};

/// Whether the rules of a brief can be kept together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// A formula keeps them.
    Possible,
    /// Proven that none does.
    Contradictory,
    /// Not found out in time.
    Unknown,
}

/// What a look at a brief came to.
#[derive(Clone, Debug)]
pub struct Check {
    /// Whether the rules can be kept together.
    pub verdict: Verdict,
    /// Why not.
    pub reasons: Reasons,
    /// For each counted descriptor the least and the greatest value that a
    /// blend inside the rules can have, counts, steps and least doses set
    /// aside; empty where the rules contradict each other.
    pub ranges: Vec<[Option<End>; 2]>,
    /// What else strikes.
    pub findings: Vec<Finding>,
}

impl Check {
    /// Looks at a problem in what is left of the control's time.
    pub fn of(problem: &Problem, control: &Control) -> Check {
        let (verdict, known) = match feasibility(problem, control) {
            Feasibility::Possible(formula) => (Verdict::Possible, vec![formula]),
            Feasibility::Impossible => (Verdict::Contradictory, Vec::new()),
            Feasibility::Unknown => (Verdict::Unknown, Vec::new()),
        };
        if verdict == Verdict::Contradictory {
            // Whatever is required contradicts as well: only what the shelf
            // itself says is worth a word.
            let reasons = Reasons::of(problem, control);
            let findings = findings(problem, None, control);
            return Check { verdict, reasons, ranges: Vec::new(), findings };
        }
        let relaxed = problem.relaxed();
        let counted: Vec<usize> = (0..problem.targets.len()).collect();
        let reaches = Reaches::new(&relaxed);
        let range = |&counted: &usize| reaches.as_ref().map(|reaches| reaches.of(counted, control));
        let ranges = in_parallel(&counted, control, range).into_iter().map(Option::flatten);
        let ranges = ranges.map(|range| range.unwrap_or([None, None])).collect();
        let findings = findings(problem, Some(&known[..]), control);
        Check { verdict, reasons: Reasons::default(), ranges, findings }
    }
}
