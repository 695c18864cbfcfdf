//! What could be learned, what is known of it beforehand, and where it stands
//! among the unknowns.

use std::collections::{BTreeMap, BTreeSet};

use super::ZERO_PART;
use super::model::Evidence;
use crate::analysis::doubt::{SCORE_ERROR, STRENGTH_FACTOR};
use crate::palette::{Material, Palette};
use crate::portable::Portable;

/// What an unknown is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// How much a material smells of a descriptor, in points.
    Score {
        /// The material.
        material: usize,
        /// The descriptor.
        descriptor: usize,
    },
    /// The logarithm of a material's strength.
    Strength {
        /// The material.
        material: usize,
    },
    /// The logarithm of the hours that a material lasts on a blotter.
    Lasting {
        /// The material.
        material: usize,
    },
}

/// Scores first, one descriptor after the other, then log-strengths, then the logarithms of
/// tenacities.
#[derive(Clone, Debug)]
pub struct Unknowns {
    /// (descriptor, material) of each score, in order.
    scores: Vec<(usize, usize)>,
    /// Material of each log-strength, in order.
    strengths: Vec<usize>,
    /// (material, logarithm of its hours, one standard deviation of that) of each
    /// tenacity, in order.
    lastings: Vec<(usize, f64, f64)>,
    at_score: BTreeMap<(usize, usize), usize>,
    at_strength: BTreeMap<usize, usize>,
    at_lasting: BTreeMap<usize, usize>,
    /// The palette's own values: points, and logarithms of strengths and of hours.
    pub prior: Vec<f64>,
    /// One standard deviation of each, above 0.
    pub deviations: Vec<f64>,
    /// The upper end of scores.
    pub scale: f64,
}

/// One standard deviation of a material's scores above 0, in points.
pub fn score_error(material: &Material) -> f64 {
    material.score_error.unwrap_or(SCORE_ERROR)
}

/// One standard deviation of the logarithm of a material's strength.
pub fn strength_error(material: &Material) -> f64 {
    material.strength_factor.unwrap_or(STRENGTH_FACTOR).logarithm()
}

impl Unknowns {
    /// The scores and strengths that trials touch: those of what they hold, in
    /// the descriptors that were judged of it; and how long lasts what dried.
    pub fn touched(palette: &Palette, evidence: &[Evidence]) -> Unknowns {
        let mut scores = BTreeSet::new();
        let mut strengths = BTreeSet::new();
        let mut lastings = BTreeMap::new();
        for one in evidence {
            for &(material, _) in &one.parts {
                strengths.insert(material);
                scores.extend(one.judged.iter().map(|(descriptor, _)| (*descriptor, material)));
            }
            if let Some(drying) = &one.drying {
                let parts = drying.film.parts.iter().zip(&drying.deviations);
                let known = drying.materials.iter().zip(parts).filter(|(_, (_, deviation))| **deviation > 0.0);
                lastings.extend(known.map(|(&at, (part, deviation))| (at, (part.hours.logarithm(), *deviation))));
            }
        }
        let lastings = lastings.into_iter().map(|(material, (log, deviation))| (material, log, deviation));
        Unknowns::of(palette, scores, strengths, lastings.collect())
    }

    /// The same with further scores and strengths.
    pub fn with(&self, palette: &Palette, scores: &[(usize, usize)], strengths: &[usize]) -> Unknowns {
        Unknowns::of(
            palette,
            self.scores.iter().chain(scores).copied().collect(),
            self.strengths.iter().chain(strengths).copied().collect(),
            self.lastings.clone(),
        )
    }

    /// What is certain is not among the unknowns.
    fn of(
        palette: &Palette,
        scores: BTreeSet<(usize, usize)>,
        strengths: BTreeSet<usize>,
        lastings: Vec<(usize, f64, f64)>,
    ) -> Unknowns {
        let smells = |material: &usize| !palette.materials[*material].is_carrier();
        let error = |descriptor: usize, material: usize| {
            let material = &palette.materials[material];
            let part = if material.scores[descriptor] > 0.0 { 1.0 } else { ZERO_PART };
            part * score_error(material)
        };
        let scores: Vec<(usize, usize)> =
            scores.into_iter().filter(|&(d, m)| smells(&m) && error(d, m) > 0.0).collect();
        let uncertain = |material: &usize| smells(material) && strength_error(&palette.materials[*material]) > 0.0;
        let strengths: Vec<usize> = strengths.into_iter().filter(uncertain).collect();
        let of_scores = scores.iter().map(|&(d, m)| (palette.materials[m].scores[d], error(d, m)));
        let of_strengths = strengths.iter().map(|&m| &palette.materials[m]);
        let of_strengths = of_strengths.map(|material| (material.strength.logarithm(), strength_error(material)));
        let of_lastings = lastings.iter().map(|&(_, log, deviation)| (log, deviation));
        let (prior, deviations) = of_scores.chain(of_strengths).chain(of_lastings).unzip();
        let logs = scores.len() + strengths.len();
        Unknowns {
            at_score: scores.iter().enumerate().map(|(at, key)| (*key, at)).collect(),
            at_strength: strengths.iter().enumerate().map(|(at, key)| (*key, scores.len() + at)).collect(),
            at_lasting: lastings.iter().enumerate().map(|(at, it)| (it.0, logs + at)).collect(),
            scores,
            strengths,
            lastings,
            prior,
            deviations,
            scale: palette.scale,
        }
    }

    /// A palette with these values of the unknowns in it.
    pub fn applied(&self, palette: &Palette, values: &[f64]) -> Palette {
        let mut palette = palette.clone();
        for (kind, value) in self.kinds().zip(values) {
            match kind {
                Kind::Score { material, descriptor } => palette.materials[material].scores[descriptor] = *value,
                Kind::Strength { material } => palette.materials[material].strength = value.exponential(),
                Kind::Lasting { material } => palette.materials[material].lasting_hours = Some(value.exponential()),
            }
        }
        palette
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.prior.len()
    }

    /// Whether nothing could be learned.
    pub fn is_empty(&self) -> bool {
        self.prior.is_empty()
    }

    /// How many of them are scores: they come first.
    pub fn score_count(&self) -> usize {
        self.scores.len()
    }

    /// Whether how long something lasts is among them.
    pub fn has_lasting(&self) -> bool {
        !self.lastings.is_empty()
    }

    /// Where a score stands; `None` where it is certain or not touched.
    pub fn score(&self, material: usize, descriptor: usize) -> Option<usize> {
        self.at_score.get(&(descriptor, material)).copied()
    }

    /// Where a log-strength stands, likewise.
    pub fn strength(&self, material: usize) -> Option<usize> {
        self.at_strength.get(&material).copied()
    }

    /// Where the logarithm of a tenacity stands, likewise.
    pub fn lasting(&self, material: usize) -> Option<usize> {
        self.at_lasting.get(&material).copied()
    }

    /// What each of them is, in order.
    pub fn kinds(&self) -> impl Iterator<Item = Kind> + '_ {
        let scores = self.scores.iter().map(|&(descriptor, material)| Kind::Score { material, descriptor });
        let logs = self.strengths.iter().map(|&material| Kind::Strength { material });
        scores.chain(logs).chain(self.lastings.iter().map(|&(material, ..)| Kind::Lasting { material }))
    }

    /// The scores of one descriptor, one group after the other.
    pub(super) fn blocks(&self) -> Vec<std::ops::Range<usize>> {
        let mut blocks: Vec<std::ops::Range<usize>> = Vec::new();
        for (at, (descriptor, _)) in self.scores.iter().enumerate() {
            match blocks.last_mut() {
                Some(block) if self.scores[block.start].0 == *descriptor => block.end = at + 1,
                _ => blocks.push(at..at + 1),
            }
        }
        blocks
    }
}
