//! `permil strengths`.

use std::path::PathBuf;

use super::Ending;
use super::output::{self, complain};
use super::plot::Plotting;
use super::save::PaletteSaving;
use super::shared::{Shown, bases_stay};
use crate::analysis::strengths::strengths;
use crate::chart::strengths::StrengthsChart;
use crate::files::{load_matches, load_palette};
use crate::report::strengths::StrengthsReport;

const AFTER_HELP: &str = "\
Examples:
  permil strengths profiles/rose-otto/palette.toml profiles/rose-otto/matches.toml
  permil strengths palette.toml matches.toml --plot strengths.svg
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
    matches: PathBuf,
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
    let (matches, warnings) = match load_matches(&args.matches, &palette) {
        Ok(read) => read,
        Err(faults) => return output::faults(&faults, colour),
    };
    let inputs = [args.palette.as_path(), args.matches.as_path()];
    let may_plot = inputs.iter().all(|input| args.plotting.may_beside(input, "which is read"));
    if !may_plot || !args.saving.may(&inputs) {
        return Ending::Wrong;
    }
    output::warn(&warnings, args.shown.quiet);
    if args.saving.is_wanted() {
        output::warn(bases_stay(&palette).as_slice(), args.shown.quiet);
    }
    let Some(found) = strengths(&palette, &matches) else {
        complain("the numbers of these matches lie too far apart to be worked out together");
        return Ending::NoAnswer;
    };
    let report = StrengthsReport::new(&palette, &matches, &found, warnings);
    let ending = args.saving.save(&args.palette, &report.edits());
    let ending = args.plotting.draw_some(Some(StrengthsChart::of_report(&report)), ending);
    output::answer(&report, args.shown.format.into(), colour, ending)
}
