//! Several noses: what other people make of the same shelf.
//!
//! Each has scores and strengths of its own. A brief asks for the formula whose worst
//! nose is nearest, for one nose alone, or for their mean.
//!
//! A mean is robust: of all pairwise means, each value with itself among them, the
//! median (J. L. Hodges, E. L. Lehmann, Annals of Mathematical Statistics 34, 1963). Of
//! two noses that is their mean; of three or more one that smells something else
//! entirely moves it little. Strengths are averaged in their logarithms. How sure a mean
//! is follows from how far the noses lie apart.

use std::sync::Arc;

use crate::palette::{Material, Palette, SCORE_ERROR};
use crate::portable::Portable;
use crate::strength::{STRENGTH_FACTOR, Said};

/// What a nose does not smell at all is so many times weaker to it than to the one to
/// which it is strongest, where a logarithm is taken. A convention of this project.
pub const NOTHING_FACTOR: f64 = 100.0;

/// What the nose is called whose numbers the palette itself has.
pub const OWN: &str = "own";

/// A person with scores and strengths of their own.
#[derive(Clone, Debug)]
pub struct Nose {
    /// The name of the nose: that of its file's shelf, or the file's own;
    /// [`OWN`] for the palette's.
    pub name: Arc<str>,
    /// The file it was read from.
    pub file: Arc<str>,
    /// What it makes of each material of the palette, in its order; `None` where its
    /// file does not have the material, so that the palette's own numbers hold.
    pub impressions: Vec<Option<Impression>>,
}

/// What a nose makes of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct Impression {
    /// Strength; 0 where it smells nothing.
    pub strength: f64,
    /// One standard deviation of it, as a factor.
    pub strength_factor: Option<f64>,
    /// A score for every descriptor of the palette, in its order.
    pub scores: Vec<f64>,
    /// One standard deviation of a score, in points.
    pub score_error: Option<f64>,
}

/// Whose numbers a brief goes by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Heed {
    /// Every nose: the worst of them is to be as near as possible.
    #[default]
    Worst,
    /// The mean of all.
    Mean,
    /// One alone: an index among them.
    One(usize),
}

impl Heed {
    /// The words that files have for what is not a name.
    pub const WORDS: [(&'static str, Heed); 2] = [("worst", Heed::Worst), ("mean", Heed::Mean)];
}

impl Impression {
    /// What a palette says of a material.
    pub fn of(material: &Material) -> Impression {
        Impression {
            strength: material.strength,
            strength_factor: material.strength_factor,
            scores: material.scores.clone(),
            score_error: material.score_error,
        }
    }
}

impl Nose {
    /// The nose whose numbers a palette has.
    pub fn own(palette: &Palette) -> Nose {
        let impressions = palette.materials.iter().map(|material| Some(Impression::of(material))).collect();
        Nose { name: OWN.into(), file: Arc::clone(&palette.file), impressions }
    }

    /// The shelf as this nose has it. An odourless solvent is one to every nose.
    pub fn palette(&self, own: &Palette) -> Palette {
        with(own, |at| self.impressions[at].clone())
    }
}

/// The shelf as all noses have it in the mean.
pub fn mean(own: &Palette, noses: &[Nose]) -> Palette {
    with(own, |at| {
        let all: Vec<Impression> = noses.iter().filter_map(|nose| nose.impressions[at].clone()).collect();
        (all.len() > 1).then(|| averaged(&all))
    })
}

/// The shelf with other numbers for some of its materials.
fn with(own: &Palette, of: impl Fn(usize) -> Option<Impression>) -> Palette {
    let mut palette = own.clone();
    for (at, material) in palette.materials.iter_mut().enumerate() {
        let Some(other) = of(at).filter(|_| !material.is_carrier()) else { continue };
        if other.strength != material.strength {
            // What the palette says of where its number comes from is not true of another.
            material.said = Said::Number;
        }
        let scored_alike = other.scores == material.scores;
        material.strength = other.strength;
        material.strength_factor = other.strength_factor;
        material.scores = other.scores;
        material.score_error = other.score_error;
        if !scored_alike {
            material.score_words.clear();
        }
    }
    palette
}

/// The mean of what several noses make of one material.
fn averaged(all: &[Impression]) -> Impression {
    let strongest = all.iter().map(|one| one.strength).fold(0.0, f64::max);
    let logs: Vec<f64> = all.iter().map(|one| one.strength.max(strongest / NOTHING_FACTOR).logarithm()).collect();
    let count = all.len() as f64;
    let mean_square = |values: &mut dyn Iterator<Item = f64>| values.map(|value| value * value).sum::<f64>() / count;
    // Each error is at least what the noses' own errors leave of a mean.
    let own_log = mean_square(&mut all.iter().map(|one| one.strength_factor.unwrap_or(STRENGTH_FACTOR).logarithm()));
    let own_score = mean_square(&mut all.iter().map(|one| one.score_error.unwrap_or(SCORE_ERROR)));
    let mut scores = Vec::new();
    let (mut between, mut scored) = (0.0, 0);
    for descriptor in 0..all[0].scores.len() {
        let values: Vec<f64> = all.iter().map(|one| one.scores[descriptor]).collect();
        if values.iter().any(|value| *value > 0.0) {
            between += variance(&values);
            scored += 1;
        }
        scores.push(hodges_lehmann(&values));
    }
    let between = between / f64::from(scored.max(1));
    Impression {
        strength: hodges_lehmann(&logs).exponential(),
        strength_factor: Some((variance(&logs).max(own_log) / count).sqrt().exponential()),
        scores,
        score_error: Some((between.max(own_score) / count).sqrt()),
    }
}

/// The median of all pairwise means, each value with itself among them.
pub fn hodges_lehmann(values: &[f64]) -> f64 {
    let mut means = Vec::new();
    for (at, one) in values.iter().enumerate() {
        means.extend(values[at..].iter().map(|other| (one + other) / 2.0));
    }
    means.sort_by(f64::total_cmp);
    match (means.len() / 2, means.len() % 2) {
        (0, 0) => 0.0,
        (half, 0) => (means[half - 1] + means[half]) / 2.0,
        (half, _) => means[half],
    }
}

/// The variance between values, of which one is used up by their mean.
fn variance(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (values.len() as f64 - 1.0).max(1.0)
}

#[cfg(test)]
mod tests {
    use super::hodges_lehmann;

    #[test]
    fn a_mean_of_few_and_one_that_a_stranger_moves_little() {
        assert_eq!(hodges_lehmann(&[4.0]), 4.0);
        assert_eq!(hodges_lehmann(&[4.0, 7.0]), 5.5);
        assert_eq!(hodges_lehmann(&[1.0, 2.0, 3.0]), 2.0);
        // Walsh averages of 1, 2, 3, 100: 1 1.5 2 50.5 2 2.5 51 3 51.5 100; median of ten.
        assert_eq!(hodges_lehmann(&[1.0, 2.0, 3.0, 100.0]), (2.5 + 3.0) / 2.0);
    }
}
