//! `permil next`.

use std::path::{Path, PathBuf};

use super::leeway::margin;
use super::output::{self, complain};
use super::save::is_same;
use super::shared::{FormatName, Search, Shown, failed};
use super::smelled::smelled;
use super::{Ending, progress, stop};
use crate::analysis::learn::{choose, gather};
use crate::analysis::next::{Known, next};
use crate::analysis::repair::Reasons;
use crate::analysis::starts::{Asked, starts};
use crate::escape::escaped;
use crate::files::{Scenario, load_scenario};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::results::next::{Looked, NextReport};
use crate::solve::{self, Status};

/// Formulas near the best that trials are chosen from.
const FORMULAS: usize = 10;
/// Doses that differ by less than this in ppt are equal.
const SAME: f64 = 1e-6;

const AFTER_HELP: &str = "\
Examples:
  permil next profiles/rose-otto/brief.toml profiles/rose-otto/trials.toml
  permil next brief.toml trials.toml -n 5 --margin 5
  permil next brief.toml trials.toml --format csv > next.csv

Exit status:
  0  trials worth weighing, or none that would teach much
  1  no blend can meet the brief, or the parts of a trial do not add up to 1000
  2  wrong usage, or a fault in the files
  3  stopped without an answer, or a result failed its own check";

/// Say which trials would teach most about a match
///
/// Among varied formulas near the best and the single materials in them, those
/// after which the match would be known best: by how far the variance of the
/// match falls in the linearised model, given what the trials so far have
/// taught. A single material costs a dip and no weighing.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The trials so far
    trials: PathBuf,
    /// How many trials
    #[arg(short = 'n', long = "count", value_name = "N", default_value = "3", value_parser = clap::value_parser!(u16).range(1..=20))]
    count: u16,
    /// How many points of fidelity a mod may lie below the best
    #[arg(long, value_name = "POINTS", default_value = "3", value_parser = margin, allow_negative_numbers = true)]
    margin: f64,
    /// Seed of the random directions in which mods are looked for
    #[arg(long, value_name = "SEED", default_value = "1")]
    seed: u64,
    /// Put all trials together, however they were smelled
    #[arg(long)]
    pool: bool,
    /// Scale trials whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads brief and trials, and chooses what to smell next.
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let read = match smelled(&args.trials, args.rescale, colour) {
        Ok(read) => read,
        Err(ending) => return ending,
    };
    if !is_same(Path::new(&*palette.file), &read.palette.file) {
        let (own, other) = (escaped(&palette.file), escaped(&read.palette.file));
        complain(&format!("the brief is of the palette {own}, the trials of {other}: they have to share one"));
        return Ending::Wrong;
    }
    warnings.extend(read.warnings.iter().cloned());
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    output::warn(&warnings, args.shown.quiet);

    let mut control = stop::control(&args.search, stop::on_interrupt());
    let method = args.search.solver.into();
    let asked = Asked { count: FORMULAS, margin: args.margin, seed: args.seed };
    let drawing = progress::draw(&problem, &mut control, args.shown.quiet);
    // Half of the time is left for the others.
    let best = solve::propose(&problem, method, &control.with_share(0.5));
    drawing.clear();
    control.progress = None;
    let drawing = progress::count("directions", args.shown.quiet);
    let found =
        best.and_then(|best| starts(&problem, asked, best, method, &control, &|done, of| drawing.done(done, of)));
    drawing.clear();
    let found = match found {
        Ok(found) => found,
        Err(failure) => return failed(&failure),
    };
    let status = found.best.status;
    // As `learn` would compare them.
    let matching = choose(&read.palette, &read.trials, &read.neat_ppt, args.pool, &control);
    let (evidence, _) = gather(&read.palette, &read.trials, &read.neat_ppt, args.pool, matching);
    let used = evidence.iter().map(|one| read.trials.trials[one.trial].code.clone()).collect();
    let formulas: Vec<Formula> = found.chosen.iter().map(|answer| answer.formula.clone()).collect();
    let is_tried = |formula: &Formula| {
        let neat = problem.neat_ppt(formula);
        let same = |other: &Vec<f64>| neat.iter().zip(other).all(|(a, b)| (a - b).abs() < SAME);
        read.neat_ppt.iter().any(same)
    };
    let tried: Vec<bool> = formulas.iter().map(is_tried).collect();
    let known = Known { palette: &read.palette, evidence: &evidence, matching };
    let chosen = if formulas.is_empty() { None } else { next(&problem, known, &formulas, &tried, args.count.into()) };
    let reasons = if status == Status::Infeasible { Reasons::of(&problem, &control) } else { Reasons::default() };
    let looked = Looked {
        trials: &read.trials.file,
        used,
        status,
        margin: args.margin,
        seed: args.seed,
        formulas: &found.chosen,
    };
    let report = NextReport::new(&problem, &brief, &looked, chosen.as_ref(), &reasons, warnings);
    let (ending, words) = match (status, &chosen) {
        (Status::Infeasible, _) => (Ending::No, "no blend can meet this brief (proven)"),
        (_, None) => (Ending::NoAnswer, "stopped without an answer"),
        _ => (Ending::Done, ""),
    };
    if args.shown.format == FormatName::Csv && !words.is_empty() {
        // A table without rows does not say why.
        complain(words);
    }
    output::answer(&report, args.shown.format.into(), colour, ending)
}
