//! `permil report`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::save::overwrites_input;
use super::shared::{Search, failed, in_range};
use super::{Ending, progress, stop};
use crate::analysis::basis::in_basis;
use crate::dossier::gather::{Wanted, gather};
use crate::dossier::page;
use crate::escape::escaped;
use crate::files::{SaveError, Scenario, could_save, load_formula_with_warnings_in, load_scenario_in, save_text};
use crate::number::plain;
use crate::problem::Problem;
use crate::store::{Disk, Once};
use crate::units::Ppt;

const AFTER_HELP: &str = "\
Examples:
  permil report profiles/rose-otto/brief.toml --save report.html
  permil report brief.toml --formula mod-3.toml --save mod-3.html
  permil report brief.toml --save report.html --batch 2 --balance 0.0001

Exit status:
  0  a report on a formula
  1  no blend can meet the brief: the report says why; or the parts of the
     formula do not add up to 1000
  2  wrong usage, a fault in the files, or --save refused
  3  stopped without an answer, or a result failed its own check";

/// Write everything about a brief and its formula to one page
///
/// The brief in words, the formula, target and blend, what money buys, how far
/// each dose and each strong material may go, six starting points, limits and
/// label, the sheet to weigh from, and what is proven and how sure it is: one
/// HTML file with everything inside, to keep, to print on A4 or to send. The
/// same files give the same page as long as every answer is proven in the time
/// allowed.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// Report on this formula instead of the proposal
    #[arg(long, value_name = "FILE")]
    formula: Option<PathBuf>,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long, requires = "formula")]
    rescale: bool,
    /// Grams of the batch on the sheet to weigh from
    #[arg(long, value_name = "GRAMS", default_value = "10", value_parser = grams, allow_negative_numbers = true)]
    batch: f64,
    /// What the balance shows last, in grams
    #[arg(long, value_name = "GRAMS", default_value = "0.001", value_parser = step, allow_negative_numbers = true)]
    balance: f64,
    /// The page to write
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    save: PathBuf,
    /// Let --save overwrite an older page
    #[arg(long, help_heading = "Output")]
    force: bool,
    #[command(flatten)]
    search: Search,
    /// No progress and no warnings on standard error
    #[arg(long, short, help_heading = "Output")]
    quiet: bool,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN", help_heading = "Output")]
    color: output::Colour,
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e6, "a number of grams")
}

fn step(text: &str) -> Result<f64, String> {
    match in_range(text, 1000.0, "a number of grams")? {
        step if step < 1e-6 => Err("expected a number of grams, at least 0.000001".to_owned()),
        step => Ok(step),
    }
}

/// Asks every question of the brief and writes the page.
pub fn run(args: &Args) -> Ending {
    let store = Once::over(&Disk);
    let scenario = match load_scenario_in(&store, &args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, args.color),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    if overwrites_input(&args.save, "--save", &palette, &brief, &limits) {
        return Ending::Wrong;
    }
    if args.balance > args.batch {
        let (step, batch) = (plain(args.balance), plain(args.batch));
        complain(&format!("a balance that shows {step} g cannot weigh a batch of {batch} g"));
        return Ending::Wrong;
    }
    let mut given = None;
    if let Some(path) = &args.formula {
        match load_formula_with_warnings_in(&store, path, &palette) {
            Ok((formula, more)) => {
                if formula.sum() != Ppt::WHOLE && !args.rescale {
                    let (file, sum) = (escaped(&path.to_string_lossy()), formula.sum());
                    complain(&format!("the parts of {file} add up to {sum}, not 1000; --rescale scales them"));
                    return Ending::No;
                }
                given = Some(formula.rescaled());
                warnings.extend(more);
            }
            Err(faults) => return output::faults(&faults, args.color),
        }
    }
    // Before the search, so that nobody waits for what is then lost.
    if let Err(ending) = may_write(args) {
        return ending;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.quiet);
    let given = given.map(|formula| {
        let (file, title) = (formula.file.clone(), formula.title.clone());
        crate::formula::Formula { file, title, ..in_basis(&problem.palette, &formula, problem.basis) }
    });
    let mut control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::draw(&problem, &mut control, args.quiet);
    let wanted = Wanted {
        formula: given.as_ref(),
        batch_grams: args.batch,
        step_grams: args.balance,
        method: args.search.solver.into(),
        store: &store,
    };
    let gathered = gather(&problem, &brief, &limits, wanted, warnings, &control);
    drawing.clear();
    let dossier = match gathered {
        Ok(dossier) => dossier,
        Err(failure) => return failed(&failure),
    };
    if let Err(error) = save_text(&args.save, &page(&dossier), args.force) {
        complain(&error.to_string());
        return Ending::Wrong;
    }
    match (&dossier.subject, dossier.proposal.status) {
        (Some(_), _) => Ending::Done,
        (None, "infeasible") => {
            complain("no blend can meet this brief (proven); the page says why");
            Ending::No
        }
        (None, _) => {
            complain("stopped without an answer");
            Ending::NoAnswer
        }
    }
}

fn may_write(args: &Args) -> Result<(), Ending> {
    let ending = args.save.extension().map(|extension| extension.to_string_lossy().to_ascii_lowercase());
    if !matches!(ending.as_deref(), Some("html" | "htm")) {
        complain("--save writes a page; give a file that ends in .html");
        return Err(Ending::Wrong);
    }
    could_save(&args.save, args.force).map_err(|error| {
        let hint = if matches!(error, SaveError::Exists(_)) { "; --force overwrites it" } else { "" };
        complain(&format!("{error}{hint}"));
        Ending::Wrong
    })
}
