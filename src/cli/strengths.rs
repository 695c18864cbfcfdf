//! `permil strengths`.

use std::path::PathBuf;

use super::Ending;
use super::applying::{apply, steps, undo};
use super::error::CliError;
use super::plot::Plotting;
use super::save::PaletteSaving;
use super::session::Session;
use super::shared::{Shown, bases_stay};
use crate::chart::strengths::StrengthsChart;
use crate::escape::escaped;
use crate::files::{HistoryStep, edited_palette};
use crate::questions::{Outcome, strengths};

const AFTER_HELP: &str = "\
Examples:
  permil strengths profiles/rose-otto/palette.toml profiles/rose-otto/matches.toml
  permil strengths palette.toml matches.toml --plot strengths.svg
  permil strengths palette.toml matches.toml --apply
  permil strengths palette.toml --undo
  permil strengths palette.toml matches.toml --save palette-2.toml

Exit status:
  0  done, whether or not matches contradict each other
  2  wrong usage, a fault in the files, or --save or --plot refused
  3  the numbers left no way to work it out";

/// Work out strengths from dilutions that were smelled side by side
///
/// Which dilutions smelled equally strong says how strong materials are beside
/// each other; which of two was the stronger gives a bound. The palette's
/// strengths, as sure as their strength_factor, are what is known before; the
/// reference keeps its own. Says what comes of both, how sure it is, which
/// matches contradict the others, and which materials no chain of matches ties
/// to the reference. Always begin with the palette from before the matches: in
/// a saved one they are counted already.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The palette
    palette: PathBuf,
    /// The matches
    #[arg(required_unless_present = "undo")]
    matches: Option<PathBuf>,
    /// Correct the palette itself; the former numbers go to a history beside it
    #[arg(long, conflicts_with = "save", help_heading = "Output")]
    apply: bool,
    /// Take the last correction of the palette back, whichever command made it
    #[arg(long, conflicts_with_all = ["apply", "save", "plot"], help_heading = "Output")]
    undo: bool,
    #[command(flatten)]
    saving: PaletteSaving,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    shown: Shown,
}

/// Reads palette and matches and works the strengths out.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let mut session = Session::new(&args.shown);
    let palette = session.palette(&args.palette)?;
    let Some(path) = args.matches.as_ref().filter(|_| !args.undo) else { return undo(&args.palette) };
    let (matches, warnings) = session.matches(path, &palette)?;
    let inputs = [args.palette.as_path(), path.as_path()];
    inputs.iter().try_for_each(|input| args.plotting.spares(input, "which is read"))?;
    args.saving.allowed(&inputs)?;
    session.warn(&warnings);
    let own = path.file_name().map_or_else(|| path.to_string_lossy(), |name| name.to_string_lossy());
    if args.apply {
        counts_once(args, &own)?;
    }
    if args.saving.is_wanted() || args.apply {
        session.warn(bases_stay(&palette).as_slice());
    }
    let report = strengths::ask(&palette, &matches, warnings)?;
    let edits = report.edits();
    session.keep(if args.apply {
        let make = |text: &str| edited_palette(text, &edits).unwrap_or_else(|| text.to_owned());
        apply(&args.palette, "strengths", &format!("{own}: dilutions smelled side by side"), &make)
    } else {
        args.saving.saved(&args.palette, &edits)
    });
    let draw = || args.plotting.drawn_some(Some(StrengthsChart::of_report(&report)));
    session.drawn(&report, Outcome::Answered, draw)
}

/// Refuses to correct a palette twice by the same matches.
fn counts_once(args: &Args, own: &str) -> Result<(), CliError> {
    let is_same = |step: &&HistoryStep| step.by == "strengths" && step.reason.starts_with(&format!("{own}: "));
    let steps = steps(&args.palette)?;
    let Some(step) = steps.iter().rev().find(is_same) else { return Ok(()) };
    let (palette, own) = (escaped(&args.palette.to_string_lossy()), escaped(own));
    Err(CliError::Wrong(format!(
        "{palette} was corrected by {own} on {}: its matches would count twice; --undo takes that back first",
        step.date
    )))
}
