//! What the batch asks of the shelf: the smallest batch that the balance
//! weighs well, the largest that the bottles allow, and the cost.

use super::bottle::weakest_percent;
use super::sheet::{Line, Sheet};
use crate::brief::Basis;
use crate::formula::Formula;
use crate::number::tidy;
use crate::palette::{Material, Palette};

/// The smallest batch, in grams, of which every line weighs at least
/// `least_grams` from the bottles on the shelf.
pub fn smallest_batch(palette: &Palette, formula: &Formula, least_grams: f64) -> f64 {
    let needs = |&(index, dose): &(usize, crate::units::Ppt)| {
        let percent = match formula.basis {
            Basis::Neat => weakest_percent(&palette.materials[index]),
            Basis::Bottle => 100.0,
        };
        least_grams * percent / 100.0 / (dose.as_f64() / 1000.0)
    };
    tidy(formula.parts.iter().map(needs).fold(0.0, f64::max))
}

/// What is on hand of the bottle of a line, in grams; `None` where the palette
/// does not say: it knows the stock of the usual bottle alone.
pub fn on_hand(palette: &Palette, line: &Line) -> Option<f64> {
    palette.materials[line.material].stock_grams.filter(|_| line.pick.bottle == 0)
}

/// The largest batch, in grams, that what is on hand allows, poured from the
/// bottles of this sheet of a batch; `None` where no stock is known.
pub fn largest_batch(palette: &Palette, sheet: &Sheet, batch_grams: f64) -> Option<f64> {
    let allows = |line: &Line| Some(batch_grams * on_hand(palette, line)? / line.pick.grams);
    sheet.lines.iter().filter_map(allows).min_by(f64::total_cmp).map(tidy)
}

/// What a sheet and so many grams of a carrier cost, and the names of what has
/// no price: the cost is `None` then. Carriers that are no materials of the
/// palette are free.
pub fn cost(palette: &Palette, sheet: &Sheet, more: Option<(usize, f64)>) -> (Option<f64>, Vec<String>) {
    let mut used: Vec<(&Material, f64)> =
        sheet.lines.iter().map(|line| (&palette.materials[line.material], line.neat(line.grams))).collect();
    for (name, grams) in sheet.carriers() {
        used.extend(palette.materials.iter().find(|material| material.name == name).map(|it| (it, grams)));
    }
    used.extend(more.map(|(index, grams)| (&palette.materials[index], grams)));
    let mut without: Vec<String> = Vec::new();
    for (material, _) in used.iter().filter(|(material, _)| material.price_per_kg.is_none()) {
        if !without.contains(&material.name) {
            without.push(material.name.clone());
        }
    }
    let sum: Option<f64> = used.iter().map(|(material, grams)| Some(material.price_per_kg? * grams / 1000.0)).sum();
    (sum.map(tidy), without)
}
