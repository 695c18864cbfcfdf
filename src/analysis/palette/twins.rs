//! Materials that smell of nearly the same: one could stand in for the other.

use super::{character, price_of_effect};
use crate::control::Control;
use crate::palette::Palette;
use crate::pool::in_parallel;
use crate::tolerance::curves::SAME_SHARE;

/// Two materials of nearly the same character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Twins {
    /// The one whose effect costs less, where both prices are known; the
    /// first of the palette elsewhere.
    pub one: usize,
    /// The other.
    pub other: usize,
    /// What their characters have in common, in percent.
    pub alike_percent: f64,
    /// How much less the effect of `one` costs, in percent of the other's.
    pub saves_percent: Option<f64>,
}

/// What two characters have in common, 0 to 1: the overlap of two profiles
/// that add up to 1.
pub fn overlap(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a.min(*b)).sum()
}

/// All pairs that have at least so much in common, the most alike first.
pub fn twins(palette: &Palette, least_percent: f64, control: &Control) -> Vec<Twins> {
    let all: Vec<(usize, Vec<f64>)> =
        palette.materials.iter().enumerate().filter_map(|(at, material)| Some((at, character(material)?))).collect();
    let places: Vec<usize> = (0..all.len()).collect();
    let of_one = |&at: &usize| {
        let (one, profile) = &all[at];
        let alike = all[at + 1..].iter().filter_map(|(other, theirs)| {
            let alike_percent = 100.0 * overlap(profile, theirs);
            // Sums of thirds may lie a rounding below a round limit.
            (alike_percent >= least_percent - SAME_SHARE).then(|| pair(palette, *one, *other, alike_percent))
        });
        alike.collect::<Vec<_>>()
    };
    let mut found: Vec<Twins> = in_parallel(&places, control, of_one).into_iter().flatten().flatten().collect();
    found.sort_by(|a, b| {
        let order = b.alike_percent.total_cmp(&a.alike_percent);
        order.then(a.one.min(a.other).cmp(&b.one.min(b.other))).then(a.one.max(a.other).cmp(&b.one.max(b.other)))
    });
    found
}

fn pair(palette: &Palette, one: usize, other: usize, alike_percent: f64) -> Twins {
    let effect = |at: usize| price_of_effect(&palette.materials[at]);
    let (Some(a), Some(b)) = (effect(one), effect(other)) else {
        return Twins { one, other, alike_percent, saves_percent: None };
    };
    let (one, other, low, high) = if b < a { (other, one, b, a) } else { (one, other, a, b) };
    let saves = if high > 0.0 { 100.0 * (1.0 - low / high) } else { 0.0 };
    Twins { one, other, alike_percent, saves_percent: Some(saves) }
}
