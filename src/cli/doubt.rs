//! `permil doubt`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::plot::Plotting;
use super::session::{Session, adds_up};
use super::shared::{Search, Shown};
use crate::chart::doubt::DoubtChart;
use crate::control::Control;
use crate::escape::escaped;
use crate::questions::Resolved;
use crate::questions::doubt::{self, Asked};
use crate::results::doubt::Subject;

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
/// strength_factor of the palette; 1 on the scale of the scores and a factor of
/// 1.5 where it says nothing) and judges the formula on every draw: how far its match and each
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
    #[arg(long, value_name = "N", default_value_t = Asked::default().draws as u32, value_parser = clap::value_parser!(u32).range(100..=200_000))]
    draws: u32,
    /// Which draws
    #[arg(long, value_name = "N", default_value_t = Asked::default().seed)]
    seed: u64,
    /// Draw by what these trials taught, errors that they have tied together drawn
    /// together, and hold the palette against the naturals among them whose
    /// composition is known
    #[arg(long, value_name = "TRIALS")]
    trials: Option<PathBuf>,
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
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let scenario = session.scenario(&args.brief)?;
    args.plotting.allowed(&scenario)?;
    let naturals = session.naturals(args.trials.as_deref(), &scenario.palette)?;
    let mut resolved = Resolved::from(scenario);
    if let Some(read) = &naturals {
        let (taught, report) = resolved.taught(read, false, &Control::default());
        resolved = taught;
        resolved.warnings.push(report.told());
    }
    let subjects = read(args, &session, &mut resolved)?;
    session.warn(&resolved.warnings);
    let asked = Asked { subjects, draws: args.draws as usize, seed: args.seed, method: args.search.solver.into() };
    let answer = session.work(&args.search, Some(&resolved.problem), |control| {
        doubt::ask(&resolved, &asked, naturals.as_ref(), control)
    })?;
    session.drawn(&answer.report, answer.outcome(), || args.plotting.drawn_some(DoubtChart::of_report(&answer.report)))
}

/// The formulas that were named; what is wrong with any of them is told for
/// all at once.
fn read(args: &Args, session: &Session, of: &mut Resolved) -> Result<Vec<Subject>, CliError> {
    let (mut subjects, mut errors) = (Vec::new(), Vec::new());
    for path in &args.formulas {
        let mut one = || -> Result<Subject, CliError> {
            let formula = session.formula(path, &of.problem.palette, &mut of.warnings)?;
            adds_up(&formula, path, args.rescale)?;
            Ok(doubt::subject(of, formula, &escaped(&path.to_string_lossy()))?)
        };
        match one() {
            Ok(subject) => subjects.push(subject),
            Err(error) => errors.push(error),
        }
    }
    CliError::all(errors).map(|()| subjects)
}
