//! `permil check`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::session::Session;
use super::shared::{Search, Shown};
use crate::questions::Resolved;
use crate::questions::check::{self, Asked};

const AFTER_HELP: &str = "\
Examples:
  permil check profiles/rose-otto/brief.toml
  permil check brief.toml mod-3.toml
  permil check brief.toml --first
  permil check brief.toml --trials trials.toml
  permil check brief.toml --format json

Exit status:
  0  the rules can be kept together, whatever else there is to say
  1  no blend can meet the brief
  2  wrong usage, or a fault in the files
  3  stopped before it was known whether a blend can meet the brief";

/// Look at a brief before anything is mixed
///
/// Says whether the rules can be kept together, how much and how little of
/// each descriptor a blend inside them can have, which materials can never be
/// used and why, which steps are too coarse for strong materials, and what
/// looks odd about the shelf: strengths, twins, naturals without constituents.
/// Where strengths are words or comparisons it says which numbers to smell first,
/// and of formulas that are given how much of them is not heard.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// Formulas of which it is said what is idle weight
    formulas: Vec<PathBuf>,
    /// Hold the palette against the naturals among these trials whose composition
    /// is known
    #[arg(long, value_name = "TRIALS")]
    trials: Option<PathBuf>,
    /// Say which numbers to smell first where every strength is a number too
    #[arg(long)]
    first: bool,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the brief, looks at it and reports.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let scenario = session.scenario(&args.brief)?;
    let naturals = session.naturals(args.trials.as_deref(), &scenario.palette)?;
    let mut resolved = Resolved::from(scenario);
    let given = session.formulas(&args.formulas, &mut resolved)?;
    if !session.is_text() {
        // The text has them among what is worth a second look.
        session.warn(&resolved.warnings);
    }
    let asked = Asked { first: args.first, given: &given, naturals: naturals.as_ref() };
    let answer = session.work(&args.search, None, |control| check::ask(&resolved, asked, control));
    session.answer(&answer.report, answer.outcome())
}
