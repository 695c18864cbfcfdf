//! `permil buy`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::shared::{FormatName, Search, Shown, failed, in_range};
use super::{Ending, progress, stop};
use crate::analysis::buy;
use crate::analysis::repair::Reasons;
use crate::analysis::shelf::open;
use crate::files::{Scenario, load_scenario_to_buy};
use crate::problem::Problem;
use crate::results::buy::BuyReport;
use crate::solve::Status;

const AFTER_HELP: &str = "\
Examples:
  permil buy profiles/rose-otto/brief.toml
  permil buy brief.toml --from wishlist.toml
  permil buy brief.toml --from wishlist.toml --batch 50 --format csv > buy.csv

Exit status:
  0  ranked, whether or not anything is worth buying
  1  no blend can meet the brief, whatever is bought
  2  wrong usage, or a fault in the files
  3  stopped without an answer, or a result failed its own check";

/// Say which materials are worth buying
///
/// For every material with have = false, and every one of a wishlist: the best
/// formula if it stood on the shelf, and what that adds to the best one from
/// the shelf alone; the best two together; and what a first batch needs of
/// them, in the packs that cost least. The shelf is everything without
/// have = false, whether or not the brief says own_only.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// A second palette whose materials could be bought
    #[arg(long, value_name = "WISHLIST")]
    from: Option<PathBuf>,
    /// Grams of neat accord of a first batch
    #[arg(long, value_name = "GRAMS", default_value = "10", value_parser = grams, allow_negative_numbers = true)]
    batch: f64,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e6, "a number of grams")
}

/// Reads brief and wishlist and ranks what could be bought.
pub fn run(args: &Args) -> Ending {
    let scenario = match load_scenario_to_buy(&args.brief, args.from.as_deref()) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, args.shown.color),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);

    let control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::count("searches", args.shown.quiet);
    let found = buy::buy(&problem, args.search.solver.into(), &control, &|done, of| drawing.done(done, of));
    drawing.clear();
    let found = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    // The reasons are looked for in what is left of the time.
    let hopeless = found.all.status == Status::Infeasible && found.base.status == Status::Infeasible;
    let reasons = if hopeless { Reasons::of(&open(&problem), &control) } else { Reasons::default() };
    let wishlist = args.from.as_ref().map(|path| path.to_string_lossy().into_owned());
    let report = BuyReport::new(&problem, &brief, &found, &reasons, wishlist, args.batch, warnings);
    let ending = match (report.has_formula(), hopeless) {
        (true, _) => Ending::Done,
        (false, true) => Ending::No,
        (false, false) => Ending::NoAnswer,
    };
    if args.shown.format == FormatName::Csv && ending != Ending::Done {
        // A table without numbers does not say why.
        complain(if hopeless {
            "no blend can meet this brief, whatever is bought (proven)"
        } else {
            "stopped without an answer"
        });
    }
    output::answer(&report, &args.shown, ending)
}
