//! `permil propose`.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::output::{self, complain};
use super::plot::ProfilePlotting;
use super::save::Saving;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, progress, stop};
use crate::analysis::explain::Explanation;
use crate::analysis::steady::{Steady, steady};
use crate::certificate;
use crate::chart::profile::ProfileChart;
use crate::files::{Scenario, could_save, load_scenario, save_text};
use crate::problem::Problem;
use crate::results::propose::ProposeReport;
use crate::results::steady::SteadyReport;
use crate::solve::{self, Solution, Status};
use crate::store::{Disk, Store};

/// The seed of the draws that a steady formula is judged on: that of `doubt`
/// where nothing else is said, so that both tell the same.
const FRESH_DRAWS: u64 = 1;

const AFTER_HELP: &str = "\
Examples:
  permil propose profiles/rose-otto/brief.toml
  permil propose brief.toml --save accord.toml
  permil propose brief.toml --plot accord.svg
  permil propose brief.toml --plot accord.png --chart contributions
  permil propose brief.toml --time-limit 60 --format csv > accord.csv
  permil propose brief.toml --save best.toml --certificate best.proof
  permil propose brief.toml --steady --save steady.toml

Exit status:
  0  a formula, proven best or the best found in the time allowed
  1  no blend can meet the brief
  2  wrong usage, a fault in the files, or --save or --plot refused
  3  stopped without an answer or before the certificate was done, or a result
     failed its own check";

/// Find the blend that comes nearest to a brief
///
/// Finds the blend that comes nearest to the target within every rule of the
/// brief, and says how near it is, whether it is proven best, what it costs,
/// what each material brings, what falls short, and how much room the limits
/// leave. With --steady it looks further, for a formula that stays good whatever
/// the numbers are within their errors; that one is inside the rules, and not
/// proven. Ctrl-C or the time limit returns the best so far and says how much
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
    /// Write what the proof rests on to a file, for `permil verify`; takes as
    /// long again as the search, and as much of the time limit
    #[arg(long, value_name = "FILE")]
    certificate: Option<PathBuf>,
    /// Look for a formula that is good over what scores and strengths may be,
    /// on average and in the worst tenth, rather than at what is written
    #[arg(long, conflicts_with = "certificate")]
    steady: bool,
    #[command(flatten)]
    saving: Saving,
    #[command(flatten)]
    plotting: ProfilePlotting,
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
    if !args.saving.may(&palette, &brief, &limits) || !args.plotting.may(1, &palette, &brief, &limits) {
        return Ending::Wrong;
    }
    if args.certificate.as_deref().is_some_and(|path| !may_certify(path)) {
        return Ending::Wrong;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);

    let (solution, explanation, steady) = match solve(&problem, args) {
        Ok(solved) => solved,
        Err(ending) => return ending,
    };
    let answer = solution.answer.as_ref().map(|answer| &answer.formula);
    let saved = args.saving.save(answer, brief.title.clone(), &problem.palette);
    let report = ProposeReport::new(&problem, &brief, &solution, &explanation, warnings).with_steady(steady);
    let certified = match &args.certificate {
        Some(path) if saved == Ending::Done => certify(&problem, &solution, args, path),
        _ => Ending::Done,
    };
    let ending = match solution.status {
        _ if certified != Ending::Done => certified,
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
    let ending = args.plotting.draw(|| ProfileChart::of_proposal(&report), ending);
    output::answer(&report, &args.shown, ending)
}

/// Whether a certificate may be written there, told where it may not. An older
/// certificate is overwritten, anything else is not.
fn may_certify(path: &Path) -> bool {
    let is_older = Disk.text(path, certificate::MOST_BYTES).is_ok_and(|text| text.starts_with(certificate::HEAD));
    let possible = could_save(path, is_older);
    if let Err(error) = &possible {
        complain(&error.to_string());
    }
    possible.is_ok()
}

/// Writes the certificate of a solution.
fn certify(problem: &Problem, solution: &Solution, args: &Args, path: &Path) -> Ending {
    let control = stop::control(&args.search, Arc::default());
    match solve::certify::certify(problem, solution, &control) {
        Ok(Some(text)) => match save_text(path, &text, true) {
            Ok(()) => Ending::Done,
            Err(error) => {
                complain(&error.to_string());
                Ending::Wrong
            }
        },
        Ok(None) => {
            complain("the certificate was not finished in the time allowed; a longer --time-limit may do");
            Ending::NoAnswer
        }
        Err(failure) => failed(&failure),
    }
}

/// The solution, what explains it, and what a search for steadiness found.
fn solve(problem: &Problem, args: &Args) -> Result<(Solution, Explanation, Option<SteadyReport>), Ending> {
    let mut control = stop::control(&args.search, stop::on_interrupt());
    let drawing = progress::draw(problem, &mut control, args.shown.quiet);
    let method = args.search.solver.into();
    let solved = solve::propose(problem, method, &control).map(|mut solution| {
        // What explains it is looked for in what is left of the time.
        control.progress = None;
        let best = solution.answer.clone().filter(|_| args.steady);
        let found = best.as_ref().and_then(|best| steady(problem, best, FRESH_DRAWS, method, &control));
        let report = best.as_ref().zip(found.as_ref()).map(|(best, found)| SteadyReport::new(problem, best, found));
        let taken = found.filter(Steady::buys);
        // What the rules cost is asked of the best on paper alone.
        let worth = !args.no_worth && taken.is_none();
        if let Some(found) = taken {
            solution.status = Status::Feasible;
            solution.is_cheapest = false;
            solution.answer = Some(found.answer);
        }
        let explanation = Explanation::of(problem, &solution, worth, method, &control);
        (solution, explanation, report)
    });
    drawing.clear();
    solved.map_err(|failure| failed(&failure))
}
