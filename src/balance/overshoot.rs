//! Too much of something is in the vessel: what can be done about it.

use super::sheet::{Sheet, weighed};
use crate::brief::Basis;
use crate::number::tidy;
use crate::palette::Palette;

/// Halvings of the amounts that are moved from one line to another.
const HALVINGS: u32 = 24;
/// Rounds at each of them.
const ROUNDS: u32 = 60;

/// The two ways out.
#[derive(Clone, Debug, PartialEq)]
pub struct WaysOut {
    /// The batch that holds the formula, in grams.
    pub larger_batch_grams: f64,
    /// Its sheet.
    pub larger: Sheet,
    /// The sheet of the batch that was meant: as near in odour shares as can
    /// be. `None` where what is poured leaves no room in it.
    pub same: Option<Sheet>,
    /// Its sum of absolute differences of the odour shares, from 0 to 2.
    pub same_distance: f64,
}

/// The ways out of a sheet of a batch where `poured` (grams from the bottle of
/// each line, 0 where nothing was) is in the vessel; `None` where no line has
/// too much.
pub fn ways_out(
    palette: &Palette,
    sheet: &Sheet,
    batch_grams: f64,
    step_grams: f64,
    poured: &[f64],
) -> Option<WaysOut> {
    let is_over = |at: usize| poured[at] > sheet.lines[at].grams.max(sheet.lines[at].pick.grams) + 1e-9;
    if !(0..poured.len()).any(is_over) {
        return None;
    }
    let factor = sheet.lines.iter().zip(poured).map(|(line, poured)| poured / line.pick.grams).fold(1.0, f64::max);
    let scaled: Vec<f64> = sheet.lines.iter().map(|line| line.pick.grams * factor).collect();
    let larger = with_grams(palette, sheet, &scaled, step_grams, poured);
    let same = nearest_at(palette, sheet, poured, step_grams);
    let wanted: Vec<f64> = sheet.lines.iter().map(|line| line.pick.grams).collect();
    let same_distance = same
        .as_ref()
        .map_or(0.0, |same| distance(&odours(palette, sheet, &wanted), &odours(palette, same, &same.grams())));
    Some(WaysOut { larger_batch_grams: tidy(batch_grams * factor), larger, same, same_distance })
}

/// The sheet with other grams, in the same order, nothing below what is in the
/// vessel.
fn with_grams(palette: &Palette, sheet: &Sheet, grams: &[f64], step_grams: f64, poured: &[f64]) -> Sheet {
    let picked = sheet.lines.iter().zip(grams).map(|(line, &grams)| {
        let mut pick = line.pick.clone();
        pick.grams = grams;
        (line.material, line.dose, pick)
    });
    let place = |material: usize| sheet.lines.iter().position(|line| line.material == material).unwrap_or(0);
    let mut other = weighed(palette, sheet.basis, picked.collect(), step_grams, &|material| poured[place(material)]);
    other.lines.sort_by_key(|line| place(line.material));
    other
}

fn odours(palette: &Palette, sheet: &Sheet, grams: &[f64]) -> Vec<f64> {
    let odour =
        |(line, grams): (&super::sheet::Line, &f64)| palette.materials[line.material].strength * line.neat(*grams);
    sheet.lines.iter().zip(grams).map(odour).collect()
}

/// Sum of the absolute differences of the shares.
fn distance(wanted: &[f64], got: &[f64]) -> f64 {
    let (wanted, got) = (crate::odour::shares(wanted, 1.0), crate::odour::shares(got, 1.0));
    wanted.iter().zip(&got).map(|(a, b)| (a - b).abs()).sum()
}

/// The nearest masses that fill the same batch: all lines but those in the
/// vessel are lowered in proportion, then amounts are moved between two lines
/// as long as that brings the odour shares nearer.
fn nearest_at(palette: &Palette, sheet: &Sheet, poured: &[f64], step_grams: f64) -> Option<Sheet> {
    // What counts towards the batch of a gram from the bottle.
    let counts = |at: usize| match sheet.basis {
        Basis::Neat => sheet.lines[at].pick.percent / 100.0,
        Basis::Bottle => 1.0,
    };
    let count = sheet.lines.len();
    let wanted: Vec<f64> = sheet.lines.iter().map(|line| line.pick.grams).collect();
    let floor: Vec<f64> = poured.iter().map(|grams| grams.max(step_grams)).collect();
    let amount = |grams: &[f64]| -> f64 { (0..count).map(|at| counts(at) * grams[at]).sum() };
    let room = amount(&wanted) - amount(&floor);
    if room < 0.0 {
        return None;
    }
    // By how much the lines are above what is in the vessel, scaled to fit.
    let above: Vec<f64> = (0..count).map(|at| (wanted[at] - floor[at]).max(0.0)).collect();
    let sum = amount(&above);
    let scale = if sum > 0.0 { room / sum } else { 0.0 };
    let mut grams: Vec<f64> = (0..count).map(|at| floor[at] + scale * above[at]).collect();
    let target = odours(palette, sheet, &wanted);
    let mut least = distance(&target, &odours(palette, sheet, &grams));
    let mut moved = room / 4.0;
    for _ in 0..HALVINGS {
        for _ in 0..ROUNDS {
            let before = least;
            for from in 0..count {
                for to in (0..count).filter(|&to| to != from) {
                    let (less, more) = (moved / counts(from), moved / counts(to));
                    if grams[from] - less < floor[from] {
                        continue;
                    }
                    grams[from] -= less;
                    grams[to] += more;
                    let now = distance(&target, &odours(palette, sheet, &grams));
                    if now < least - 1e-12 {
                        least = now;
                    } else {
                        grams[from] += less;
                        grams[to] -= more;
                    }
                }
            }
            if least >= before - 1e-12 {
                break;
            }
        }
        moved /= 2.0;
    }
    Some(with_grams(palette, sheet, &grams, step_grams, poured))
}
