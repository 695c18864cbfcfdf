//! `--trials`: a brief by what trials taught.

use std::path::PathBuf;

use super::error::CliError;
use super::session::Session;
use crate::control::Control;
use crate::questions::Resolved;
use crate::results::taught::TaughtReport;

/// Trials that a brief is answered by.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Trials")]
pub struct Lessons {
    /// Answer by what these trials taught, with the errors that they have tied together;
    /// the palette's file stays as it is
    #[arg(long, value_name = "TRIALS")]
    trials: Option<PathBuf>,
    /// Put all trials together, however they were smelled
    #[arg(long, requires = "trials")]
    pool: bool,
}

impl Lessons {
    /// Whether trials were named.
    pub fn is_asked(&self) -> bool {
        self.trials.is_some()
    }

    /// The brief by what the trials taught, where some were named.
    ///
    /// # Errors
    /// All the faults of the files, or that the trials are of another palette.
    pub fn taught(&self, session: &Session, of: Resolved) -> Result<(Resolved, Option<TaughtReport>), CliError> {
        let Some(path) = &self.trials else { return Ok((of, None)) };
        let read = session.smelled(path, true)?;
        session.share_palette(&of.problem.palette, &read)?;
        session.warn(&read.warnings);
        let (taught, report) = of.taught(&read, self.pool, &Control::default());
        Ok((taught, Some(report)))
    }

    /// The same where the report has no place of its own for it: it is among what is
    /// remarked.
    ///
    /// # Errors
    /// As [`Lessons::taught`].
    pub fn remarked(&self, session: &Session, of: Resolved) -> Result<Resolved, CliError> {
        let (mut taught, report) = self.taught(session, of)?;
        taught.warnings.extend(report.map(|report| report.told()));
        Ok(taught)
    }
}
