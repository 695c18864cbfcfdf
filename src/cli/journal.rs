//! `permil journal`.

use std::path::PathBuf;

use super::Ending;
use super::applying::steps;
use super::output::{self, complain};
use super::plot::Plotting;
use super::save::is_same;
use super::shared::{Shown, date, present_day};
use super::smelled::smelled;
use crate::chart::pairs::PairsChart;
use crate::escape::escaped;
use crate::files::{Scenario, load_scenario};
use crate::problem::Problem;
use crate::results::journal::JournalReport;
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
pub fn run(args: &Args) -> Ending {
    let read = match smelled(&args.trials, args.rescale, args.shown.color) {
        Ok(read) => read,
        Err(ending) => return ending,
    };
    if !args.plotting.may_beside(&args.trials, "which is read") {
        return Ending::Wrong;
    }
    if args.plotting.is_wanted() && args.brief.is_none() {
        complain("the chart shows the way to a target; name it with --brief");
        return Ending::Wrong;
    }
    let mut warnings = read.warnings.clone();
    let problem = match &args.brief {
        None => None,
        Some(path) => {
            let scenario = match load_scenario(path) {
                Ok(scenario) => scenario,
                Err(faults) => return output::faults(&faults, args.shown.color),
            };
            let Scenario { palette, brief, limits, warnings: more } = scenario;
            if !is_same(std::path::Path::new(&*palette.file), &read.palette.file) {
                let (own, other) = (escaped(&palette.file), escaped(&read.palette.file));
                complain(&format!("the brief is of the palette {own}, the trials of {other}: they have to share one"));
                return Ending::Wrong;
            }
            if !args.plotting.may(&palette, &brief, &limits) {
                return Ending::Wrong;
            }
            warnings.extend(more);
            Some((Problem::new(palette, &brief, &limits), brief.file.to_string()))
        }
    };
    let history = steps(std::path::Path::new(&*read.palette.file)).unwrap_or_else(|error| {
        warnings.push(error);
        Vec::new()
    });
    output::warn(&warnings, args.shown.quiet);
    let against = problem.as_ref().map(|(problem, file)| (problem, file.as_str()));
    let today = args.today.unwrap_or_else(present_day);
    let report = JournalReport::new(&read.palette, &read.trials, &read.neat_ppt, against, today, warnings)
        .with_history(&history);
    let ending = args.plotting.draw_some(PairsChart::of_journal(&report), Ending::Done);
    output::answer(&report, &args.shown, ending)
}
