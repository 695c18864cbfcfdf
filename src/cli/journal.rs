//! `permil journal`.

use std::path::{Path, PathBuf};

use super::Ending;
use super::applying::steps;
use super::error::CliError;
use super::plot::Plotting;
use super::session::Session;
use super::shared::{Shown, date, present_day};
use crate::chart::pairs::PairsChart;
use crate::questions::journal::{self, Asked};
use crate::questions::{Outcome, Resolved};
use crate::trials::Date;

const AFTER_HELP: &str = "\
Examples:
  permil journal profiles/rose-otto/trials.toml
  permil journal trials.toml --brief brief.toml
  permil journal trials.toml --brief brief.toml --plot way.svg
  permil journal trials.toml --today 2026-11-20 --format csv > journal.csv

What is due: a mod that no later mod has changed, and that was smelled only once
(from the day after), only within an hour of dipping (at once), only younger than
a week (from the day on which it is a week old), or never.

Exit status:
  0  done
  1  the parts of a trial do not add up to 1000
  2  wrong usage, a fault in the files, or --plot refused";

/// Show your trials as a tree, and what is due to be smelled
///
/// What is due to be smelled, and every mod under the one that it changes, with
/// what changed; with --full also what each smelled like and by how much that
/// differs. With --brief also how near to the target each one came, by your nose
/// and by the numbers, and which came nearest.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The trials
    trials: PathBuf,
    /// Hold the trials against the target of this brief
    #[arg(long, value_name = "FILE")]
    brief: Option<PathBuf>,
    /// The day as of which things are due; the present day (UTC) unless said
    #[arg(long, value_name = "DATE", value_parser = date)]
    today: Option<Date>,
    /// Scale trials whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the trials and shows what they have come of.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let read = session.smelled(&args.trials, args.rescale)?;
    args.plotting.spares(&args.trials, "which is read")?;
    if args.plotting.is_wanted() && args.brief.is_none() {
        let words = "the chart shows the way to a target; name it with --brief";
        return Err(CliError::Wrong(words.to_owned()));
    }
    let mut warnings = read.warnings.clone();
    let brief = match &args.brief {
        None => None,
        Some(path) => {
            let scenario = session.scenario(path)?;
            session.share_palette(&scenario.palette, &read)?;
            args.plotting.allowed(&scenario)?;
            warnings.extend(scenario.warnings.iter().cloned());
            Some(Resolved::from(scenario))
        }
    };
    let history = steps(Path::new(&*read.palette.file)).unwrap_or_else(|error| {
        warnings.push(error.to_string());
        Vec::new()
    });
    session.warn(&warnings);
    let today = args.today.unwrap_or_else(present_day);
    let report = journal::ask(&read, &Asked { brief: brief.as_ref(), today, history: &history }, warnings);
    session.drawn(&report, Outcome::Answered, || args.plotting.drawn_some(PairsChart::of_journal(&report)))
}
