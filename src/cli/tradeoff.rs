//! `permil tradeoff`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::plot::Plotting;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, names, progress, stop};
use crate::analysis::axis::{Axis, NoRange};
use crate::analysis::repair::Reasons;
use crate::analysis::tradeoff::{Asked, tradeoff};
use crate::chart::tradeoff::TradeoffChart;
use crate::escape::escaped;
use crate::files::{Scenario, load_scenario};
use crate::palette::Palette;
use crate::problem::Problem;
use crate::results::tradeoff::TradeoffReport;
use crate::solve::Status;

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
/// The best formula that keeps every rule at every price, each proven, from the
/// cheapest that keeps the other rules to the price where more money buys
/// nothing. Says which materials enter and leave on the way, where the return
/// falls off, and what one point of the match costs at the budget of the brief.
/// Any other limit can be looked at likewise.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// price, effect (price for each unit of strength), strength (at least so
    /// much), count (of materials), or a material, whose dose is forced
    #[arg(long, value_name = "WHAT", default_value = "price")]
    against: String,
    /// Limits to look at between the ends of the curve. Against a count there is
    /// a formula for each number
    #[arg(long, value_name = "N", default_value = "24", value_parser = clap::value_parser!(u16).range(0..=200))]
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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let axis = match axis(&args.against, &palette) {
        Ok(axis) => axis,
        Err(complaint) => {
            complain(&complaint);
            return Ending::Wrong;
        }
    };
    if !args.plotting.may(&palette, &brief, &limits) {
        return Ending::Wrong;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);
    let unpriced = axis.without_price(&problem);
    if !unpriced.is_empty() {
        complain(&no_price(&problem, &unpriced));
        return Ending::Wrong;
    }

    let control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::count("formulas", args.shown.quiet);
    let asked = Asked { axis, formulas: usize::from(args.formulas), method: args.search.solver.into(), known: None };
    let found = tradeoff(&problem, asked, &control, &|done, of| drawing.done(done, of));
    drawing.clear();
    let found = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    let reasons = match found.none {
        Some(NoRange::Impossible) => Reasons::of(&axis.without(&problem), &control),
        _ => Reasons::default(),
    };
    let let_in = let_in(&problem, axis);
    let mut report = TradeoffReport::new(&problem, &brief, &found, &reasons, let_in, warnings);
    report.shows_upper_limit = args.upper_limit;
    let (ending, words) = match report.status {
        Status::Infeasible => (Ending::No, "no formula keeps the other rules (proven)"),
        Status::Unknown => (Ending::NoAnswer, "stopped without an answer"),
        _ => (Ending::Done, ""),
    };
    if args.shown.format == FormatName::Csv && ending != Ending::Done {
        // A table without rows does not say why.
        complain(words);
    }
    let ending = args.plotting.draw_some(TradeoffChart::of_report(&report), ending);
    output::answer(&report, args.shown.format.into(), colour, ending)
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
    let known: Vec<&str> = palette.materials.iter().map(|material| material.name.as_str()).collect();
    let material = names::find(against, &known, "material")
        .map_err(|error| format!("{error}; --against takes price, effect, strength, count or a material"))?;
    Ok(Axis::Dose(material))
}

/// What keeps a material out of the brief though its dose is looked at.
fn let_in(problem: &Problem, axis: Axis) -> Option<String> {
    let Axis::Dose(material) = axis else { return None };
    set_aside(problem, material)
}

/// What the brief says against using a material, set aside to look at it.
pub fn set_aside(problem: &Problem, material: usize) -> Option<String> {
    problem.sentence_of_set_aside(material)
}

fn no_price(problem: &Problem, materials: &[usize]) -> String {
    let names: Vec<String> =
        materials.iter().map(|&material| format!("\"{}\"", escaped(&problem.material(material).name))).collect();
    let (has, it) = if names.len() == 1 { ("has", "it") } else { ("have", "them") };
    format!(
        "{} {has} no price, and the curve is one of money: give a price, or keep {it} out with use = \"never\" in [doses]",
        names.join(", ")
    )
}
