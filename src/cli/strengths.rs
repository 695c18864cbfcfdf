//! `permil strengths`.

use std::path::PathBuf;

use super::Ending;
use super::applying::{apply, steps, undo};
use super::output::{self, complain};
use super::plot::Plotting;
use super::save::PaletteSaving;
use super::shared::{Shown, bases_stay};
use crate::analysis::strengths::strengths;
use crate::chart::strengths::StrengthsChart;
use crate::escape::escaped;
use crate::files::{HistoryStep, edited_palette, load_matches, load_palette};
use crate::results::strengths::StrengthsReport;

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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let palette = match load_palette(&args.palette) {
        Ok(palette) => palette,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Some(path) = args.matches.as_ref().filter(|_| !args.undo) else { return undo(&args.palette) };
    let (matches, warnings) = match load_matches(path, &palette) {
        Ok(read) => read,
        Err(faults) => return output::faults(&faults, colour),
    };
    let inputs = [args.palette.as_path(), path.as_path()];
    let may_plot = inputs.iter().all(|input| args.plotting.may_beside(input, "which is read"));
    if !may_plot || !args.saving.may(&inputs) {
        return Ending::Wrong;
    }
    output::warn(&warnings, args.shown.quiet);
    let own = path.file_name().map_or_else(|| path.to_string_lossy(), |name| name.to_string_lossy());
    if args.apply && counts_twice(args, &own) {
        return Ending::Wrong;
    }
    if args.saving.is_wanted() || args.apply {
        output::warn(bases_stay(&palette).as_slice(), args.shown.quiet);
    }
    let Some(found) = strengths(&palette, &matches) else {
        complain("the numbers of these matches lie too far apart to be worked out together");
        return Ending::NoAnswer;
    };
    let report = StrengthsReport::new(&palette, &matches, &found, warnings);
    let ending = if args.apply {
        let edits = report.edits();
        let make = |text: &str| edited_palette(text, &edits).unwrap_or_else(|| text.to_owned());
        apply(&args.palette, "strengths", &format!("{own}: dilutions smelled side by side"), &make)
    } else {
        args.saving.save(&args.palette, &report.edits())
    };
    let ending = args.plotting.draw_some(Some(StrengthsChart::of_report(&report)), ending);
    output::answer(&report, &args.shown, ending)
}

/// Whether the palette was corrected by these matches already, told where it was.
fn counts_twice(args: &Args, own: &str) -> bool {
    match steps(&args.palette) {
        Err(words) => complain(&words),
        Ok(steps) => {
            let is_same = |step: &&HistoryStep| step.by == "strengths" && step.reason.starts_with(&format!("{own}: "));
            let Some(step) = steps.iter().rev().find(is_same) else { return false };
            let palette = escaped(&args.palette.to_string_lossy());
            let own = escaped(own);
            complain(&format!(
                "{palette} was corrected by {own} on {}: its matches would count twice; --undo takes that back first",
                step.date
            ));
        }
    }
    true
}
