//! What has come of the trials so far, and what is due to be smelled.

use super::Resolved;
use super::smelled::Smelled;
use crate::files::HistoryStep;
use crate::results::journal::JournalReport;
use crate::trials::Date;

/// What is asked for; there is no default for the day.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The brief whose target the trials are held against.
    pub brief: Option<&'a Resolved>,
    /// The day as of which things are due.
    pub today: Date,
    /// What changed in the palette, and when.
    pub history: &'a [HistoryStep],
}

/// The trials as a tree. `warnings` are those of all the files.
pub fn ask(read: &Smelled, asked: &Asked<'_>, warnings: Vec<String>) -> JournalReport {
    let against = asked.brief.map(|of| (&of.problem, &*of.brief.file));
    let dip = asked.brief.map(|of| of.brief.dip).unwrap_or_default();
    JournalReport::new(&read.palette, &read.trials, &read.neat_ppt, against, &dip, asked.today, warnings)
        .with_history(asked.history)
}
