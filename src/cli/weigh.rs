//! `permil weigh`.

use std::path::{Path, PathBuf};

use super::error::CliError;
use super::names;
use super::save::is_same;
use super::session::{Session, adds_up};
use super::shared::{Shown, date, in_range, present_day, seconds, unfolded};
use super::{Ending, stop};
use crate::balance::own::own_problem;
use crate::balance::record::record;
use crate::balance::sheet::whole_or_not;
use crate::balance::unfold::Unfolded;
use crate::batch::{Batch, NAMELESS_CARRIER};
use crate::brief::Brief;
use crate::escape::escaped;
use crate::files::{batch_text, could_save, load_formula_alone, read_file, restocked_palette, save_text};
use crate::formula::Formula;
use crate::html;
use crate::number::plain;
use crate::palette::Palette;
use crate::problem::Problem;
use crate::questions::weigh::{self, Answer, Asked, FillUp, Least, Poured, Subject};
use crate::questions::{Outcome, Resolved};
use crate::trials::Date;

const AFTER_HELP: &str = "\
Examples:
  permil weigh formula.toml --batch 10 --balance 0.001
  permil weigh formula.toml --batch 10 --balance 0.001 --html sheet.html
  permil weigh formula.toml --batch 2 --total 10 --balance 0.001
  permil weigh formula.toml --total 10 --concentration 20 --balance 0.001
  permil weigh formula.toml --batch 10 --balance 0.001 --pharmacopoeia
  permil weigh formula.toml --batch 10 --balance 0.001 --unfold
  permil weigh formula.toml --batch 10 --balance 0.001 --save batch.toml --take
  permil weigh formula.toml --batch 10 --balance 0.001 \\
    --poured \"Rose oxide=0.052\"

Exit status:
  0  a sheet, whatever is marked on it
  1  the parts of the formula do not add up to 1000, or --take finds too little
     in the bottles
  2  wrong usage, a fault in the files, or --html, --save or --take refused";

/// Write the sheet to weigh a formula from
///
/// Says how much to pour from which bottle, and what the balance shows after
/// each addition to one vessel. Masses are rounded to the step of the balance
/// together, so that the blend stays as near as can be. Of several bottles the
/// strongest is taken that weighs well enough. Lines that are too small for
/// the balance are marked, with the dilution to make. The formula has to name
/// its palette unless a brief does. What --save writes, `permil product` reads:
/// it then counts what is in the vessel.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The formula
    formula: PathBuf,
    /// Grams of neat accord, or of what is poured for a formula in basis
    /// bottle
    #[arg(long, value_name = "GRAMS", value_parser = grams, allow_negative_numbers = true, required_unless_present = "total")]
    batch: Option<f64>,
    /// What the balance shows last, in grams: 0.001 for one that shows
    /// milligrams
    #[arg(long, value_name = "GRAMS", value_parser = step, allow_negative_numbers = true)]
    balance: f64,
    /// Fill up to so many grams with a carrier; without --batch as much accord
    /// as fits, or as --concentration says
    #[arg(long, value_name = "GRAMS", value_parser = grams, allow_negative_numbers = true)]
    total: Option<f64>,
    /// Percent of accord in --total, counted as --batch counts
    #[arg(long, value_name = "PERCENT", value_parser = percent, allow_negative_numbers = true, requires = "total", conflicts_with = "batch")]
    concentration: Option<f64>,
    /// The carrier that fills up; the first of the palette unless said
    #[arg(long, value_name = "MATERIAL", requires = "total")]
    carrier: Option<String>,
    /// The error of a weighing that is still good, in percent
    #[arg(long, value_name = "PERCENT", default_value_t = Asked::ERROR_PERCENT, value_parser = percent, allow_negative_numbers = true)]
    error: f64,
    /// Ask for the minimum weight of the pharmacopoeia, 820 steps, instead
    #[arg(long, conflicts_with = "error")]
    pharmacopoeia: bool,
    /// A brief, to judge the match and the limits
    #[arg(long, value_name = "BRIEF")]
    brief: Option<PathBuf>,
    /// What is in the vessel already, in grams from the bottle of the sheet;
    /// may be repeated
    #[arg(long, value_name = "MATERIAL=GRAMS")]
    poured: Vec<String>,
    /// Seconds for the ways out of what was poured too much
    #[arg(long, value_name = "SECONDS", default_value = "10", value_parser = seconds, allow_negative_numbers = true, requires = "poured", hide_short_help = true)]
    time_limit: f64,
    /// Weigh what the bases of the formula are mixed from, in their place
    #[arg(long)]
    unfold: bool,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    /// Seed of the simulated batches
    #[arg(long, value_name = "SEED", default_value_t = Asked::SEED)]
    seed: u64,
    /// Write the sheet as a page to print; an older page is overwritten
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    html: Option<PathBuf>,
    /// Write what is weighed as a batch, for `permil product` and your records
    #[arg(long, value_name = "FILE", conflicts_with_all = ["poured", "unfold"], help_heading = "Output")]
    save: Option<PathBuf>,
    /// Let --save overwrite an older batch
    #[arg(long, requires = "save", help_heading = "Output")]
    force: bool,
    /// What stands on the vessel; the formula's file and the day unless said
    #[arg(long, value_name = "TEXT", requires = "save", help_heading = "Output")]
    label: Option<String>,
    /// The day of weighing; the present day (UTC) unless said
    #[arg(long, value_name = "DATE", value_parser = date, requires = "save", help_heading = "Output")]
    date: Option<Date>,
    /// Deduct what the sheet pours from `stock` in the palette's file, comments
    /// kept
    #[arg(long, conflicts_with_all = ["poured", "unfold"], help_heading = "Output")]
    take: bool,
    #[command(flatten)]
    shown: Shown,
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e6, "a number of grams")
}

fn percent(text: &str) -> Result<f64, String> {
    in_range(text, 100.0, "a number of percent")
}

fn step(text: &str) -> Result<f64, String> {
    match in_range(text, 1000.0, "a number of grams")? {
        step if step < 1e-6 => Err("expected a number of grams, at least 0.000001".to_owned()),
        step => Ok(step),
    }
}

/// What was read.
struct Input {
    problem: Problem,
    brief: Option<Brief>,
    formula: Formula,
    warnings: Vec<String>,
    /// Bases that were replaced by what they are mixed from.
    unfolded: Vec<String>,
}

/// Reads the formula and writes its sheet.
///
/// # Errors
/// Why there is no sheet.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let Input { problem, brief, formula, warnings, unfolded } = read(args, &session)?;
    adds_up(&formula, &args.formula, args.rescale)?;
    let formula = &formula.rescaled();
    let palette = &*problem.palette;
    may_write(args, palette, brief.as_ref())?;
    let asked = asked(args, palette)?;
    let subject =
        Subject { problem: &problem, brief: brief.as_ref(), formula, unfolded: &unfolded, warnings: &warnings };
    let answer = weigh::ask(&subject, &asked, &stop::within(args.time_limit))?;
    session.warn(&warnings);
    if let Some(path) = &args.html {
        save_text(path, &html::weigh(&answer.report), true)?;
    }
    if let Some(path) = &args.save {
        save_text(path, &batch_text(&batch(args, formula, palette, &answer), palette, path), args.force)?;
    }
    if args.take {
        take(palette, &answer)?;
    }
    session.answer(&answer.report, Outcome::Answered)
}

/// Reads the files.
fn read(args: &Args, session: &Session) -> Result<Input, CliError> {
    let Some(path) = &args.brief else {
        let (palette, formula, warnings) = load_formula_alone(&args.formula).map_err(|it| session.faulty(it))?;
        let Unfolded { palette, formula, bases } = unfolded(args.unfold, palette, formula).map_err(CliError::Wrong)?;
        let problem = own_problem(palette, &formula);
        return Ok(Input { problem, brief: None, formula, warnings, unfolded: bases });
    };
    let mut scenario = session.scenario(path)?;
    let formula = session.formula(&args.formula, &scenario.palette, &mut scenario.warnings)?;
    let said = std::mem::take(&mut scenario.warnings);
    let Unfolded { palette, formula, bases } =
        unfolded(args.unfold, scenario.palette, formula).map_err(CliError::Wrong)?;
    scenario.palette = palette;
    let Resolved { problem, brief, mut warnings, .. } = scenario.into();
    warnings.extend(said);
    Ok(Input { problem, brief: Some(brief), formula, warnings, unfolded: bases })
}

/// What the options ask for.
fn asked(args: &Args, palette: &Palette) -> Result<Asked, CliError> {
    let least = if args.pharmacopoeia { Least::Pharmacopoeia } else { Least::ErrorPercent(args.error) };
    let carrier = args.carrier.as_deref().map(|name| carrier(palette, name)).transpose()?;
    let (concentration_percent, step_grams) = (args.concentration, args.balance);
    let fill_up = args.total.map(|grams| FillUp { grams, concentration_percent, carrier });
    let poured: Result<Vec<Poured>, String> = args.poured.iter().map(|text| poured(args, palette, text)).collect();
    let poured = poured.map_err(CliError::Wrong)?;
    Ok(Asked { batch_grams: args.batch, step_grams, least, fill_up, poured, take: args.take, seed: args.seed })
}

/// The batch that is saved; a carrier without a name may have filled it up.
fn batch(args: &Args, formula: &Formula, palette: &Palette, answer: &Answer) -> Batch {
    let date = args.date.unwrap_or_else(present_day);
    let stem = args.formula.file_stem().unwrap_or_default().to_string_lossy();
    let name = |at: usize| palette.materials[at].name.clone();
    let top_up =
        answer.filled.map(|(carrier, grams)| (carrier.map_or_else(|| NAMELESS_CARRIER.to_owned(), name), grams));
    Batch {
        title: formula.title.clone(),
        label: Some(args.label.clone().unwrap_or_else(|| format!("{stem}, {date}"))),
        date: Some(date),
        formula: Some(args.formula.to_string_lossy().into_owned()),
        ..record(&answer.sheet, top_up)
    }
}

/// Takes what is poured from the stock in the palette's file.
fn take(palette: &Palette, answer: &Answer) -> Result<(), CliError> {
    let path = Path::new(&*palette.file);
    let stocks: Vec<(String, f64)> =
        answer.taken.iter().map(|it| (palette.materials[it.material].name.clone(), it.after_grams())).collect();
    let text = read_file(path).ok().and_then(|text| restocked_palette(&text, &stocks));
    let changed = || CliError::Wrong(format!("--take: {} changed while it was read", escaped(&palette.file)));
    Ok(save_text(path, &text.ok_or_else(changed)?, true)?)
}

/// Whether page, batch and palette may be written, before anything is.
fn may_write(args: &Args, palette: &Palette, brief: Option<&Brief>) -> Result<(), CliError> {
    let formula = args.formula.to_string_lossy();
    let spares = |path: &Path, option: &str| {
        let mut inputs = [&*formula, &palette.file].into_iter().chain(brief.map(|brief| &*brief.file));
        match inputs.find(|input| is_same(path, input)) {
            None => Ok(()),
            Some(input) => {
                Err(CliError::Wrong(format!("{option} would overwrite {}, which is needed", escaped(input))))
            }
        }
    };
    if let Some(path) = &args.save {
        spares(path, "--save")?;
        could_save(path, args.force).map_err(CliError::refused)?;
    }
    if args.take {
        let refused = |error| CliError::Wrong(format!("--take: {error}"));
        could_save(Path::new(&*palette.file), true).map_err(refused)?;
    }
    let Some(path) = &args.html else { return Ok(()) };
    let ending = path.extension().map(|extension| extension.to_string_lossy().to_ascii_lowercase());
    if !matches!(ending.as_deref(), Some("html" | "htm")) {
        return Err(CliError::Wrong("--html writes a page; give a file that ends in .html".to_owned()));
    }
    spares(path, "--html")?;
    Ok(could_save(path, true)?)
}

/// The carrier that fills up.
fn carrier(palette: &Palette, name: &str) -> Result<usize, CliError> {
    let index = material(palette, name, "--carrier").map_err(CliError::Wrong)?;
    if palette.materials[index].is_carrier() {
        return Ok(index);
    }
    Err(CliError::Wrong(format!("--carrier {}: it has a strength, so it is no carrier", escaped(name))))
}

fn material(palette: &Palette, name: &str, option: &str) -> Result<usize, String> {
    names::material(name, palette).map_err(|error| format!("{option} {}: {error}", escaped(name)))
}

/// What is in the vessel, of a text such as "Rose oxide=0.052".
fn poured(args: &Args, palette: &Palette, text: &str) -> Result<Poured, String> {
    let said = escaped(text);
    let (name, amount) = text
        .rsplit_once('=')
        .ok_or_else(|| format!("--poured {said}: expected a material, = and grams, as in \"Rose oxide=0.052\""))?;
    let grams = grams(amount.trim()).map_err(|error| format!("--poured {said}: {error}"))?;
    if whole_or_not(grams / args.balance).fract() != 0.0 {
        let step = plain(args.balance);
        return Err(format!("--poured {said}: a balance that shows {step} g cannot have shown that"));
    }
    let material = material(palette, name.trim(), "--poured")?;
    Ok(Poured { material, grams, said })
}
