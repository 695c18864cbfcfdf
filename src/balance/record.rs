//! What a sheet leaves behind: the batch that was weighed, and what is then
//! missing from the bottles.

use super::sheet::Sheet;
use crate::batch::{Batch, PouredLine};
use crate::number::tidy;
use crate::palette::Palette;

/// The batch of a sheet, in which every line was poured as it says; without
/// title, label, date and paths.
pub fn record(sheet: &Sheet, top_up: Option<(String, f64)>) -> Batch {
    let line = |line: &super::sheet::Line| PouredLine {
        material: line.material,
        percent: line.pick.percent,
        carrier: line.pick.carrier.clone(),
        grams: line.grams,
    };
    Batch {
        file: None,
        title: None,
        label: None,
        date: None,
        formula: None,
        basis: sheet.basis,
        lines: sheet.lines.iter().map(line).collect(),
        top_up,
        remarks: None,
    }
}

/// What pouring takes from the stock of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// Index of the material.
    pub material: usize,
    /// Grams of the usual bottle's content before.
    pub before_grams: f64,
    /// Grams that are poured of it.
    pub poured_grams: f64,
}

impl Taken {
    /// Grams after it; below 0 where there are too few.
    pub fn after_grams(&self) -> f64 {
        tidy(self.before_grams - self.poured_grams)
    }
}

/// What a sheet, and grams of a carrier that fills up, take from the stock, in
/// the order of weighing; and the materials of which nothing is taken, since
/// their stock is not on file or another bottle is poured.
pub fn taken(palette: &Palette, sheet: &Sheet, top_up: Option<(usize, f64)>) -> (Vec<Taken>, Vec<usize>) {
    let lines = sheet.lines.iter().map(|line| (line.material, line.pick.bottle, line.grams));
    let more = top_up.into_iter().map(|(material, grams)| (material, 0, grams));
    let (mut found, mut passed): (Vec<Taken>, Vec<usize>) = (Vec::new(), Vec::new());
    for (material, bottle, grams) in lines.chain(more).filter(|(.., grams)| *grams > 0.0) {
        match palette.materials[material].stock_grams.filter(|_| bottle == 0) {
            None => passed.push(material),
            Some(before_grams) => match found.iter_mut().find(|taken| taken.material == material) {
                Some(taken) => taken.poured_grams = tidy(taken.poured_grams + grams),
                None => found.push(Taken { material, before_grams, poured_grams: grams }),
            },
        }
    }
    (found, passed)
}
