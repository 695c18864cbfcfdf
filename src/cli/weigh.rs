//! `permil weigh`.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::Ending;
use super::names::find;
use super::output::{self, complain};
use super::save::is_same;
use super::shared::{Shown, date, failed, in_range, present_day, seconds, unfolded};
use crate::balance::least::{least_grams, pharmacopoeial_grams};
use crate::balance::overshoot::{Spill, ways_out};
use crate::balance::own::own_problem;
use crate::balance::record::{Taken, record, taken};
use crate::balance::sheet::{Asked, Sheet, sheet, whole_or_not};
use crate::balance::total::{batch_that_fits, left_grams};
use crate::balance::tremble::tremble;
use crate::balance::unfold::Unfolded;
use crate::batch::{Batch, NAMELESS_CARRIER};
use crate::brief::Brief;
use crate::control::Control;
use crate::escape::escaped;
use crate::files::{
    Faults, SaveError, Scenario, batch_text, could_save, load_formula_alone, load_formula_with_warnings, load_scenario,
    read_file, restocked_palette, save_text,
};
use crate::formula::Formula;
use crate::html;
use crate::number::{plain, tidy};
use crate::palette::Palette;
use crate::problem::Problem;
use crate::results::weigh::{Total, WeighReport, Weighing};
use crate::trials::Date;
use crate::units::Ppt;

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
    #[arg(long, value_name = "PERCENT", default_value = "1", value_parser = percent, allow_negative_numbers = true)]
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
    #[arg(long, value_name = "SEED", default_value = "1")]
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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let input = match read(args) {
        Ok(Ok(input)) => input,
        Ok(Err(why)) => {
            complain(&why);
            return Ending::Wrong;
        }
        Err(faults) => return output::faults(&faults, colour),
    };
    if input.formula.sum() != Ppt::WHOLE && !args.rescale {
        let (file, sum) = (escaped(&args.formula.to_string_lossy()), input.formula.sum());
        complain(&format!("the parts of {file} add up to {sum}, not 1000; --rescale scales them"));
        return Ending::No;
    }
    match answered(args, input) {
        Ok(ending) => ending,
        Err(why) => {
            complain(&why);
            Ending::Wrong
        }
    }
}

/// Reads the files; the inner error is a complaint without a place.
fn read(args: &Args) -> Result<Result<Input, String>, Faults> {
    let (palette, formula, warnings, scenario) = match &args.brief {
        None => {
            let (palette, formula, warnings) = load_formula_alone(&args.formula)?;
            (palette, formula, warnings, None)
        }
        Some(path) => {
            let Scenario { palette, brief, limits, mut warnings } = load_scenario(path)?;
            let (formula, more) = load_formula_with_warnings(&args.formula, &palette)?;
            warnings.extend(more);
            (palette, formula, warnings, Some((brief, limits)))
        }
    };
    let Unfolded { palette, formula, bases: unfolded } = match unfolded(args.unfold, palette, formula) {
        Ok(unfolded) => unfolded,
        Err(why) => return Ok(Err(why)),
    };
    let (problem, brief) = match scenario {
        None => (own_problem(palette, &formula), None),
        Some((brief, limits)) => (Problem::new(palette, &brief, &limits), Some(brief)),
    };
    let warnings = if brief.is_some() { [&problem.warnings[..], &warnings].concat() } else { warnings };
    Ok(Ok(Input { problem, brief, formula, warnings, unfolded }))
}

/// The answer; the error is a complaint without a file.
fn answered(args: &Args, input: Input) -> Result<Ending, String> {
    let Input { problem, brief, formula, warnings, unfolded } = input;
    let formula = formula.rescaled();
    let palette = &*problem.palette;
    may_write(args, palette, brief.as_ref())?;
    let step_grams = args.balance;
    let (least, error_percent) = match args.pharmacopoeia {
        true => (pharmacopoeial_grams(step_grams), None),
        false => (least_grams(step_grams, args.error), Some(args.error)),
    };
    let total = total(args, palette, &formula, least)?;
    let batch_grams = match (args.batch, args.total, args.concentration, &total) {
        (Some(batch), ..) => batch,
        (None, Some(grams), Some(percent), _) => tidy(grams * percent / 100.0),
        (None, _, _, Some(total)) => total.batch_that_fits,
        _ => return Err("a batch is missing: --batch or --total".to_owned()),
    };
    if step_grams > batch_grams {
        let (step, batch) = (plain(step_grams), plain(batch_grams));
        return Err(format!("a balance that shows {step} g cannot weigh a batch of {batch} g"));
    }
    let asked = Asked { batch_grams, step_grams, least_grams: least };
    let sheet = sheet(palette, &formula, asked);
    let poured = match args.poured.is_empty() {
        true => None,
        false => Some(in_vessel(args, palette, &sheet)?),
    };
    let left = total.map_or(0.0, |total| left_grams(total.grams, sheet.poured_grams(), step_grams));
    let filled = total.filter(|_| left > 0.0).map(|total| (total.carrier, left));
    let (taken, passed) = if args.take {
        taken(palette, &sheet, filled.and_then(|(at, grams)| Some((at?, grams))))
    } else {
        Default::default()
    };
    if let Some(why) = too_little(palette, &taken) {
        complain(&why);
        return Ok(Ending::No);
    }
    output::warn(&warnings, args.shown.quiet);
    let spill =
        |poured| Spill { problem: &problem, brief: brief.as_ref(), formula: &formula, sheet: &sheet, asked, poured };
    let deadline = Instant::now() + Duration::from_secs_f64(args.time_limit);
    let control = Control { deadline: Some(deadline), ..Control::default() };
    let ways = match poured.as_deref().map(|poured| ways_out(&spill(poured), &control)) {
        None => None,
        Some(Ok(ways)) => ways,
        Some(Err(failure)) => return Ok(failed(&failure)),
    };
    let trembled = tremble(&problem, &sheet, step_grams, args.seed);
    let weighing = Weighing {
        problem: &problem,
        brief: brief.as_ref(),
        formula: &formula,
        asked,
        error_percent,
        sheet: &sheet,
        total,
        tremble: trembled.as_ref(),
        seed: args.seed,
        unfolded,
        taken: args.take.then_some((&taken[..], &passed[..])),
        poured: poured.as_deref().map(|poured| (poured, ways.as_ref())),
    };
    let report = WeighReport::new(&weighing, warnings);
    if let Some(path) = &args.html {
        save_text(path, &html::weigh(&report), true).map_err(|error| error.to_string())?;
    }
    if let Some(path) = &args.save {
        let batch = batch(args, &formula, &sheet, palette, filled);
        save_text(path, &batch_text(&batch, palette, path), args.force).map_err(|error| error.to_string())?;
    }
    if args.take {
        take(palette, &taken)?;
    }
    Ok(output::answer(&report, &args.shown, Ending::Done))
}

/// The batch that is saved; a carrier without a name may have filled it up.
fn batch(
    args: &Args,
    formula: &Formula,
    sheet: &Sheet,
    palette: &Palette,
    filled: Option<(Option<usize>, f64)>,
) -> Batch {
    let date = args.date.unwrap_or_else(present_day);
    let stem = args.formula.file_stem().unwrap_or_default().to_string_lossy();
    let name = |at: usize| palette.materials[at].name.clone();
    let top_up = filled.map(|(carrier, grams)| (carrier.map_or_else(|| NAMELESS_CARRIER.to_owned(), name), grams));
    Batch {
        title: formula.title.clone(),
        label: Some(args.label.clone().unwrap_or_else(|| format!("{stem}, {date}"))),
        date: Some(date),
        formula: Some(args.formula.to_string_lossy().into_owned()),
        ..record(sheet, top_up)
    }
}

/// A complaint where a bottle holds less than is to be taken from it.
fn too_little(palette: &Palette, taken: &[Taken]) -> Option<String> {
    let short = taken.iter().filter(|it| it.after_grams() < 0.0).map(|it| {
        let name = escaped(&palette.materials[it.material].name);
        format!("{name}: {} g on hand, {} g to pour", plain(it.before_grams), plain(it.poured_grams))
    });
    let short: Vec<String> = short.collect();
    (!short.is_empty())
        .then(|| format!("--take: nothing was taken, since a bottle holds too little ({})", short.join("; ")))
}

/// Takes what is poured from the stock in the palette's file.
fn take(palette: &Palette, taken: &[Taken]) -> Result<(), String> {
    let path = Path::new(&*palette.file);
    let stocks: Vec<(String, f64)> =
        taken.iter().map(|it| (palette.materials[it.material].name.clone(), it.after_grams())).collect();
    let text = read_file(path).ok().and_then(|text| restocked_palette(&text, &stocks));
    let text = text.ok_or_else(|| format!("--take: {} changed while it was read", escaped(&palette.file)))?;
    save_text(path, &text, true).map_err(|error| error.to_string())
}

/// Whether page, batch and palette may be written, before anything is.
fn may_write(args: &Args, palette: &Palette, brief: Option<&Brief>) -> Result<(), String> {
    if let Some(path) = &args.save {
        let formula = args.formula.to_string_lossy();
        let inputs = [&*formula, &palette.file].into_iter().chain(brief.map(|brief| &*brief.file));
        if let Some(input) = inputs.into_iter().find(|input| is_same(path, input)) {
            return Err(format!("--save would overwrite {}, which is needed", escaped(input)));
        }
        could_save(path, args.force).map_err(|error| match error {
            SaveError::Exists(_) => format!("{error}; --force overwrites it"),
            error => error.to_string(),
        })?;
    }
    if args.take {
        could_save(Path::new(&*palette.file), true).map_err(|error| format!("--take: {error}"))?;
    }
    let Some(path) = &args.html else { return Ok(()) };
    let ending = path.extension().map(|extension| extension.to_string_lossy().to_ascii_lowercase());
    if !matches!(ending.as_deref(), Some("html" | "htm")) {
        return Err("--html writes a page; give a file that ends in .html".to_owned());
    }
    let formula = args.formula.to_string_lossy();
    let inputs = [&*formula, &palette.file].into_iter().chain(brief.map(|brief| &*brief.file));
    if let Some(input) = inputs.into_iter().find(|input| is_same(path, input)) {
        return Err(format!("--html would overwrite {}, which is needed", escaped(input)));
    }
    could_save(Path::new(path), true).map_err(|error| error.to_string())
}

/// The final mass, if one is wanted.
fn total(args: &Args, palette: &Palette, formula: &Formula, least: f64) -> Result<Option<Total>, String> {
    let Some(grams) = args.total else { return Ok(None) };
    let carrier = match &args.carrier {
        None => palette.materials.iter().position(|material| material.is_carrier()),
        Some(name) => {
            let index = material(palette, name, "--carrier")?;
            if !palette.materials[index].is_carrier() {
                return Err(format!("--carrier {}: it has a strength, so it is no carrier", escaped(name)));
            }
            Some(index)
        }
    };
    Ok(Some(Total { grams, carrier, batch_that_fits: batch_that_fits(palette, formula, grams, least) }))
}

fn material(palette: &Palette, name: &str, option: &str) -> Result<usize, String> {
    let names: Vec<&str> = palette.materials.iter().map(|material| material.name.as_str()).collect();
    find(name, &names, "material").map_err(|error| format!("{option} {}: {error}", escaped(name)))
}

/// Grams in the vessel of each line of the sheet.
fn in_vessel(args: &Args, palette: &Palette, sheet: &Sheet) -> Result<Vec<f64>, String> {
    let mut poured = vec![0.0; sheet.lines.len()];
    for text in &args.poured {
        let shown = escaped(text);
        let (name, amount) = text
            .rsplit_once('=')
            .ok_or_else(|| format!("--poured {shown}: expected a material, = and grams, as in \"Rose oxide=0.052\""))?;
        let grams = grams(amount.trim()).map_err(|error| format!("--poured {shown}: {error}"))?;
        let steps = whole_or_not(grams / args.balance);
        if steps.fract() != 0.0 {
            let step = plain(args.balance);
            return Err(format!("--poured {shown}: a balance that shows {step} g cannot have shown that"));
        }
        let index = material(palette, name.trim(), "--poured")?;
        let line = sheet.lines.iter().position(|line| line.material == index);
        let line = line.ok_or_else(|| format!("--poured {shown}: it is not in the formula"))?;
        poured[line] = tidy(poured[line] + grams);
    }
    Ok(poured)
}
