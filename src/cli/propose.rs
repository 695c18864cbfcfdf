//! `permil propose`.

use std::path::{Path, PathBuf};

use super::output::{self, complain};
use super::shared::{FormatName, Search, Shown};
use super::{Ending, progress, stop};
use crate::analysis::explain::Explanation;
use crate::brief::{Brief, TargetFrom};
use crate::escape::escaped;
use crate::files::{Scenario, could_save, load_scenario, save_formula};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::report::propose::ProposeReport;
use crate::solve::{self, Failure, Solution, Status};

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
    /// Write the formula to a file
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    save: Option<PathBuf>,
    /// Let --save overwrite an older formula
    #[arg(long, requires = "save", help_heading = "Output")]
    force: bool,
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
    if let Some(path) = &args.save
        && let Err(why) = may_save(path, args.force, &scenario)
    {
        complain(&why);
        return Ending::Wrong;
    }
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);

    let (solution, explanation) = match solve(&problem, args) {
        Ok(solved) => solved,
        Err(ending) => return ending,
    };
    let saved = save(&problem, &brief, &solution, args);
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
    solved.map_err(|failure| {
        complain(&escaped(&failure.to_string()));
        match failure {
            Failure::Unsupported(_) => Ending::Wrong,
            Failure::Internal(_) => Ending::NoAnswer,
        }
    })
}

/// Whether a formula may be written to a path: asked before the search, so
/// that nobody waits for an answer that is then lost.
fn may_save(path: &Path, force: bool, scenario: &Scenario) -> Result<(), String> {
    let mut inputs = vec![&scenario.brief.file, &scenario.palette.file];
    inputs.extend(scenario.limits.iter().map(|limits| &limits.file));
    if let Some(TargetFrom::Formula(formula)) = &scenario.brief.target_from {
        inputs.extend(&formula.value.file);
    }
    let same = |input: &str| matches!((path.canonicalize(), Path::new(input).canonicalize()), (Ok(a), Ok(b)) if a == b);
    if let Some(input) = inputs.into_iter().find(|input| same(input)) {
        return Err(format!("--save would overwrite {}, which the brief needs", escaped(input)));
    }
    could_save(path, force).map_err(|error| match error {
        crate::files::SaveError::Exists(_) => format!("{error}; --force overwrites it"),
        other => other.to_string(),
    })
}

fn save(problem: &Problem, brief: &Brief, solution: &Solution, args: &Args) -> Ending {
    let (Some(path), Some(answer)) = (&args.save, &solution.answer) else { return Ending::Done };
    let formula = Formula { title: brief.title.clone(), ..answer.formula.clone() };
    match save_formula(path, &formula, &problem.palette, args.force) {
        Ok(()) => Ending::Done,
        Err(error) => {
            complain(&error.to_string());
            Ending::Wrong
        }
    }
}
