//! `permil leeway`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::plot::Plotting;
use super::session::Session;
use super::shared::{Search, Shown};
use crate::chart::leeway::LeewayChart;
use crate::questions::Resolved;
use crate::questions::leeway::{self, Asked};

const AFTER_HELP: &str = "\
Examples:
  permil leeway profiles/rose-otto/brief.toml
  permil leeway brief.toml --margin 2
  permil leeway brief.toml --any-doses
  permil leeway brief.toml --plot leeway.svg
  permil leeway brief.toml --formula mod-1.toml --format csv > leeway.csv

Exit status:
  0  the leeway, all of it or what there was time for
  1  no blend can meet the brief, or the parts of the formula do not add up
     to 1000
  2  wrong usage, a fault in the files, or --plot refused
  3  stopped without an answer, or a result failed its own check";

/// Say how far each dose may go before the match suffers
///
/// For every material of the formula the least and the greatest dose while the
/// match stays within a margin of the proposal's, all other doses solved again.
/// Says what is indispensable, what could go and at what cost, and with --all
/// what could come in.
/// Each end is that of a formula which keeps every rule of the brief, proven or
/// marked. The extremes cannot be had together.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// How many % points of the match the formulas may lie below
    #[arg(long, value_name = "POINTS", default_value_t = Asked::default().margin, value_parser = margin, allow_negative_numbers = true)]
    margin: f64,
    /// Set steps, least doses and the number of materials aside
    #[arg(long)]
    any_doses: bool,
    /// List what is not in the formula as well: what could come in and what
    /// stays out
    #[arg(long)]
    all: bool,
    /// Look at the doses of this formula instead of the proposal's
    #[arg(long, value_name = "FILE")]
    formula: Option<PathBuf>,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long, requires = "formula")]
    rescale: bool,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// A margin in % points of the match, nothing included.
pub fn margin(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if (0.0..=100.0).contains(&number) => Ok(number),
        _ => Err("expected a number of % points from 0 to 100".to_owned()),
    }
}

/// Reads the brief, solves it or reads a formula, and looks at every dose.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let mut scenario = session.scenario(&args.brief)?;
    args.plotting.allowed(&scenario)?;
    let given = session.given(args.formula.as_deref(), args.rescale, &mut scenario)?;
    let resolved = Resolved::from(scenario);
    session.warn(&resolved.warnings);
    let (margin, any_doses, method) = (args.margin, args.any_doses, args.search.solver.into());
    let asked = Asked { margin, any_doses, formula: given.as_ref(), best: None, method };
    let mut answer =
        session.work(&args.search, Some(&resolved.problem), |control| leeway::ask(&resolved, &asked, control))?;
    answer.report.lists_all = args.all;
    session.drawn(&answer.report, answer.outcome(), || {
        args.plotting.drawn_some(LeewayChart::of_report(&answer.report, &resolved.problem))
    })
}
