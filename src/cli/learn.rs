//! `permil learn`.

use std::path::{Path, PathBuf};

use super::Ending;
use super::applying::{apply, steps, undo};
use super::output::{self, complain};
use super::plot::Plotting;
use super::save::is_same;
use super::shared::{FormatName, Shown, bases_stay};
use super::smelled::{Smelled, smelled};
use crate::analysis::learn::{Asked, Learned, Untrusted, learn};
use crate::brief::Match;
use crate::chart::pairs::PairsChart;
use crate::control::Control;
use crate::escape::escaped;
use crate::files::{LARGEST_FILE, SaveError, could_save, learned_palette_text, save_text, stamped_text};
use crate::results::learn::LearnReport;
use crate::store::{Disk, Store};
use crate::trials::fingerprint;

const AFTER_HELP: &str = "\
Examples:
  permil learn profiles/rose-otto/trials.toml
  permil learn trials.toml --apply
  permil learn trials.toml --undo
  permil learn trials.toml --save palette-2.toml --stamp
  permil learn trials.toml --exponent 0.4 --pool
  permil learn trials.toml --plot changes.svg
  permil learn trials.toml --format csv > changes.csv

Your palette's own values hold until trials say otherwise: a score is known give
or take its score_error (1 point unless said; half of that where it is 0), a
strength to within times or divided by its strength_factor (1.5 unless said),
what you smelled give or take the trial's give_or_take (1 point unless said).

--apply corrects the palette itself, so that briefs and mods see the new numbers;
palette.history.toml beside it keeps the former ones with date and reason, and
--undo takes the last step back. --save writes the corrected scores and strengths, and how sure they are now,
into a copy of the palette; comments and order stay. Learn from all your
trials and the first palette each time: trials whose lessons are in a palette
already would count twice. --stamp marks the palette in the trials, and from
then on learn says when its scores or strengths have changed.

Exit status:
  0  done
  1  the parts of a trial do not add up to 1000, or no trial says anything
  2  wrong usage, a fault in the files, or a file that may not be written";

/// Correct scores and strengths by what you smelled
///
/// Finds the scores and strengths that explain your trials best while they
/// stay near those of your palette. Says what changes and which trials drive
/// it, which trials do not fit the others, and whether the correction predicts
/// trials that it has not seen or merely fits those that it has.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The trials
    trials: PathBuf,
    /// Exponent of the odour shares: 1, or 0.4 where strong materials weigh less
    #[arg(long, value_name = "EXPONENT", default_value = "1", value_parser = exponent, allow_negative_numbers = true)]
    exponent: f64,
    /// Put all trials together, however they were smelled
    #[arg(long)]
    pool: bool,
    /// Scale trials whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    /// How judged scores are compared, whichever predicts better: balance or
    /// level
    #[arg(long = "match", value_name = "MATCH", value_parser = matching)]
    matching: Option<Match>,
    /// Write the corrected palette to a file
    #[arg(long, value_name = "FILE", group = "kept", help_heading = "Output")]
    save: Option<PathBuf>,
    /// Correct the palette itself; the former numbers go to a history beside it
    #[arg(long, group = "kept", help_heading = "Output")]
    apply: bool,
    /// Take the last correction of the palette back, whichever command made it
    #[arg(long, conflicts_with_all = ["kept", "stamp", "plot"], help_heading = "Output")]
    undo: bool,
    /// Let --save overwrite an older palette, and keep a correction that cannot be
    /// trusted
    #[arg(long, requires = "kept", help_heading = "Output")]
    force: bool,
    /// Mark in the trials' file which palette they were held against
    #[arg(long, help_heading = "Output")]
    stamp: bool,
    #[command(flatten)]
    plotting: Plotting,
    #[command(flatten)]
    shown: Shown,
}

/// An exponent of odour shares.
pub fn exponent(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number == 1.0 || number == 0.4 => Ok(number),
        _ => Err("expected 1 or 0.4".to_owned()),
    }
}

/// A way of comparing judged scores.
fn matching(text: &str) -> Result<Match, String> {
    let known = Match::ALL.into_iter().find(|matching| matching.word() == text);
    known.ok_or_else(|| format!("expected {}", Match::ALL.map(Match::word).join(" or ")))
}

/// Reads the trials and learns from them.
pub fn run(args: &Args) -> Ending {
    let read = match smelled(&args.trials, args.rescale, args.shown.color) {
        Ok(read) => read,
        Err(ending) => return ending,
    };
    if args.undo {
        return undo(Path::new(&*read.palette.file));
    }
    let may_plot = args.plotting.may_beside(&args.trials, "which is read")
        && args.plotting.may_beside(std::path::Path::new(&*read.palette.file), "which the trials start from");
    if !may_plot || !may_save(args, &read) {
        return Ending::Wrong;
    }
    let mut warnings = read.warnings.clone();
    let twice = applied_before(&read);
    warnings.extend(twice.iter().cloned());
    output::warn(&warnings, args.shown.quiet);
    if let (Some(_), true, false) = (&twice, args.apply, args.force) {
        complain("--apply would count these trials twice; --undo takes the former correction back first");
        return Ending::Wrong;
    }
    if args.save.is_some() || args.apply {
        output::warn(bases_stay(&read.palette).as_slice(), args.shown.quiet);
    }
    let asked = Asked { exponent: args.exponent, pool: args.pool, matching: args.matching };
    let (learned, aside) = learn(&read.palette, &read.trials, &read.neat_ppt, asked, &Control::default());
    let report =
        LearnReport::new(&read.palette, &read.trials, args.exponent, args.pool, learned.as_ref(), &aside, warnings);
    let ending = match &learned {
        Some(learned) if args.force || !is_refused(args, learned) => save(args, &read, learned),
        Some(_) => Ending::No,
        None => Ending::No,
    };
    if learned.is_none() && args.shown.format == FormatName::Csv {
        // A table without rows does not say why.
        complain("no trial says anything yet");
    }
    let ending = args.plotting.draw_some(PairsChart::of_learn(&report), ending);
    output::answer(&report, args.shown.format.into(), args.shown.color, ending)
}

/// Whether everything may be written that is to be written, told where not.
fn may_save(args: &Args, read: &Smelled) -> bool {
    let Some(path) = &args.save else { return true };
    for (input, why) in [(&*read.palette.file, "which the trials start from"), (&*read.trials.file, "which is read")] {
        if is_same(path, input) {
            complain(&format!("--save would overwrite {}, {why}", escaped(input)));
            return false;
        }
    }
    let told = |error: SaveError| {
        let hint = if matches!(error, SaveError::Exists(_)) { "; --force overwrites it" } else { "" };
        complain(&format!("{error}{hint}"));
        false
    };
    could_save(path, args.force).map_or_else(told, |()| true)
}

/// Whether a correction is not to be kept, told why.
fn is_refused(args: &Args, learned: &Learned) -> bool {
    let Some(why) = learned.is_untrusted().filter(|_| args.save.is_some() || args.apply) else { return false };
    let words = match why {
        Untrusted::Restless => "the estimate did not come to rest".to_owned(),
        Untrusted::Misfits(misfits, trials) => format!("{misfits} of {trials} trials do not fit the others"),
    };
    complain(&format!("the correction was not kept: {words}; --force keeps it"));
    true
}

/// What is wrong with learning from trials that the palette has been corrected
/// by already.
fn applied_before(read: &Smelled) -> Option<String> {
    let palette = Path::new(&*read.palette.file);
    let steps = match steps(palette) {
        Ok(steps) => steps,
        Err(words) => return Some(words),
    };
    let own = file_name(&read.trials.file);
    let step = steps.iter().rev().find(|step| step.by == "learn" && step.reason.starts_with(&format!("{own}: ")))?;
    Some(format!(
        "{} was corrected by {own} on {}: its trials count twice now; --undo takes that back",
        read.palette.file, step.date
    ))
}

fn file_name(path: &str) -> String {
    Path::new(path).file_name().map_or_else(|| path.to_owned(), |name| name.to_string_lossy().into_owned())
}

/// The trials' file, what of it was used and how.
fn reason(read: &Smelled, learned: &Learned) -> String {
    let codes: Vec<&str> = learned.evidence.iter().map(|one| &*read.trials.trials[one.trial].code).collect();
    let matching = learned.matching.word();
    format!(
        "{}: {} (match {matching}, exponent {})",
        file_name(&read.trials.file),
        codes.join(", "),
        learned.asked.exponent
    )
}

fn save(args: &Args, read: &Smelled, learned: &Learned) -> Ending {
    if args.apply {
        let after = learned.palette(&read.palette);
        let make = |text: &str| learned_palette_text(text, &read.palette, &after);
        let ending = apply(Path::new(&*read.palette.file), "learn", &reason(read, learned), &make);
        if ending != Ending::Done {
            return ending;
        }
    }
    let mut ending = Ending::Done;
    let mut write = |path: &Path, input: &str, force: bool, make: &dyn Fn(&str) -> String| {
        let text = Disk.text(Path::new(input), LARGEST_FILE).map_err(|why| format!("{} {why}", escaped(input)));
        let saved = text.and_then(|text| save_text(path, &make(&text), force).map_err(|error| error.to_string()));
        if let Err(error) = saved {
            complain(&error);
            ending = Ending::Wrong;
        }
    };
    if let Some(path) = &args.save {
        let after = learned.palette(&read.palette);
        write(path, &read.palette.file, args.force, &|text| learned_palette_text(text, &read.palette, &after));
    }
    if args.stamp {
        let mark = fingerprint(&read.palette);
        write(&args.trials, &read.trials.file, true, &|text| stamped_text(text, &mark));
    }
    ending
}
