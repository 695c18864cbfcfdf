//! `permil compare`.

use std::path::PathBuf;

use super::plot::ProfilePlotting;
use super::shared::{Sections, Shown};
use super::{Ending, output};
use crate::chart::profile::ProfileChart;
use crate::files::{Scenario, load_formula_with_warnings, load_scenario};
use crate::problem::Problem;
use crate::results::compare::CompareReport;

const AFTER_HELP: &str = "\
Examples:
  permil compare profiles/rose-otto/brief.toml profiles/rose-otto/mod-1.toml
  permil compare brief.toml mod-1.toml mod-2.toml mod-3.toml
  permil compare brief.toml mod-1.toml mod-2.toml --plot mods.svg

Exit status:
  0  compared, whether or not a formula breaks rules
  1  the parts of a formula do not add up to 1000
  2  wrong usage, a fault in the files, or --plot refused";

/// Set formulas side by side with the target of a brief
///
/// Says for every formula how near it comes to the target, what it costs, how
/// strong it is, which rules of the brief it breaks and how far it uses the
/// limits, and what differs between them. A formula whose parts do not add up
/// to 1000 is reported with its sum, and used only with --rescale.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The formulas
    #[arg(required = true, value_name = "FORMULA")]
    formulas: Vec<PathBuf>,
    /// Scale formulas whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    plotting: ProfilePlotting,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    sections: Sections,
}

/// Reads brief and formulas and compares them.
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    if !args.plotting.may(args.formulas.len(), &palette, &brief, &limits) {
        return Ending::Wrong;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    let mut formulas = Vec::with_capacity(args.formulas.len());
    let mut ending = Ending::Done;
    for path in &args.formulas {
        match load_formula_with_warnings(path, &problem.palette) {
            Ok((formula, more)) => {
                formulas.push(formula);
                warnings.extend(more);
            }
            // The faults of all the formulas are told in one run.
            Err(faults) => ending = output::faults(&faults, colour),
        }
    }
    if ending == Ending::Wrong {
        return ending;
    }
    output::warn(&warnings, args.shown.quiet);
    let report = CompareReport::new(&problem, &brief, &formulas, args.rescale, warnings);
    let ending = if report.all_used() { Ending::Done } else { Ending::No };
    let ending = args.plotting.draw(|| ProfileChart::of_comparison(&report), ending);
    output::answer_on(&args.sections.on(output::page(&args.shown)), &report, &args.shown, ending)
}
