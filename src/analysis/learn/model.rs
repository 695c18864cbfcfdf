//! What a trial should have smelled of, and how that changes with every
//! unknown.

use super::kin::Why;
use super::rest::Rest;
use super::unknowns::Unknowns;
use super::{GIVE_OR_TAKE, JUDGED_STRENGTH_FACTOR};
use crate::brief::Match;
use crate::palette::Palette;
use crate::portable::Portable;
use crate::tolerance::fits::NO_SCORE;
use crate::trials::Trials;

/// What one trial says.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Index of the trial in its file.
    pub trial: usize,
    /// (material, neat ppt) of what smells in it.
    pub parts: Vec<(usize, f64)>,
    /// (descriptor, points) that were judged.
    pub judged: Vec<(usize, f64)>,
    /// One standard deviation of these, in points: of the judgement, and of what an
    /// analysis leaves open of a natural.
    pub error: f64,
    /// Logarithm of the strength that was judged; of a natural that of what is known
    /// of it, undiluted.
    pub log_strength: Option<f64>,
    /// One standard deviation of that.
    pub log_strength_error: f64,
}

/// What a trial should have been like.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// Points, for each judged descriptor.
    pub scores: Vec<f64>,
    /// Logarithm of the strength of the undiluted formula.
    pub log_strength: f64,
    /// Odour share of each part.
    pub shares: Vec<f64>,
    /// What a point of the blend's own score counts: 1 in level, the judged
    /// total over the blend's in balance.
    pub factor: f64,
    /// In balance, each descriptor's part of the blend's total; empty in level.
    pub portions: Vec<f64>,
    /// Change of each score with each part's log-strength: rows are
    /// descriptors.
    pub by_strength: Vec<Vec<f64>>,
    /// Change of the log-strength with each part's.
    pub strength_by_strength: Vec<f64>,
}

/// What a trial says, or why it says nothing. `neat_ppt` holds its neat parts of
/// every palette material.
pub fn evidence(
    palette: &Palette,
    trials: &Trials,
    trial: usize,
    neat_ppt: &[f64],
    matching: Match,
) -> Result<Evidence, Why> {
    let smelled = &trials.trials[trial];
    if smelled.nose.is_some() && smelled.nose.as_deref() != palette.name.as_deref() {
        return Err(Why::Nose);
    }
    let parts: Vec<(usize, f64)> = neat_ppt
        .iter()
        .copied()
        .enumerate()
        .filter(|&(material, ppt)| ppt > 0.0 && !palette.materials[material].is_carrier())
        .collect();
    if parts.is_empty() {
        return Err(Why::NoOdour);
    }
    let total: f64 = smelled.scores.iter().map(|(_, score)| score).sum();
    let scored = |&(descriptor, _): &(usize, f64)| {
        parts.iter().any(|&(material, _)| palette.materials[material].scores[descriptor] > 0.0)
    };
    // In balance a score alone, or beside nothing but zeros, has nothing to be
    // held against; nor has any where the blend has no scores to be brought to
    // its total.
    let balances = smelled.scores.len() > 1 && total > 0.0 && smelled.scores.iter().any(scored);
    let compares = matching == Match::Level || balances;
    let judged = if compares { smelled.scores.clone() } else { Vec::new() };
    let log_strength = smelled.strength.map(f64::logarithm);
    if judged.is_empty() && log_strength.is_none() {
        return Err(if smelled.scores.is_empty() { Why::NotJudged } else { Why::NothingToCompare });
    }
    let own = smelled.give_or_take.unwrap_or(GIVE_OR_TAKE);
    let rest = smelled.analysed.as_ref().map(|analysed| Rest::of(palette, analysed));
    let (error, log_strength_error) = match rest {
        Some(rest) => (rest.score_error(own, palette.scale), rest.strength_error()),
        None => (own, JUDGED_STRENGTH_FACTOR.logarithm()),
    };
    // The parts add up to 1000, of which the known ones are but a part.
    let log_strength = log_strength.map(|log| log - rest.map_or(0.0, |rest| rest.known.logarithm()));
    Ok(Evidence { trial, parts, judged, error, log_strength, log_strength_error })
}

/// What a trial should have been like with these values of the unknowns.
pub fn predict(
    palette: &Palette,
    evidence: &Evidence,
    unknowns: &Unknowns,
    matching: Match,
    exponent: f64,
    values: &[f64],
) -> Prediction {
    let log_strength = |material: usize| {
        unknowns.strength(material).map_or_else(|| palette.materials[material].strength.logarithm(), |at| values[at])
    };
    let score = |material: usize, descriptor: usize| {
        unknowns
            .score(material, descriptor)
            .map_or_else(|| palette.materials[material].scores[descriptor], |at| values[at])
    };
    let odours: Vec<f64> =
        evidence.parts.iter().map(|&(material, ppt)| log_strength(material) + ppt.logarithm()).collect();
    let (_, shares) = softmax(&odours, exponent);
    let (log_total, strength_by_strength) = softmax(&odours, 1.0);
    let of = |descriptor: usize| -> Vec<f64> {
        evidence.parts.iter().map(|&(material, _)| score(material, descriptor)).collect()
    };
    let scores: Vec<Vec<f64>> = evidence.judged.iter().map(|&(descriptor, _)| of(descriptor)).collect();
    let blend: Vec<f64> = scores.iter().map(|row| row.iter().zip(&shares).map(|(score, h)| score * h).sum()).collect();
    let level = |row: &[f64], p: f64| -> Vec<f64> {
        row.iter().zip(&shares).map(|(score, h)| exponent * h * (score - p)).collect()
    };
    let (factor, portions, by_strength) = match matching {
        Match::Level => (1.0, Vec::new(), scores.iter().zip(&blend).map(|(row, p)| level(row, *p)).collect()),
        Match::Balance => {
            let total = blend.iter().sum::<f64>().max(NO_SCORE);
            let factor = evidence.judged.iter().map(|(_, points)| points).sum::<f64>() / total;
            let portions: Vec<f64> = blend.iter().map(|p| p / total).collect();
            let sums: Vec<f64> = (0..shares.len()).map(|at| scores.iter().map(|row| row[at]).sum()).collect();
            let row = |(row, q): (&Vec<f64>, &f64)| -> Vec<f64> {
                let each = row.iter().zip(&sums).zip(&shares);
                each.map(|((score, sum), h)| factor * exponent * h * (score - q * sum)).collect()
            };
            let by_strength = scores.iter().zip(&portions).map(row).collect();
            (factor, portions, by_strength)
        }
    };
    Prediction {
        scores: blend.iter().map(|p| factor * p).collect(),
        log_strength: log_total - 1000_f64.logarithm(),
        shares,
        factor,
        portions,
        by_strength,
        strength_by_strength,
    }
}

/// Logarithm of the sum of the powers, and each power's part of the sum.
fn softmax(logs: &[f64], exponent: f64) -> (f64, Vec<f64>) {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let powers: Vec<f64> = logs.iter().map(|log| (exponent * (log - most)).exponential()).collect();
    let sum: f64 = powers.iter().sum();
    (exponent * most + sum.logarithm(), powers.into_iter().map(|power| power / sum).collect())
}

impl Evidence {
    /// Weight of a squared residual of a score.
    pub fn weight(&self) -> f64 {
        self.error.powi(-2)
    }

    /// Weight of the squared residual of the log-strength.
    pub fn strength_weight(&self) -> f64 {
        self.log_strength_error.powi(-2)
    }

    /// How many numbers it says that are free: the last of a balance follows
    /// from the others.
    pub fn degrees(&self, matching: Match) -> usize {
        let scores = match matching {
            Match::Level => self.judged.len(),
            Match::Balance => self.judged.len().saturating_sub(1),
        };
        scores + usize::from(self.log_strength.is_some())
    }

    /// Standardised residuals: what was judged less what was predicted, scores
    /// and then the log-strength.
    pub fn residuals(&self, prediction: &Prediction) -> Vec<f64> {
        let scores = self.judged.iter().zip(&prediction.scores).map(|((_, points), p)| (points - p) / self.error);
        let strength = self.log_strength.map(|log| (log - prediction.log_strength) * self.strength_weight().sqrt());
        scores.chain(strength).collect()
    }

    /// Change of the standardised prediction with the unknowns: for each row
    /// of [`Evidence::residuals`] a list of (unknown, change).
    pub fn slopes(&self, unknowns: &Unknowns, prediction: &Prediction) -> Vec<Vec<(usize, f64)>> {
        let mut rows = Vec::with_capacity(self.judged.len() + 1);
        for (row, _) in self.judged.iter().enumerate() {
            let mut slopes = Vec::new();
            for (part, &(material, _)) in self.parts.iter().enumerate() {
                let own = prediction.factor * prediction.shares[part] / self.error;
                for (other, &(descriptor, _)) in self.judged.iter().enumerate() {
                    let portion = prediction.portions.get(row).copied().unwrap_or(0.0);
                    let slope = own * (f64::from(u8::from(other == row)) - portion);
                    if slope != 0.0 {
                        slopes.extend(unknowns.score(material, descriptor).map(|at| (at, slope)));
                    }
                }
                let by = prediction.by_strength[row][part] / self.error;
                slopes.extend(unknowns.strength(material).map(|at| (at, by)));
            }
            rows.push(slopes);
        }
        if self.log_strength.is_some() {
            let scale = self.strength_weight().sqrt();
            let each = self.parts.iter().zip(&prediction.strength_by_strength);
            rows.push(each.filter_map(|((m, _), by)| Some((unknowns.strength(*m)?, by * scale))).collect());
        }
        rows
    }
}
