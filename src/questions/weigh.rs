//! What to put on the balance for a formula, and what to do where too much was
//! poured.

use super::Refusal;
use crate::balance::least::{least_grams, pharmacopoeial_grams};
use crate::balance::overshoot::{Spill, ways_out};
use crate::balance::record::{Taken, taken};
use crate::balance::sheet::{self, Sheet, sheet};
use crate::balance::total::{batch_that_fits, left_grams};
use crate::balance::tremble::tremble;
use crate::brief::Brief;
use crate::control::Control;
use crate::escape::escaped;
use crate::formula::Formula;
use crate::number::{plain, tidy};
use crate::palette::Palette;
use crate::problem::Problem;
use crate::results::weigh::{Total, WeighReport, Weighing};

/// What is weighed.
#[derive(Clone, Copy, Debug)]
pub struct Subject<'a> {
    /// The brief's problem, or the formula's own.
    pub problem: &'a Problem,
    /// The brief, to judge match and limits.
    pub brief: Option<&'a Brief>,
    /// The formula, adding up to 1000.
    pub formula: &'a Formula,
    /// Bases that were replaced by what they are mixed from.
    pub unfolded: &'a [String],
    /// What may not be what was meant.
    pub warnings: &'a [String],
}

/// The least mass that weighs well enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Least {
    /// By the error of a weighing that is still good, in percent.
    ErrorPercent(f64),
    /// The minimum weight of the pharmacopoeia.
    Pharmacopoeia,
}

/// A final mass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FillUp {
    /// Grams of it.
    pub grams: f64,
    /// Percent of accord in it.
    pub concentration_percent: Option<f64>,
    /// The carrier that fills up; the first of the palette unless said.
    pub carrier: Option<usize>,
}

/// What is in the vessel already.
#[derive(Clone, Debug, PartialEq)]
pub struct Poured {
    /// Index of the material.
    pub material: usize,
    /// Grams from the bottle of the sheet.
    pub grams: f64,
    /// How it was said.
    pub said: String,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Grams of neat accord, or of what is poured in basis bottle; what fits
    /// into the final mass where there is none.
    pub batch_grams: Option<f64>,
    /// What the balance shows last, in grams.
    pub step_grams: f64,
    /// The least mass that weighs well enough.
    pub least: Least,
    /// The final mass, if one is wanted.
    pub fill_up: Option<FillUp>,
    /// What is in the vessel already.
    pub poured: Vec<Poured>,
    /// Whether what is poured is taken from the stock.
    pub take: bool,
    /// Seed of the simulated batches.
    pub seed: u64,
}

impl Asked {
    /// Grams of a batch of which nothing is said.
    pub const BATCH_GRAMS: f64 = 10.0;
    /// What a balance of which nothing is said shows last, in grams.
    pub const STEP_GRAMS: f64 = 0.001;
    /// The error of a weighing that is still good unless said, in percent.
    pub const ERROR_PERCENT: f64 = 1.0;
    /// The seed unless said.
    pub const SEED: u64 = 1;
}

impl Default for Asked {
    fn default() -> Asked {
        Asked {
            batch_grams: Some(Asked::BATCH_GRAMS),
            step_grams: Asked::STEP_GRAMS,
            least: Least::ErrorPercent(Asked::ERROR_PERCENT),
            fill_up: None,
            poured: Vec::new(),
            take: false,
            seed: Asked::SEED,
        }
    }
}

/// The sheet.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All that is told of it.
    pub report: WeighReport,
    /// The sheet itself.
    pub sheet: Sheet,
    /// The carrier that fills up, if the palette has one, and grams of it.
    pub filled: Option<(Option<usize>, f64)>,
    /// What is taken from the stock.
    pub taken: Vec<Taken>,
}

/// Whether a balance can weigh a batch at all.
///
/// # Errors
/// That it cannot.
pub fn weighable(batch_grams: f64, step_grams: f64) -> Result<(), Refusal> {
    if step_grams <= batch_grams {
        return Ok(());
    }
    let (step, batch) = (plain(step_grams), plain(batch_grams));
    Err(Refusal::Wrong(format!("a balance that shows {step} g cannot weigh a batch of {batch} g")))
}

/// Rounds a formula to the steps of the balance. The ways out of what was poured
/// too much are looked for within the control.
///
/// # Errors
/// The batch cannot be weighed so, a bottle holds too little, or a solver
/// failed.
pub fn ask(of: &Subject<'_>, asked: &Asked, control: &Control) -> Result<Answer, Refusal> {
    let Subject { problem, brief, formula, .. } = *of;
    let palette = &*problem.palette;
    let step_grams = asked.step_grams;
    let (least, error_percent) = match asked.least {
        Least::Pharmacopoeia => (pharmacopoeial_grams(step_grams), None),
        Least::ErrorPercent(percent) => (least_grams(step_grams, percent), Some(percent)),
    };
    let total = asked.fill_up.map(|fill_up| Total {
        grams: fill_up.grams,
        carrier: fill_up.carrier.or_else(|| palette.materials.iter().position(|material| material.is_carrier())),
        batch_that_fits: batch_that_fits(palette, formula, fill_up.grams, least),
    });
    let concentrated = asked.fill_up.and_then(|it| Some(tidy(it.grams * it.concentration_percent? / 100.0)));
    let batch_grams = asked.batch_grams.or(concentrated).or(total.map(|total| total.batch_that_fits));
    let batch_grams = batch_grams.ok_or_else(|| Refusal::Wrong("a batch is missing: --batch or --total".to_owned()))?;
    weighable(batch_grams, step_grams)?;
    let wanted = sheet::Asked { batch_grams, step_grams, least_grams: least };
    let sheet = sheet(palette, formula, wanted);
    let poured = (!asked.poured.is_empty()).then(|| in_vessel(&asked.poured, &sheet)).transpose()?;
    let left = total.map_or(0.0, |total| left_grams(total.grams, sheet.poured_grams(), step_grams));
    let filled = total.filter(|_| left > 0.0).map(|total| (total.carrier, left));
    let (taken, passed) = match asked.take {
        true => taken(palette, &sheet, filled.and_then(|(at, grams)| Some((at?, grams)))),
        false => Default::default(),
    };
    enough(palette, &taken)?;
    let ways = match poured.as_deref() {
        None => None,
        Some(poured) => ways_out(&Spill { problem, brief, formula, sheet: &sheet, asked: wanted, poured }, control)?,
    };
    let trembled = tremble(problem, &sheet, step_grams, asked.seed);
    let weighing = Weighing {
        problem,
        brief,
        formula,
        asked: wanted,
        error_percent,
        sheet: &sheet,
        total,
        tremble: trembled.as_ref(),
        seed: asked.seed,
        unfolded: of.unfolded.to_vec(),
        taken: asked.take.then_some((&taken[..], &passed[..])),
        poured: poured.as_deref().map(|poured| (poured, ways.as_ref())),
    };
    let report = WeighReport::new(&weighing, of.warnings.to_vec());
    Ok(Answer { report, sheet, filled, taken })
}

/// Grams in the vessel of each line of the sheet.
fn in_vessel(poured: &[Poured], sheet: &Sheet) -> Result<Vec<f64>, Refusal> {
    let mut grams = vec![0.0; sheet.lines.len()];
    for it in poured {
        let line = sheet.lines.iter().position(|line| line.material == it.material);
        let line = line.ok_or_else(|| Refusal::Wrong(format!("--poured {}: it is not in the formula", it.said)))?;
        grams[line] = tidy(grams[line] + it.grams);
    }
    Ok(grams)
}

/// Whether every bottle holds what is to be taken from it.
fn enough(palette: &Palette, taken: &[Taken]) -> Result<(), Refusal> {
    let short = taken.iter().filter(|it| it.after_grams() < 0.0).map(|it| {
        let name = escaped(&palette.materials[it.material].name);
        format!("{name}: {} g on hand, {} g to pour", plain(it.before_grams), plain(it.poured_grams))
    });
    let short: Vec<String> = short.collect();
    if short.is_empty() {
        return Ok(());
    }
    let short = short.join("; ");
    Err(Refusal::No(format!("--take: nothing was taken, since a bottle holds too little ({short})")))
}
