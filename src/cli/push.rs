//! `permil push`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::plot::Plotting;
use super::shared::{FormatName, Search, Shown, failed, in_range};
use super::{Ending, leeway, names, progress, stop, tradeoff};
use crate::analysis::caps::caps;
use crate::analysis::push::{Asked, opened, push};
use crate::analysis::repair::Reasons;
use crate::chart::push::PushChart;
use crate::files::{Scenario, load_scenario};
use crate::problem::Problem;
use crate::results::push::{PushReport, Subject};
use crate::solve::Status;

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
    #[arg(long, value_name = "POINTS", default_value = "1", value_parser = leeway::margin, allow_negative_numbers = true)]
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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let known: Vec<&str> = palette.materials.iter().map(|material| material.name.as_str()).collect();
    let material = match names::find(&args.material, &known, "material") {
        Ok(material) => material,
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
    if args.batch.is_some() && problem.material(material).stock_grams.is_none() {
        let name = &problem.material(material).name;
        warnings.push(format!("the palette does not say how much of {name} is on hand: --batch caps nothing"));
    }
    output::warn(&warnings, args.shown.quiet);

    let control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::count("formulas", args.shown.quiet);
    let caps = caps(&problem, &brief, material, args.batch);
    let asked = Asked { material, margin: args.margin, many: args.whole, method: args.search.solver.into() };
    let found = push(&problem, &caps, asked, &control, &|done, of| drawing.done(done, of));
    drawing.clear();
    let found = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    let (ending, words, reasons) = match found.none {
        Some(Status::Infeasible) => {
            let reasons = Reasons::of(&opened(&problem, material, &caps), &control);
            (Ending::No, "no blend keeps the rules (proven)", reasons)
        }
        Some(_) => (Ending::NoAnswer, "stopped without an answer", Reasons::default()),
        None => (Ending::Done, "", Reasons::default()),
    };
    if args.shown.format == FormatName::Csv && ending != Ending::Done {
        // A table without rows does not say why.
        complain(words);
    }
    let let_in = tradeoff::set_aside(&problem, material);
    let subject = Subject { material, margin: args.margin, caps: &caps, let_in, in_full: args.whole };
    let report = PushReport::new(&problem, &brief, subject, &found, &reasons, warnings);
    let ending = args.plotting.draw_some(PushChart::of_report(&report), ending);
    output::answer(&report, &args.shown, ending)
}
