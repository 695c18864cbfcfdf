//! What to pour of each material, in whole steps of the balance.

use super::bottle::{Pick, pick};
use super::rounding::{Wanted, nearest};
use crate::brief::Basis;
use crate::formula::Formula;
use crate::number::tidy;
use crate::palette::Palette;
use crate::units::Ppt;

/// What is to be weighed, and on what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Grams of neat accord, or of what is poured in basis bottle; above 0.
    pub batch_grams: f64,
    /// What the balance shows last, in grams; above 0.
    pub step_grams: f64,
    /// The least mass that weighs well enough, in grams.
    pub least_grams: f64,
}

/// One thing to pour.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Index of the material.
    pub material: usize,
    /// The dose that is wanted, in the basis of the formula.
    pub dose: Ppt,
    /// The bottle, and what would be poured from it if the balance showed all.
    pub pick: Pick,
    /// What is poured, in grams: whole steps of the balance.
    pub grams: f64,
}

impl Line {
    /// Neat material in so many grams from the bottle.
    pub fn neat(&self, grams: f64) -> f64 {
        grams * self.pick.percent / 100.0
    }
}

/// A sheet to weigh from.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// What the parts of the formula count.
    pub basis: Basis,
    /// The lines in the order of weighing: the smallest first, so that pouring
    /// too much of it costs the least to mend.
    pub lines: Vec<Line>,
    /// Sum of the absolute differences of the odour shares, from 0 to 2.
    pub distance: f64,
    /// Whether no other whole steps are nearer whose batch is off by no more
    /// than half a step for each line.
    pub proven: bool,
}

/// The sheet of a formula whose parts add up to 1000.
pub fn sheet(palette: &Palette, formula: &Formula, asked: Asked) -> Sheet {
    let picked = picks(palette, formula, asked.batch_grams, asked.least_grams);
    weighed(palette, formula.basis, picked, asked.step_grams, &|_| 0.0)
}

/// What is poured of each part if the balance showed all, in the formula's
/// order.
pub fn picks(palette: &Palette, formula: &Formula, batch_grams: f64, least_grams: f64) -> Vec<(usize, Ppt, Pick)> {
    let poured = |&(index, dose): &(usize, Ppt)| {
        let amount = tidy(dose.as_f64() / 1000.0 * batch_grams);
        (index, dose, pick(&palette.materials[index], formula.basis, amount, least_grams))
    };
    formula.parts.iter().map(poured).collect()
}

/// Rounds together what is to be poured; of every material no less than what is
/// in the vessel already, in grams.
pub fn weighed(
    palette: &Palette,
    basis: Basis,
    picked: Vec<(usize, Ppt, Pick)>,
    step_grams: f64,
    in_vessel: &dyn Fn(usize) -> f64,
) -> Sheet {
    let wanted = |(index, _, pick): &(usize, Ppt, Pick)| {
        let steps = whole_or_not(pick.grams / step_grams);
        let held = whole_or_not(in_vessel(*index) / step_grams).ceil() as u64;
        let is_full = held > 0 && steps < held as f64 + 0.5;
        Wanted {
            steps,
            odour: palette.materials[*index].strength * pick.percent / 100.0,
            counts: match basis {
                Basis::Neat => pick.percent / 100.0,
                Basis::Bottle => 1.0,
            },
            least: held.max(1),
            // A stray step would be a weighing of its own.
            most: if is_full { held } else { u64::MAX },
        }
    };
    let rounded = nearest(&picked.iter().map(wanted).collect::<Vec<_>>());
    let line = |((material, dose, pick), &steps): ((usize, Ppt, Pick), &u64)| {
        let grams = tidy(steps as f64 * step_grams);
        Line { material, dose, pick, grams }
    };
    let mut lines: Vec<Line> = picked.into_iter().zip(&rounded.steps).map(line).collect();
    lines.sort_by(|a, b| a.grams.total_cmp(&b.grams).then(a.material.cmp(&b.material)));
    Sheet { basis, lines, distance: rounded.distance, proven: rounded.proven }
}

/// A number of steps without what binary arithmetic adds to a whole one.
pub fn whole_or_not(steps: f64) -> f64 {
    let nearest = steps.round();
    if (steps - nearest).abs() <= 1e-9 * steps.max(1.0) { nearest } else { steps }
}

impl Sheet {
    /// All that is poured, in grams.
    pub fn poured_grams(&self) -> f64 {
        tidy(self.lines.iter().map(|line| line.grams).sum())
    }

    /// Neat accord in it, in grams.
    pub fn neat_grams(&self) -> f64 {
        tidy(self.lines.iter().map(|line| line.neat(line.grams)).sum())
    }

    /// (carrier, grams) that the bottles bring; an empty name where the
    /// palette names none.
    pub fn carriers(&self) -> Vec<(String, f64)> {
        let mut carriers: Vec<(String, f64)> = Vec::new();
        for line in self.lines.iter().filter(|line| line.pick.percent < 100.0) {
            let name = line.pick.carrier.clone().unwrap_or_default();
            let grams = line.grams - line.neat(line.grams);
            match carriers.iter_mut().find(|(known, _)| *known == name) {
                Some((_, sum)) => *sum = tidy(*sum + grams),
                None => carriers.push((name, tidy(grams))),
            }
        }
        carriers
    }

    /// The doses of what is poured, in the basis of the formula and in the
    /// order of the lines, adding up to 1000.
    pub fn doses_ppt(&self, grams: &[f64]) -> Vec<f64> {
        let amount = |(line, grams): (&Line, &f64)| match self.basis {
            Basis::Neat => line.neat(*grams),
            Basis::Bottle => *grams,
        };
        let amounts: Vec<f64> = self.lines.iter().zip(grams).map(amount).collect();
        let sum: f64 = amounts.iter().sum();
        amounts.iter().map(|amount| 1000.0 * amount / sum).collect()
    }

    /// The formula that so many grams of each line make.
    pub fn formula(&self, grams: &[f64]) -> Formula {
        let doses = self.doses_ppt(grams);
        let dose = |(line, ppt): (&Line, &f64)| (line.material, Ppt::from_ppt(*ppt));
        let mut parts: Vec<(usize, Ppt)> = self.lines.iter().zip(&doses).map(dose).collect();
        parts.sort_by_key(|(material, _)| *material);
        Formula { file: None, title: None, basis: self.basis, parts }
    }

    /// The formula that the sheet makes.
    pub fn obtained(&self) -> Formula {
        self.formula(&self.grams())
    }

    /// What is poured, line by line.
    pub fn grams(&self) -> Vec<f64> {
        self.lines.iter().map(|line| line.grams).collect()
    }
}
