//! `permil next`.

use std::path::PathBuf;

use clap::ValueEnum;

use super::Ending;
use super::error::CliError;
use super::leeway::margin;
use super::session::Session;
use super::shared::{Search, Shown};
use crate::questions::next::{self, Asked, Effort, Per};
use crate::questions::{Outcome, Refusal, Resolved};

const AFTER_HELP: &str = "\
Examples:
  permil next profiles/rose-otto/brief.toml profiles/rose-otto/trials.toml
  permil next brief.toml trials.toml -n 5 --margin 5
  permil next brief.toml trials.toml --per cost --batch 5
  permil next brief.toml trials.toml --about law -n 2
  permil next brief.toml trials.toml --format csv > next.csv

Exit status:
  0  trials worth weighing, or none that would teach much
  1  no blend can meet the brief, or the parts of a trial do not add up to 1000
  2  wrong usage, or a fault in the files
  3  stopped without an answer, or a result failed its own check";

/// Say which trials would teach most about a match
///
/// Among varied formulas near the best, the single materials in them and pairs of
/// these, those after which the match would be known best: by how far the variance of the
/// match falls in the linearised model, given what the trials so far have
/// taught. A single material costs a dip and no weighing, and two of them that are
/// diluted until they smell equally strong tell which is how much the stronger. The
/// trial that teaches most for a minute comes first; how long things take is assumed
/// unless you say it.
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
    /// For what the trials are to teach most: a minute, what the materials cost, or a trial
    /// whatever it takes
    #[arg(long, value_enum, value_name = "WHAT", default_value_t = By::Minute)]
    per: By,
    /// Minutes for weighing one material
    #[arg(long, value_name = "MINUTES", default_value_t = Effort::default().weighing_minutes, value_parser = minutes)]
    weighing: f64,
    /// Minutes for smelling once: dip, wait, judge, write down
    #[arg(long, value_name = "MINUTES", default_value_t = Effort::default().smelling_minutes, value_parser = minutes)]
    smelling: f64,
    /// Minutes for each of the two rows of dilutions of a match
    #[arg(long, value_name = "MINUTES", default_value_t = Effort::default().dilution_minutes, value_parser = minutes)]
    dilution: f64,
    /// Mass of a mod in grams
    #[arg(long, value_name = "GRAMS", default_value_t = Effort::default().batch_grams, value_parser = minutes)]
    batch: f64,
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

/// For what trials are to teach most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum By {
    /// For a minute
    Minute,
    /// For what the materials cost
    Cost,
    /// For a trial
    Trial,
}

/// A number above 0, of minutes or grams.
fn minutes(text: &str) -> Result<f64, String> {
    let most = 100_000.0;
    let number = text.parse::<f64>().ok().filter(|number| *number > 0.0 && *number <= most);
    number.ok_or_else(|| format!("expected a number above 0, up to {most}"))
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
        per: match args.per {
            By::Minute => Per::Minute,
            By::Cost => Per::Cost,
            By::Trial => Per::Trial,
        },
        effort: Effort {
            weighing_minutes: args.weighing,
            smelling_minutes: args.smelling,
            dilution_minutes: args.dilution,
            batch_grams: args.batch,
        },
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
