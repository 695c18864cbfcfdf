//! A final mass: the batch that fits into it, and what fills it up.

use super::sheet::picks;
use crate::formula::Formula;
use crate::number::tidy;
use crate::palette::Palette;
use crate::portable::Portable;

/// The largest batch, in grams, of which no more than `total_grams` are poured
/// from the bottles that weigh best; found by halving, so that where a larger
/// batch is poured from stronger bottles it is one of those that fit.
pub fn batch_that_fits(palette: &Palette, formula: &Formula, total_grams: f64, least_grams: f64) -> f64 {
    let poured =
        |batch: f64| -> f64 { picks(palette, formula, batch, least_grams).iter().map(|(_, _, pick)| pick.grams).sum() };
    // Nothing that is poured weighs less than what is neat in it.
    if poured(total_grams) <= total_grams * (1.0 + 1e-12) {
        return total_grams;
    }
    let (mut fits, mut over) = (0.0, total_grams);
    for _ in 0..60 {
        let middle = (fits + over) / 2.0;
        if poured(middle) <= total_grams { fits = middle } else { over = middle }
    }
    // Rounded down to what a person would write.
    let scale = 10f64.powi(5 - fits.decimal_logarithm().ceil() as i32);
    tidy((fits * scale * (1.0 + 1e-12)).floor() / scale)
}

/// Grams that are left to fill up to a final mass, as the balance shows them; 0
/// where there are none.
pub fn left_grams(total_grams: f64, poured_grams: f64, step_grams: f64) -> f64 {
    tidy(((total_grams - poured_grams).max(0.0) / step_grams).round() * step_grams)
}
