//! `permil propose`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::save::Saving;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, progress, stop};
use crate::analysis::explain::Explanation;
use crate::files::{Scenario, load_scenario};
use crate::problem::Problem;
use crate::report::propose::ProposeReport;
use crate::solve::{self, Solution, Status};

const AFTER_HELP: &str = "\
Examples:
  permil propose profiles/rose-otto/brief.toml
  permil propose brief.toml --save accord.toml
  permil propose brief.toml --time-limit 60 --format csv > accord.csv

Exit status:
  0  a formula, proven best or the best found in the time allowed
  1  no blend can meet the brief
  2  wrong usage, a fault in the files, or --save refused
  3  stopped without an answer, or a result failed its own check";

/// Find the blend that comes nearest to a brief
///
/// Finds the blend that comes nearest to the target within every rule of the
/// brief, and says how near it is, whether it is proven best, what it costs,
/// what each material brings, what falls short, and how much room the limits
/// leave. Ctrl-C or the time limit returns the best so far and says how much
/// better it could still be.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// Leave out what each rule costs and which materials could go: both take
    /// solving again
    #[arg(long)]
    no_worth: bool,
    #[command(flatten)]
    saving: Saving,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the brief, solves it and reports.
pub fn run(args: &Args) -> Ending {
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, args.shown.color),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    if !args.saving.may(&palette, &brief, &limits) {
        return Ending::Wrong;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);

    let (solution, explanation) = match solve(&problem, args) {
        Ok(solved) => solved,
        Err(ending) => return ending,
    };
    let answer = solution.answer.as_ref().map(|answer| &answer.formula);
    let saved = args.saving.save(answer, brief.title.clone(), &problem.palette);
    let report = ProposeReport::new(&problem, &brief, &solution, &explanation, warnings);
    let ending = match solution.status {
        Status::Optimal | Status::Feasible => saved,
        Status::Infeasible => Ending::No,
        Status::Unknown => Ending::NoAnswer,
    };
    if args.shown.format == FormatName::Csv && solution.answer.is_none() {
        // A table without rows does not say why.
        complain(match solution.status {
            Status::Infeasible => "no blend can meet this brief (proven)",
            _ => "stopped without an answer",
        });
    }
    output::answer(&report, args.shown.format.into(), args.shown.color, ending)
}

/// The solution, and what explains it.
fn solve(problem: &Problem, args: &Args) -> Result<(Solution, Explanation), Ending> {
    let mut control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::draw(problem, &mut control, args.shown.quiet);
    let method = args.search.solver.into();
    let solved = solve::propose(problem, method, &control).map(|solution| {
        // What explains it is looked for in what is left of the time.
        control.progress = None;
        let explanation = Explanation::of(problem, &solution, !args.no_worth, method, &control);
        (solution, explanation)
    });
    drawing.clear();
    solved.map_err(|failure| failed(&failure))
}
