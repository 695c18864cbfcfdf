//! `permil doubt`.

use std::path::{Path, PathBuf};

use super::output::{self, complain};
use super::plot::Plotting;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, progress, stop};
use crate::analysis::basis::in_basis;
use crate::analysis::doubt::draws::{Asked, doubt};
use crate::analysis::repair::Reasons;
use crate::chart::doubt::DoubtChart;
use crate::escape::escaped;
use crate::evaluate::evaluate;
use crate::files::{Scenario, load_formula_with_warnings, load_scenario};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::results::doubt::{DoubtReport, Subject};
use crate::results::states::FormulaStatus;
use crate::solve::{self, Status};
use crate::units::Ppt;

const AFTER_HELP: &str = "\
Examples:
  permil doubt profiles/rose-otto/brief.toml
  permil doubt brief.toml mod-1.toml mod-2.toml
  permil doubt brief.toml --draws 100000 --plot doubt.svg

Exit status:
  0  done
  1  no blend can meet the brief, or the parts of a formula do not add up to
     1000
  2  wrong usage, a fault in the files, or --plot refused
  3  stopped before it was done, or a result failed its own check";

/// Say how sure a formula is, and which is nearer
///
/// Draws scores and strengths within their errors (score_error and
/// strength_factor of the palette; 1 point and 1.5 times where it says
/// nothing) and judges the formula on every draw: how far its match and each
/// descriptor spread, which numbers most of that comes from, and, of several
/// formulas, how likely each is nearer than another. Without a formula the
/// proposal of the brief is looked at. The same seed gives the same answer on
/// any number of threads.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The formulas; the proposal where there is none
    #[arg(value_name = "FORMULA")]
    formulas: Vec<PathBuf>,
    /// How many draws
    #[arg(long, value_name = "N", default_value = "10000", value_parser = clap::value_parser!(u32).range(100..=200_000))]
    draws: u32,
    /// Which draws
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
    /// Scale formulas whose parts do not add up to 1000
    #[arg(long, requires = "formulas")]
    rescale: bool,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the brief, finds or reads the formulas, and draws.
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
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    let mut subjects = match read(args, &problem, &mut warnings) {
        Ok(subjects) => subjects,
        Err(ending) => return ending,
    };
    output::warn(&warnings, args.shown.quiet);

    let mut control = stop::control(&args.search, stop::on_interrupt());
    if subjects.is_empty() {
        let drawing = progress::draw(&problem, &mut control, args.shown.quiet);
        let solved = solve::propose(&problem, args.search.solver.into(), &control);
        drawing.clear();
        control.progress = None;
        let solution = match solved {
            Ok(solution) => solution,
            Err(failure) => return failed(&failure),
        };
        let Some(answer) = solution.answer else {
            let infeasible = solution.status == Status::Infeasible;
            let reasons = if infeasible { Reasons::of(&problem, &control) } else { Reasons::default() };
            let report = DoubtReport::without_formula(&problem, &brief, solution.status, &reasons, warnings);
            let (ending, words) = match infeasible {
                true => (Ending::No, "no blend can meet this brief (proven)"),
                false => (Ending::NoAnswer, "stopped without an answer"),
            };
            if args.shown.format == FormatName::Csv {
                // A table without rows does not say why.
                complain(words);
            }
            let ending = args.plotting.draw(None, ending);
            return output::answer(&report, args.shown.format.into(), colour, ending);
        };
        subjects.push(Subject { formula: answer.formula, given: None, status: solution.status.into() });
        // The draws take a moment however long the search took.
        control.deadline = None;
    }
    let formulas: Vec<Formula> = subjects.iter().map(|subject| subject.formula.clone()).collect();
    let asked = Asked { draws: args.draws as usize, seed: args.seed, shares: true };
    let Some(found) = doubt(&problem, &formulas, asked, &control) else {
        complain("stopped before the draws were done");
        return Ending::NoAnswer;
    };
    let report = DoubtReport::new(&problem, &brief, &subjects, asked, &found, warnings);
    let ending = args.plotting.draw_some(DoubtChart::of_report(&report), Ending::Done);
    output::answer(&report, args.shown.format.into(), colour, ending)
}

/// The formulas that were named; what is wrong with any of them is told for
/// all at once.
fn read(args: &Args, problem: &Problem, warnings: &mut Vec<String>) -> Result<Vec<Subject>, Ending> {
    let mut subjects = Vec::new();
    let mut ending = Ending::Done;
    for path in &args.formulas {
        match load_formula_with_warnings(path, &problem.palette) {
            Ok((formula, more)) => {
                warnings.extend(more);
                match subject(args, problem, path, formula) {
                    Ok(subject) => subjects.push(subject),
                    Err(why) if ending != Ending::Wrong => ending = why,
                    Err(_) => {}
                }
            }
            Err(faults) => ending = output::faults(&faults, args.shown.color),
        }
    }
    if ending == Ending::Done { Ok(subjects) } else { Err(ending) }
}

fn subject(args: &Args, problem: &Problem, path: &Path, read: Formula) -> Result<Subject, Ending> {
    let file = escaped(&path.to_string_lossy());
    if read.sum() != Ppt::WHOLE && !args.rescale {
        complain(&format!("the parts of {file} add up to {}, not 1000; --rescale scales them", read.sum()));
        return Err(Ending::No);
    }
    let formula = in_basis(&problem.palette, &read.rescaled(), problem.basis);
    if evaluate(problem, &formula).is_err() {
        complain(&format!("nothing in {file} has an odour that counts, so it has no match to be sure of"));
        return Err(Ending::Wrong);
    }
    Ok(Subject { formula, given: Some(read), status: FormulaStatus::Feasible })
}
