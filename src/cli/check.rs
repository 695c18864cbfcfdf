//! `permil check`.

use std::path::PathBuf;

use super::shared::{FormatName, Search, Shown};
use super::{Ending, output, stop};
use crate::analysis::check::{Check, Verdict};
use crate::files::{Scenario, load_scenario};
use crate::problem::Problem;
use crate::results::check::CheckReport;

const AFTER_HELP: &str = "\
Examples:
  permil check profiles/rose-otto/brief.toml
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
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the brief, looks at it and reports.
pub fn run(args: &Args) -> Ending {
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, args.shown.color),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    if args.shown.format != FormatName::Text {
        // The text has them among what is worth a second look.
        output::warn(&warnings, args.shown.quiet);
    }
    let check = Check::of(&problem, &stop::control(&args.search, stop::on_interrupt()));
    let ending = match check.verdict {
        Verdict::Possible => Ending::Done,
        Verdict::Contradictory => Ending::No,
        Verdict::Unknown => Ending::NoAnswer,
    };
    let report = CheckReport::new(&problem, &brief, &check, warnings);
    output::answer(&report, &args.shown, ending)
}
