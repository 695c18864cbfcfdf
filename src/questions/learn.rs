//! Which scores and strengths explain what was smelled.

use super::smelled::Smelled;
use super::{Outcome, compositions};
use crate::analysis::learn::{self, Untrusted};
pub use crate::analysis::learn::{Asked, Learned};
use crate::control::Control;
use crate::results::learn::LearnReport;

/// What was learned.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All that is told of it.
    pub report: LearnReport,
    /// The correction; `None` where no trial says anything.
    pub learned: Option<Learned>,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        match self.learned {
            Some(_) => Outcome::Answered,
            None => Outcome::Impossible("no trial says anything yet"),
        }
    }

    /// Why the correction should not be kept, in words; `None` where it may be.
    pub fn distrust(&self) -> Option<String> {
        self.learned.as_ref()?.is_untrusted().map(|why| match why {
            Untrusted::Restless => "the estimate did not come to rest".to_owned(),
            Untrusted::Misfits(misfits, trials) => format!("{misfits} of {trials} trials do not fit the others"),
        })
    }
}

/// Learns from trials. `warnings` are those of the files; the trials' own are
/// among them.
pub fn ask(read: &Smelled, asked: Asked, warnings: Vec<String>, control: &Control) -> Answer {
    let (learned, aside) = learn::learn(&read.palette, &read.trials, &read.neat_ppt, asked, control);
    let (exponent, pool) = (asked.exponent, asked.pool);
    let mut report = LearnReport::new(&read.palette, &read.trials, exponent, pool, learned.as_ref(), &aside, warnings);
    report.compositions = compositions::beside(read, report.matching);
    Answer { report, learned }
}
