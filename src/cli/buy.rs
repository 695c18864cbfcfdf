//! `permil buy`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::lessons::Lessons;
use super::session::Session;
use super::shared::{Search, Shown, in_range};
use crate::questions::Resolved;
use crate::questions::buy::{self, Asked};

const AFTER_HELP: &str = "\
Examples:
  permil buy profiles/rose-otto/brief.toml
  permil buy brief.toml --from wishlist.toml
  permil buy brief.toml --from wishlist.toml --batch 50 --format csv > buy.csv

Exit status:
  0  ranked, whether or not anything is worth buying
  1  no blend can meet the brief, whatever is bought
  2  wrong usage, or a fault in the files
  3  stopped without an answer, or a result failed its own check";

/// Say which materials are worth buying
///
/// For every material with have = false, and every one of a wishlist: the best
/// formula if it stood on the shelf, and what that adds to the best one from
/// the shelf alone; the best two together; and what a first batch needs of
/// them, in the packs that cost least. The shelf is everything without
/// have = false, whether or not the brief says own_only.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// A second palette whose materials could be bought
    #[arg(long, value_name = "WISHLIST")]
    from: Option<PathBuf>,
    /// Grams of neat accord of a first batch
    #[arg(long, value_name = "GRAMS", default_value_t = Asked::default().batch_grams, value_parser = grams, allow_negative_numbers = true)]
    batch: f64,
    #[command(flatten)]
    lessons: Lessons,
    #[command(flatten)]
    search: Search,
    #[command(flatten)]
    shown: Shown,
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e6, "a number of grams")
}

/// Reads brief and wishlist and ranks what could be bought.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let resolved = Resolved::from(session.scenario_to_buy(&args.brief, args.from.as_deref())?);
    let resolved = args.lessons.remarked(&session, resolved)?;
    session.warn(&resolved.warnings);
    let wishlist = args.from.as_ref().map(|path| path.to_string_lossy().into_owned());
    let asked = Asked { wishlist, batch_grams: args.batch, method: args.search.solver.into() };
    let answer = session.work(&args.search, Some(&resolved.problem), |control| buy::ask(&resolved, &asked, control))?;
    session.answer(&answer.report, answer.outcome())
}
