//! What a trial should have smelled of, and how that changes with every
//! unknown.

use nalgebra::DMatrix;

use super::drying::{Dried, Drying, GONE_FACTOR};
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
    /// How it dried until it was smelled; `None` where it is smelled as it was dipped.
    pub drying: Option<Drying>,
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
    /// Change of each score with each logarithm of [`Evidence::logs`]: rows are
    /// descriptors.
    pub by_log: Vec<Vec<f64>>,
    /// Change of the log-strength with each of them.
    pub strength_by_log: Vec<f64>,
    /// By how much it was smelled beyond its film's end, as a logarithm; 0 where it was
    /// not.
    pub beyond: f64,
    /// Change of that with each of the logarithms.
    pub beyond_by_log: Vec<f64>,
}

/// What a trial says as it was dipped, or why it says nothing. `neat_ppt` holds its neat parts of
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
    Ok(Evidence { trial, parts, judged, error, log_strength, log_strength_error, drying: None })
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
    let dried = evidence.drying.as_ref().map(|drying| (drying, drying.left(unknowns, values)));
    let left = |material: usize| {
        dried.as_ref().and_then(|(drying, dried)| Some(dried.logs[drying.place(material)?])).unwrap_or(0.0)
    };
    let odour = |&(material, ppt): &(usize, f64)| log_strength(material) + ppt.logarithm() + left(material);
    let odours: Vec<f64> = evidence.parts.iter().map(odour).collect();
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
            let by_strength: Vec<Vec<f64>> = scores.iter().zip(&portions).map(row).collect();
            (factor, portions, by_strength)
        }
    };
    // What is left changes with how long things last; what is smelled changes with that as
    // with strengths.
    let with_lasting = |row: Vec<f64>| match &dried {
        Some((drying, dried)) => by_lasting(evidence, drying, dried, row),
        None => row,
    };
    let strengths = evidence.parts.len();
    let beyond_by_log = dried.as_ref().map_or_else(Vec::new, |(_, dried)| {
        let none = std::iter::repeat_n(0.0, strengths);
        none.chain(dried.life_by_lasting.iter().map(|by| -by)).collect()
    });
    Prediction {
        beyond: dried.as_ref().map_or(0.0, |(_, dried)| dried.beyond),
        beyond_by_log,
        scores: blend.iter().map(|p| factor * p).collect(),
        log_strength: log_total - 1000_f64.logarithm(),
        shares,
        factor,
        portions,
        by_log: by_strength.into_iter().map(with_lasting).collect(),
        strength_by_log: with_lasting(strength_by_strength),
    }
}

/// Slopes with log-strengths, and after them those with the logarithms of tenacities.
fn by_lasting(evidence: &Evidence, drying: &Drying, dried: &Dried, mut row: Vec<f64>) -> Vec<f64> {
    let mut further = vec![0.0; drying.materials.len()];
    for (&(material, _), by) in evidence.parts.iter().zip(&row) {
        let Some(place) = drying.place(material) else { continue };
        further.iter_mut().zip(&dried.by_lasting[place]).for_each(|(sum, slope)| *sum += by * slope);
    }
    row.extend(further);
    row
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

    /// Weight of the squared residual of having been smelled beyond its film's end.
    pub fn beyond_weight(&self) -> f64 {
        GONE_FACTOR.logarithm().powi(-2)
    }

    /// The logarithms on which it hangs, by where they stand among the unknowns: the
    /// strength of each part, then the tenacity of each of the film's materials. `None`
    /// is certain.
    pub fn logs(&self, unknowns: &Unknowns) -> Vec<Option<usize>> {
        let strengths = self.parts.iter().map(|(material, _)| unknowns.strength(*material));
        let film = self.drying.iter().flat_map(|drying| &drying.materials);
        strengths.chain(film.map(|material| unknowns.lasting(*material))).collect()
    }

    /// Hours after dipping; 0 where it was smelled as it was dipped.
    pub fn hours(&self) -> f64 {
        self.drying.as_ref().map_or(0.0, |drying| drying.hours)
    }

    /// Whether it says something of how long a material lasts, beside the same material at
    /// another time.
    pub fn speaks_of_lasting(&self, material: usize) -> bool {
        let is_mixed = self.parts.len() > 1 || self.log_strength.is_some();
        match &self.drying {
            Some(drying) => drying.place(material).is_some(),
            None => is_mixed && self.parts.iter().any(|(part, _)| *part == material),
        }
    }

    /// How many numbers it says that are free: the last of a balance follows
    /// from the others.
    pub fn degrees(&self, matching: Match, prediction: &Prediction) -> usize {
        let scores = match matching {
            Match::Level => self.judged.len(),
            Match::Balance => self.judged.len().saturating_sub(1),
        };
        scores + usize::from(self.log_strength.is_some()) + usize::from(prediction.beyond > 0.0)
    }

    /// Standardised residuals: what was judged less what was predicted, scores
    /// and then the log-strength, and last that it was smelled beyond its film's end, where
    /// it was.
    pub fn residuals(&self, prediction: &Prediction) -> Vec<f64> {
        let scores = self.judged.iter().zip(&prediction.scores).map(|((_, points), p)| (points - p) / self.error);
        let strength = self.log_strength.map(|log| (log - prediction.log_strength) * self.strength_weight().sqrt());
        let beyond = (prediction.beyond > 0.0).then(|| -prediction.beyond * self.beyond_weight().sqrt());
        scores.chain(strength).chain(beyond).collect()
    }

    /// [`Evidence::slopes`] as a matrix: a row for each of [`Evidence::residuals`], a column for
    /// each unknown.
    pub fn slope_matrix(&self, unknowns: &Unknowns, prediction: &Prediction) -> DMatrix<f64> {
        let rows = self.slopes(unknowns, prediction);
        let mut slopes = DMatrix::zeros(rows.len(), unknowns.len());
        for (row, changes) in rows.into_iter().enumerate() {
            changes.into_iter().for_each(|(at, slope)| slopes[(row, at)] += slope);
        }
        slopes
    }

    /// Change of the standardised prediction with the unknowns: for each row
    /// of [`Evidence::residuals`] a list of (unknown, change).
    pub fn slopes(&self, unknowns: &Unknowns, prediction: &Prediction) -> Vec<Vec<(usize, f64)>> {
        let mut rows = Vec::with_capacity(self.judged.len() + 2);
        let logs = self.logs(unknowns);
        let by_logs = |slopes: &[f64], scale: f64| -> Vec<(usize, f64)> {
            logs.iter().zip(slopes).filter_map(|(at, by)| Some(((*at)?, by * scale))).collect()
        };
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
            }
            let of = |(at, by): (&Option<usize>, &f64)| Some(((*at)?, by / self.error));
            slopes.extend(logs.iter().zip(&prediction.by_log[row]).filter_map(of));
            rows.push(slopes);
        }
        if self.log_strength.is_some() {
            rows.push(by_logs(&prediction.strength_by_log, self.strength_weight().sqrt()));
        }
        if prediction.beyond > 0.0 {
            rows.push(by_logs(&prediction.beyond_by_log, self.beyond_weight().sqrt()));
        }
        rows
    }
}
