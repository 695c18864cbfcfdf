//! `permil learn`.

use std::path::{Path, PathBuf};

use super::Ending;
use super::applying::{apply, steps, undo};
use super::error::CliError;
use super::plot::Plotting;
use super::save::is_same;
use super::session::Session;
use super::shared::{Shown, bases_stay};
use crate::brief::Match;
use crate::chart::pairs::PairsChart;
use crate::control::Control;
use crate::escape::escaped;
use crate::files::{LARGEST_FILE, could_save, learned_palette_text, save_text, stamped_text};
use crate::questions::Refusal;
use crate::questions::learn::{self, Answer, Asked, Learned};
use crate::questions::smelled::Smelled;
use crate::stage::Dip;
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
or take its score_error (1 on the scale of the scores unless said; half of that
where the score is 0), a strength to within a factor, its strength_factor (1.5
unless said), what you smelled give or take the trial's give_or_take (1 unless
said). A natural whose composition is published is a trial too; what is open of it
makes its scores less sure. A mod smelled after some time on a blotter is held
against what is left of it then; at several times trials also tell how long
materials last.

--apply corrects the palette itself, so that briefs and mods see the new numbers;
palette.history.toml beside it keeps the former ones with date and reason, and
--undo takes the last step back. --save writes the corrected scores and
strengths, how long materials last and how sure all that is, into a copy of the
palette; comments and order stay. Learn from all your
trials and the first palette each time: trials whose lessons are in a palette
already would count twice. --stamp marks the palette in the trials, and from
then on learn says when its scores or strengths have changed.

Exit status:
  0  done
  1  the parts of a trial do not add up to 1000, or no trial says anything
  2  wrong usage, a fault in the files, or a file that may not be written";

/// Correct scores and strengths by what you smelled
///
/// Finds the scores and strengths, and how long materials last on a blotter, that
/// explain your trials best while they stay near those of your palette. Says what
/// changes and which trials drive
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
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let mut session = Session::new(&args.shown);
    let read = session.smelled(&args.trials, args.rescale)?;
    let palette = Path::new(&*read.palette.file);
    if args.undo {
        return undo(palette);
    }
    args.plotting.spares(&args.trials, "which is read")?;
    args.plotting.spares(palette, "which the trials start from")?;
    may_save(args, &read)?;
    let mut warnings = read.warnings.clone();
    let twice = applied_before(&read);
    warnings.extend(twice.iter().cloned());
    session.warn(&warnings);
    if let (Some(_), true, false) = (&twice, args.apply, args.force) {
        let words = "--apply would count these trials twice; --undo takes the former correction back first";
        return Err(CliError::Wrong(words.to_owned()));
    }
    if args.save.is_some() || args.apply {
        session.warn(bases_stay(&read.palette).as_slice());
    }
    let asked = Asked { exponent: args.exponent, pool: args.pool, matching: args.matching, dip: Dip::default() };
    let answer = learn::ask(&read, asked, warnings, &Control::default());
    session.keep(keep(args, &read, &answer));
    session.drawn(&answer.report, answer.outcome(), || args.plotting.drawn_some(PairsChart::of_learn(&answer.report)))
}

/// Refuses to write over what is read, or over an older file unasked.
fn may_save(args: &Args, read: &Smelled) -> Result<(), CliError> {
    let Some(path) = &args.save else { return Ok(()) };
    for (input, why) in [(&*read.palette.file, "which the trials start from"), (&*read.trials.file, "which is read")] {
        if is_same(path, input) {
            return Err(CliError::Wrong(format!("--save would overwrite {}, {why}", escaped(input))));
        }
    }
    could_save(path, args.force).map_err(CliError::refused)
}

/// Keeps what was learned where it was asked for, and can be trusted or is to be
/// kept all the same.
fn keep(args: &Args, read: &Smelled, answer: &Answer) -> Result<(), CliError> {
    let Some(learned) = &answer.learned else { return Ok(()) };
    let is_kept = args.save.is_some() || args.apply;
    match answer.distrust().filter(|_| is_kept && !args.force) {
        Some(why) => Err(Refusal::No(format!("the correction was not kept: {why}; --force keeps it")).into()),
        None => save(args, read, learned),
    }
}

/// What is wrong with learning from trials that the palette has been corrected
/// by already.
fn applied_before(read: &Smelled) -> Option<String> {
    let palette = Path::new(&*read.palette.file);
    let steps = match steps(palette) {
        Ok(steps) => steps,
        Err(error) => return Some(error.to_string()),
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

fn save(args: &Args, read: &Smelled, learned: &Learned) -> Result<(), CliError> {
    let after = learned.palette(&read.palette);
    let corrected = |text: &str| learned_palette_text(text, &read.palette, &after);
    if args.apply {
        apply(Path::new(&*read.palette.file), "learn", &reason(read, learned), &corrected)?;
    }
    let write = |path: &Path, input: &str, force: bool, make: &dyn Fn(&str) -> String| -> Result<(), CliError> {
        let text = Disk.text(Path::new(input), LARGEST_FILE);
        let text = text.map_err(|why| CliError::Wrong(format!("{} {why}", escaped(input))))?;
        Ok(save_text(path, &make(&text), force)?)
    };
    let mut errors = Vec::new();
    if let Some(path) = &args.save {
        errors.extend(write(path, &read.palette.file, args.force, &corrected).err());
    }
    if args.stamp {
        let mark = fingerprint(&read.palette);
        errors.extend(write(&args.trials, &read.trials.file, true, &|text| stamped_text(text, &mark)).err());
    }
    CliError::all(errors)
}
