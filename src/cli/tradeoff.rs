//! `permil tradeoff`.

use std::path::PathBuf;

use super::error::CliError;
use super::plot::Plotting;
use super::session::Session;
use super::shared::{Search, Shown};
use super::{Ending, names};
use crate::chart::tradeoff::TradeoffChart;
use crate::palette::Palette;
use crate::questions::Resolved;
use crate::questions::tradeoff::{self, Asked, Axis};

const AFTER_HELP: &str = "\
Examples:
  permil tradeoff profiles/rose-otto/brief.toml
  permil tradeoff brief.toml --against effect --formulas 20
  permil tradeoff brief.toml --against count --plot count.svg
  permil tradeoff brief.toml --against \"Rose otto\" --format csv > otto.csv

Exit status:
  0  the curve, all of it or what there was time for
  1  no blend keeps the other rules
  2  wrong usage, a fault in the files, or --plot refused
  3  stopped without an answer, or a result failed its own check";

/// Say what money, strength or a number of materials buys
///
/// The best formula that keeps every rule at every cost, each proven, from the
/// cheapest that keeps the other rules to the cost where more money buys
/// nothing. Says which materials enter and leave on the way, where the return
/// falls off, and what one % point of the match costs at the budget of the brief.
/// Any other limit can be looked at likewise.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// price (cost of the formula), effect (cost per unit of strength), strength
    /// (at least so much), count (of materials), or a material, whose dose is
    /// forced
    #[arg(long, value_name = "WHAT", default_value = "price")]
    against: String,
    /// Limits to look at between the ends of the curve. Against a count there is
    /// a formula for each number
    #[arg(long, value_name = "N", default_value_t = Asked::FORMULAS, value_parser = clap::value_parser!(u16).range(0..=200))]
    formulas: u16,
    /// Show what could be had over any doses and with any number of materials
    #[arg(long)]
    upper_limit: bool,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the brief, works the curve out and reports.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let scenario = session.scenario(&args.brief)?;
    let axis = axis(&args.against, &scenario.palette).map_err(CliError::Wrong)?;
    args.plotting.allowed(&scenario)?;
    let resolved = Resolved::from(scenario);
    session.warn(&resolved.warnings);
    let (formulas, method) = (args.formulas.into(), args.search.solver.into());
    let asked = Asked { axis, formulas, upper_limit: args.upper_limit, best: None, method };
    let answer =
        session.work(&args.search, Some(&resolved.problem), |control| tradeoff::ask(&resolved, &asked, control))?;
    session
        .drawn(&answer.report, answer.outcome(), || args.plotting.drawn_some(TradeoffChart::of_report(&answer.report)))
}

/// What is traded, by its name.
fn axis(against: &str, palette: &Palette) -> Result<Axis, String> {
    match against.trim().to_lowercase().as_str() {
        "price" => return Ok(Axis::Price),
        "effect" => return Ok(Axis::Effect),
        "strength" => return Ok(Axis::Strength),
        "count" => return Ok(Axis::Count),
        _ => {}
    }
    let material = names::material(against, palette)
        .map_err(|error| format!("{error}; --against takes price, effect, strength, count or a material"))?;
    Ok(Axis::Dose(material))
}
