//! `permil starts`.

use std::path::{Path, PathBuf};

use super::leeway::margin;
use super::output::{self, complain};
use super::plot::Plotting;
use super::save::overwrites_input;
use super::shared::{FormatName, Search, Shown, failed};
use super::{Ending, progress, stop};
use crate::analysis::repair::Reasons;
use crate::analysis::starts::{Asked, starts};
use crate::chance::Chance;
use crate::chart::starts::StartsChart;
use crate::escape::escaped;
use crate::files::{SaveError, Scenario, could_save, load_scenario, make_folder, save_formula, save_text};
use crate::formula::Formula;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::results::starts::StartsReport;
use crate::solve::{self, Answer, Status};
use crate::text;

/// The stream of random numbers that codes are drawn from.
const CODES: u64 = u64::MAX;

const AFTER_HELP: &str = "\
Examples:
  permil starts profiles/rose-otto/brief.toml
  permil starts brief.toml -n 4 --margin 2 --save starts
  permil starts brief.toml --plot starts.svg
  permil starts brief.toml --blind --key key.txt --seed 7 --save blind

Exit status:
  0  formulas: as many as asked for, or as many as there are
  1  no blend can meet the brief
  2  wrong usage, a fault in the files, or a file that may not be written
  3  stopped without an answer, or a result failed its own check";

/// Propose several formulas to smell side by side
///
/// Formulas inside every rule of the brief, each within a margin of the best
/// match and as different from each other as random directions find them. The
/// difference is measured on odour shares. The first is the best match. With
/// --blind they have codes of three digits, and what they are goes to a key.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// How many formulas
    #[arg(short = 'n', long = "count", value_name = "N", default_value = "6", value_parser = clap::value_parser!(u16).range(1..=50))]
    count: u16,
    /// How many % points of the match each may lie below the best
    #[arg(long, value_name = "POINTS", default_value = "3", value_parser = margin, allow_negative_numbers = true)]
    margin: f64,
    /// Seed of the random directions and codes: the same seed gives the same
    /// formulas
    #[arg(long, value_name = "SEED", default_value = "1")]
    seed: u64,
    /// Give them codes, and keep what they are for the key
    #[arg(long, requires = "key")]
    blind: bool,
    /// Where the key to the codes goes
    #[arg(long, value_name = "FILE", requires = "blind")]
    key: Option<PathBuf>,
    /// Write each formula to a file in this folder, which is made if need be
    #[arg(long, value_name = "FOLDER", help_heading = "Output")]
    save: Option<PathBuf>,
    /// Let --save and --key overwrite older files
    #[arg(long, help_heading = "Output")]
    force: bool,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

/// Reads the brief, solves it and looks for formulas that lie apart.
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    if args.blind && args.plotting.is_wanted() {
        complain("a chart would tell what is smelled blind; leave out --plot or --blind");
        return Ending::Wrong;
    }
    if !args.plotting.may(&palette, &brief, &limits) {
        return Ending::Wrong;
    }
    let folder =
        args.save.iter().flat_map(|folder| (0..usize::from(args.count)).map(|at| (file(folder, at, &[]), "--save")));
    let mut written = folder.chain(args.key.iter().map(|key| (key.clone(), "--key")));
    if written.any(|(path, option)| overwrites_input(&path, option, &palette, &brief, &limits)) {
        return Ending::Wrong;
    }
    let problem = Problem::new(palette, &brief, &limits);
    warnings.extend(problem.warnings.iter().cloned());
    let asked = Asked { count: args.count.into(), margin: args.margin, seed: args.seed };
    let codes = match args.blind {
        true => Chance::new(args.seed, CODES).different(asked.count, 100, 1000),
        false => Vec::new(),
    };
    // Before the search, so that nobody waits for what is then lost.
    if !may_write(args, &codes) {
        return Ending::Wrong;
    }
    output::warn(&warnings, args.shown.quiet);

    let mut control = stop::control(&args.search, stop::on_interrupt());
    let method = args.search.solver.into();
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
    let reasons = if status == Status::Infeasible { Reasons::of(&problem, &control) } else { Reasons::default() };
    let title = brief.title.as_deref();
    let codes: &[u32] = codes.get(..found.chosen.len()).unwrap_or_default();
    let report = StartsReport::new(&problem, &brief, asked, &found, codes, &reasons, warnings);
    let saved = save(args, &found.chosen, codes, title, &problem.palette, &report);
    let (ending, words) = match status {
        Status::Optimal | Status::Feasible => (saved, ""),
        Status::Infeasible => (Ending::No, "no blend can meet this brief (proven)"),
        Status::Unknown => (Ending::NoAnswer, "stopped without an answer"),
    };
    let ending = args.plotting.draw_some(StartsChart::of_report(&report), ending);
    if args.shown.format == FormatName::Csv && !words.is_empty() {
        // A table without rows does not say why.
        complain(words);
    }
    output::answer(&report, &args.shown, ending)
}

/// The file of a formula in the folder.
fn file(folder: &Path, at: usize, codes: &[u32]) -> PathBuf {
    folder.join(match codes.get(at) {
        Some(code) => format!("{code:03}.toml"),
        None => format!("start-{}.toml", at + 1),
    })
}

/// Whether everything that is asked for may be written, told where not.
fn may_write(args: &Args, codes: &[u32]) -> bool {
    let told = |error: SaveError| {
        let hint = if matches!(error, SaveError::Exists(_)) { "; --force overwrites it" } else { "" };
        complain(&format!("{error}{hint}"));
        false
    };
    if let Some(key) = &args.key
        && let Err(error) = could_save(key, args.force)
    {
        return told(error);
    }
    let Some(folder) = &args.save else { return true };
    if let Err(error) = make_folder(folder) {
        complain(&format!("{} cannot be made: {error}", escaped(&folder.to_string_lossy())));
        return false;
    }
    (0..usize::from(args.count)).all(|at| could_save(&file(folder, at, codes), args.force).map_or_else(told, |()| true))
}

/// Writes the formulas and the key, if that was asked for.
fn save(
    args: &Args,
    chosen: &[Answer],
    codes: &[u32],
    title: Option<&str>,
    palette: &Palette,
    report: &StartsReport,
) -> Ending {
    if chosen.is_empty() {
        return Ending::Done;
    }
    let mut ending = Ending::Done;
    let mut tell = |saved: Result<(), SaveError>| {
        if let Err(error) = saved {
            complain(&error.to_string());
            ending = Ending::Wrong;
        }
    };
    if let Some(folder) = &args.save {
        for (at, answer) in chosen.iter().enumerate() {
            // A code says nothing of what it stands for.
            let title = match codes.get(at) {
                Some(code) => format!("{code:03}"),
                None => format!("{}, start {}", title.unwrap_or("Accord"), at + 1),
            };
            let formula = Formula { title: Some(title), ..answer.formula.clone() };
            tell(save_formula(&file(folder, at, codes), &formula, palette, args.force));
        }
    }
    if let Some(key) = &args.key {
        tell(save_text(key, &text::key(report), args.force));
    }
    ending
}
