//! `permil starts`.

use std::path::{Path, PathBuf};

use super::Ending;
use super::error::CliError;
use super::leeway::margin;
use super::lessons::Lessons;
use super::plot::Plotting;
use super::save::spares_input;
use super::session::Session;
use super::shared::{Search, Shown};
use crate::chart::starts::StartsChart;
use crate::escape::escaped;
use crate::files::{could_save, make_folder, save_formula, save_text};
use crate::formula::Formula;
use crate::questions::Resolved;
use crate::questions::starts::{self, Answer, Asked};
use crate::text;

const AFTER_HELP: &str = "\
Examples:
  permil starts profiles/rose-otto/brief.toml
  permil starts brief.toml -n 4 --margin 2 --save starts
  permil starts brief.toml --plot starts.svg
  permil starts brief.toml --from gc-rose.toml -n 4
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
/// --from they lead from a known formula to the best, each the nearest to it of
/// those that lose no more match. With
/// --blind they have codes of three digits, and what they are goes to a key.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// How many formulas
    #[arg(short = 'n', long = "count", value_name = "N", default_value_t = Asked::default().count as u16, value_parser = clap::value_parser!(u16).range(1..=50))]
    count: u16,
    /// How many % points of the match each may lie below the best
    #[arg(long, value_name = "POINTS", default_value_t = Asked::default().margin, value_parser = margin, allow_negative_numbers = true)]
    margin: f64,
    /// Begin at a known formula, a composition or a formula file: formulas on the
    /// way from the nearest to it inside the rules to the best match
    #[arg(long, value_name = "FILE", conflicts_with_all = ["margin", "seed", "blind"])]
    from: Option<PathBuf>,
    /// Seed of the random directions and codes: the same seed gives the same
    /// formulas
    #[arg(long, value_name = "SEED", default_value_t = Asked::default().seed)]
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
    lessons: Lessons,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

impl Args {
    fn asked(&self) -> Asked {
        let (count, method) = (self.count.into(), self.search.solver.into());
        Asked { count, margin: self.margin, seed: self.seed, blind: self.blind, method }
    }
}

/// Reads the brief, solves it and looks for formulas that lie apart.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let mut session = Session::new(&args.shown);
    let scenario = session.scenario(&args.brief)?;
    if args.blind && args.plotting.is_wanted() {
        let words = "a chart would tell what is smelled blind; leave out --plot or --blind";
        return Err(CliError::Wrong(words.to_owned()));
    }
    args.plotting.allowed(&scenario)?;
    let folder =
        args.save.iter().flat_map(|folder| (0..usize::from(args.count)).map(|at| (file(folder, at, &[]), "--save")));
    for (path, option) in folder.chain(args.key.iter().map(|key| (key.clone(), "--key"))) {
        spares_input(&path, option, &scenario)?;
    }
    let (known, more) = match &args.from {
        Some(path) => session.composition(path, &scenario.palette).map(|(known, more)| (Some(known), more))?,
        None => (None, Vec::new()),
    };
    let mut resolved = args.lessons.remarked(&session, Resolved::from(scenario))?;
    resolved.warnings.extend(more);
    let asked = args.asked();
    // Before the search, so that nobody waits for what is then lost.
    may_write(args, &asked.codes())?;
    session.warn(&resolved.warnings);
    let answer = session.work(&args.search, Some(&resolved.problem), |control| match &known {
        Some(composition) => {
            let wanted = starts::From { composition, count: asked.count, method: asked.method };
            starts::from(&resolved, &wanted, control)
        }
        None => starts::ask(&resolved, &asked, control),
    })?;
    session.keep(save(args, &answer, &resolved));
    session.drawn(&answer.report, answer.outcome(), || args.plotting.drawn_some(StartsChart::of_report(&answer.report)))
}

/// The file of a formula in the folder.
fn file(folder: &Path, at: usize, codes: &[u32]) -> PathBuf {
    folder.join(match codes.get(at) {
        Some(code) => format!("{code:03}.toml"),
        None => format!("start-{}.toml", at + 1),
    })
}

/// Whether everything that is asked for may be written.
fn may_write(args: &Args, codes: &[u32]) -> Result<(), CliError> {
    if let Some(key) = &args.key {
        could_save(key, args.force).map_err(CliError::refused)?;
    }
    let Some(folder) = &args.save else { return Ok(()) };
    make_folder(folder)
        .map_err(|error| CliError::Wrong(format!("{} cannot be made: {error}", escaped(&folder.to_string_lossy()))))?;
    (0..usize::from(args.count))
        .try_for_each(|at| could_save(&file(folder, at, codes), args.force).map_err(CliError::refused))
}

/// Writes the formulas and the key, if that was asked for.
fn save(args: &Args, answer: &Answer, of: &Resolved) -> Result<(), CliError> {
    if answer.chosen.is_empty() {
        return Ok(());
    }
    let mut saved = Vec::new();
    for (folder, (at, chosen)) in
        args.save.iter().flat_map(|folder| answer.chosen.iter().enumerate().map(move |it| (folder, it)))
    {
        // A code says nothing of what it stands for.
        let title = match answer.codes.get(at) {
            Some(code) => format!("{code:03}"),
            None => format!("{}, start {}", of.brief.title.as_deref().unwrap_or("Accord"), at + 1),
        };
        let formula = Formula { title: Some(title), ..chosen.formula.clone() };
        saved.push(save_formula(&file(folder, at, &answer.codes), &formula, &of.problem.palette, args.force));
    }
    saved.extend(args.key.iter().map(|key| save_text(key, &text::key(&answer.report), args.force)));
    CliError::all(saved.into_iter().filter_map(Result::err).map(CliError::from).collect())
}
