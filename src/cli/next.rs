//! `permil next`.

use std::path::PathBuf;

use clap::ValueEnum;

use super::Ending;
use super::error::CliError;
use super::leeway::margin;
use super::session::Session;
use super::shared::{Search, Shown};
use crate::questions::next::{self, Asked};
use crate::questions::{Outcome, Refusal, Resolved};

const AFTER_HELP: &str = "\
Examples:
  permil next profiles/rose-otto/brief.toml profiles/rose-otto/trials.toml
  permil next brief.toml trials.toml -n 5 --margin 5
  permil next brief.toml trials.toml --about law -n 2
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
    #[arg(short = 'n', long = "count", value_name = "N", default_value_t = Asked::default().count as u16, value_parser = clap::value_parser!(u16).range(1..=20))]
    count: u16,
    /// What the trials should tell: which law your nose follows (law); else what
    /// the match hangs on
    #[arg(long, value_enum, value_name = "WHAT")]
    about: Option<About>,
    /// How many % points of the match a mod may lie below the best
    #[arg(long, value_name = "POINTS", default_value_t = Asked::default().margin, value_parser = margin, allow_negative_numbers = true)]
    margin: f64,
    /// Seed of the random directions in which mods are looked for
    #[arg(long, value_name = "SEED", default_value_t = Asked::default().seed)]
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

/// What trials should tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum About {
    /// Which law the nose follows: linear, or compressive
    Law,
}

/// Reads brief and trials, and chooses what to smell next.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let mut scenario = session.scenario(&args.brief)?;
    let read = session.smelled(&args.trials, args.rescale)?;
    session.share_palette(&scenario.palette, &read)?;
    scenario.warnings.extend(read.warnings.iter().cloned());
    let resolved = Resolved::from(scenario);
    session.warn(&resolved.warnings);
    let asked = Asked {
        count: args.count.into(),
        margin: args.margin,
        seed: args.seed,
        pool: args.pool,
        method: args.search.solver.into(),
    };
    if args.about == Some(About::Law) {
        let report = session.work(&args.search, Some(&resolved.problem), |control| {
            Ok::<_, Refusal>(next::about_law(&resolved, &read, &asked, control))
        })?;
        return session.answer(&report, Outcome::Answered);
    }
    let answer =
        session.work(&args.search, Some(&resolved.problem), |control| next::ask(&resolved, &read, &asked, control))?;
    session.answer(&answer.report, answer.outcome())
}
