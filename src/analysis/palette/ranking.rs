//! Which material is nearest to a few words.

use super::character;
use crate::palette::Palette;

/// How near a material comes to the wanted words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ranked {
    /// The material.
    pub material: usize,
    /// `wanted_percent` less `unwanted_percent`.
    pub fit_percent: f64,
    /// Its match with an accord that has the wanted words in equal parts and
    /// nothing else, in percent.
    pub wanted_percent: f64,
    /// The part of its character that is not wanted, in percent.
    pub unwanted_percent: f64,
}

/// The materials that have something of the wanted descriptors, the best
/// first; ties in the order of the palette.
pub fn ranking(palette: &Palette, wanted: &[usize], unwanted: &[usize]) -> Vec<Ranked> {
    let even = 1.0 / wanted.len().max(1) as f64;
    let rank = |(at, material)| {
        let character = character(material)?;
        let wanted_percent = 100.0 * wanted.iter().map(|&d| character[d].min(even)).sum::<f64>();
        let unwanted_percent = 100.0 * unwanted.iter().map(|&d| character[d]).sum::<f64>();
        let fit_percent = wanted_percent - unwanted_percent;
        (wanted_percent > 0.0).then_some(Ranked { material: at, fit_percent, wanted_percent, unwanted_percent })
    };
    let mut found: Vec<Ranked> = palette.materials.iter().enumerate().filter_map(rank).collect();
    // Rounding shall not part what is equal.
    let place = |ranked: &Ranked| (ranked.fit_percent * 1e9).round();
    found.sort_by(|a, b| place(b).total_cmp(&place(a)));
    found
}
