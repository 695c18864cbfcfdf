//! `permil push`.

use std::path::PathBuf;

use super::error::CliError;
use super::plot::Plotting;
use super::session::Session;
use super::shared::{Search, Shown, in_range};
use super::{Ending, leeway, names};
use crate::chart::push::PushChart;
use crate::questions::Resolved;
use crate::questions::push::{self, Asked};

const AFTER_HELP: &str = "\
Examples:
  permil push profiles/rose-otto/brief.toml beta-Damascenone
  permil push brief.toml \"Rose oxide\" --whole --batch 50
  permil push brief.toml Nonanal --plot nonanal.svg
  permil push brief.toml Nonanal --format csv > nonanal.csv

Exit status:
  0  the curve, all of it or what there was time for
  1  no blend keeps the rules
  2  wrong usage, a fault in the files, or --plot refused
  3  stopped without an answer, or a result failed its own check";

/// Say how far a strong material can go
///
/// The best formula that keeps every rule at doses of one material from nothing
/// to its cap and beyond it, all other doses solved again, each proven. Says
/// which dose is best, the least and the greatest dose with which the match stays
/// near that, where the gain is gone, what leaving the material out costs, what
/// gives way on both sides, every cap with its reason, and what the second
/// opinion makes of the same formulas.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The material, by its name
    material: String,
    /// How many % points of the match the window gives away
    #[arg(long, value_name = "POINTS", default_value_t = Asked::MARGIN, value_parser = leeway::margin, allow_negative_numbers = true)]
    margin: f64,
    /// Look at up to 60 doses instead of about 24, and tell their formulas in full
    #[arg(long)]
    whole: bool,
    /// Grams of accord to be made: what is on hand is then a cap
    #[arg(long, value_name = "GRAMS", value_parser = grams, allow_negative_numbers = true)]
    batch: Option<f64>,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e9, "a number of grams")
}

/// Reads the brief, works the curve out and reports.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let scenario = session.scenario(&args.brief)?;
    let material = names::material(&args.material, &scenario.palette).map_err(CliError::Wrong)?;
    args.plotting.allowed(&scenario)?;
    let resolved = Resolved::from(scenario);
    let (margin, whole, method) = (args.margin, args.whole, args.search.solver.into());
    let asked = Asked { material, margin, whole, batch_grams: args.batch, method };
    session.warn(&push::warnings(&resolved, &asked));
    let answer =
        session.work(&args.search, Some(&resolved.problem), |control| push::ask(&resolved, &asked, control))?;
    session.drawn(&answer.report, answer.outcome(), || args.plotting.drawn_some(PushChart::of_report(&answer.report)))
}
