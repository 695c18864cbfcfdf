//! `permil leeway`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::plot::Plotting;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, progress, stop};
use crate::analysis::basis::in_basis;
use crate::analysis::leeway::{Asked, leeway};
use crate::analysis::repair::Reasons;
use crate::chart::leeway::LeewayChart;
use crate::escape::escaped;
use crate::evaluate::evaluate;
use crate::files::{Scenario, load_formula_with_warnings, load_scenario};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::results::leeway::{LeewayReport, Looked};
use crate::solve::{self, Status};
use crate::units::Ppt;

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
/// For every material the least and the greatest dose while the match stays
/// within a margin of the proposal's, all other doses solved again. Says what
/// is indispensable, what could go and at what cost, and what could come in.
/// Each end is that of a formula which keeps every rule of the brief, proven or
/// marked. The extremes cannot be had together.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// How many points of fidelity the formulas may lie below
    #[arg(long, value_name = "POINTS", default_value = "1", value_parser = margin, allow_negative_numbers = true)]
    margin: f64,
    /// Set steps, least doses and the number of materials aside
    #[arg(long)]
    any_doses: bool,
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

/// A margin in points of fidelity, nothing included.
pub fn margin(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if (0.0..=100.0).contains(&number) => Ok(number),
        _ => Err("expected a number of points from 0 to 100".to_owned()),
    }
}

/// Reads the brief, solves it and looks at its doses.
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    if !args.plotting.may(&palette, &brief, &limits) {
        return Ending::Wrong;
    }
    let mut given = None;
    if let Some(path) = &args.formula {
        match load_formula_with_warnings(path, &palette) {
            Ok((formula, more)) => {
                if formula.sum() != Ppt::WHOLE && !args.rescale {
                    let file = escaped(&path.to_string_lossy());
                    let sum = formula.sum();
                    complain(&format!("the parts of {file} add up to {sum}, not 1000; --rescale scales them"));
                    return Ending::No;
                }
                given = Some(formula);
                warnings.extend(more);
            }
            Err(faults) => return output::faults(&faults, colour),
        }
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);

    let mut control = stop::control(&args.search, stop::on_interrupt());
    let mut best = None;
    let (formula, status) = match &given {
        Some(read) => (Some(in_basis(&problem.palette, &read.rescaled(), problem.basis)), Status::Feasible),
        None => {
            let drawing = progress::draw(&problem, &mut control, args.shown.quiet);
            let solved = solve::propose(&problem, args.search.solver.into(), &control);
            drawing.clear();
            control.progress = None;
            match solved {
                Ok(solution) => {
                    let found = (solution.answer.as_ref().map(|answer| answer.formula.clone()), solution.status);
                    best = Some(solution);
                    found
                }
                Err(failure) => return failed(&failure),
            }
        }
    };
    let Some(formula) = formula else {
        let reasons = if status == Status::Infeasible { Reasons::of(&problem, &control) } else { Reasons::default() };
        let report = LeewayReport::without_formula(&problem, &brief, status, args.margin, &reasons, warnings);
        let (ending, words) = match status {
            Status::Infeasible => (Ending::No, "no blend can meet this brief (proven)"),
            _ => (Ending::NoAnswer, "stopped without an answer"),
        };
        if args.shown.format == FormatName::Csv {
            // A table without rows does not say why.
            complain(words);
        }
        let ending = args.plotting.draw(None, ending);
        return output::answer(&report, args.shown.format.into(), colour, ending);
    };
    let Ok(evaluation) = evaluate(&problem, &formula) else {
        complain("nothing in the formula has an odour that counts, so it has no match to stay near");
        return Ending::Wrong;
    };
    let drawing = progress::count("doses", args.shown.quiet);
    let asked = Asked {
        margin: args.margin,
        any_doses: args.any_doses,
        method: args.search.solver.into(),
        best: best.as_ref(),
    };
    let found = leeway(&problem, &formula, asked, &control, &|done, of| drawing.done(done, of));
    drawing.clear();
    let found = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    let given: Option<&Formula> = given.as_ref();
    let looked = Looked { formula: &formula, evaluation: &evaluation, given };
    let report = LeewayReport::new(&problem, &brief, &looked, status, args.margin, &found, warnings);
    let ending = args.plotting.draw_some(LeewayChart::of_report(&report, &problem), Ending::Done);
    output::answer(&report, args.shown.format.into(), colour, ending)
}
