//! The trials that tell the two laws apart.
//!
//! Both laws predict a profile for a blend; scores and strengths, which are known with
//! errors, could make up for some of the difference. What is left of it after the best
//! of such excuses, in standard deviations, is `d' inv(1 + J C J') d`, with `d` the
//! difference in units of the error of a judgement, `J` the change with the unknowns and `C`
//! what is known of them: a T-optimal design (A. C. Atkinson, V. V. Fedorov, Biometrika 62,
//! 1975), with a prior. Several trials are chosen one after the other, each by what all of
//! them tell together: they share their excuses.

use nalgebra::{DMatrix, DVector};

use super::learn::{Evidence, Posterior, Unknowns, fit, predict, unexcused};
use crate::brief::{Law, Match};
use crate::palette::Palette;
use crate::portable::Portable;

/// How many times as loud as the other one of two materials may be, by the linear law.
const LOUDER: [f64; 9] = [1.0 / 100.0, 1.0 / 30.0, 1.0 / 10.0, 1.0 / 3.0, 1.0, 3.0, 10.0, 30.0, 100.0];
/// Doses are whole multiples of so many ppt.
const STEP_PPT: f64 = 1.0;
/// Blends that trials are chosen from: those that tell most alone.
const KEPT: usize = 200;
/// Pairs that are tried with more materials.
const GROWN: usize = 24;
/// Materials of a blend, at most: whoever tests a law weighs no accord for it.
const MOST_PARTS: usize = 5;

/// A blend of a few materials that tells the laws apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Separation {
    /// (material, neat ppt) of each.
    pub parts: Vec<(usize, f64)>,
    /// How many standard deviations the laws lie apart after this trial and those before
    /// it, whatever scores and strengths make up for.
    pub deviations: f64,
    /// (descriptor, points by the linear law, points by the compressive one), those first
    /// that differ most.
    pub differs: Vec<(usize, f64, f64)>,
}

/// What trials would be held against.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The palette that the trials start from.
    pub palette: &'a Palette,
    /// What the trials so far say; may be empty.
    pub evidence: &'a [Evidence],
    /// How they are compared.
    pub matching: Match,
    /// Materials that may be blended.
    pub materials: &'a [usize],
    /// Descriptors that would be judged.
    pub words: &'a [usize],
    /// One standard deviation of a judged score, in points.
    pub error: f64,
}

/// A blend with what it would tell.
struct Candidate {
    /// (material, how loud it is by the linear law, in units of the others).
    loud: Vec<(usize, f64)>,
    /// How much it tells alone.
    tells: f64,
    parts: Vec<(usize, f64)>,
    difference: DVector<f64>,
    slopes: DMatrix<f64>,
    differs: Vec<(usize, f64, f64)>,
}

/// Chooses up to so many blends of a few materials that tell the laws apart, the one that
/// tells most first.
///
/// They grow from pairs: by the linear law several quiet materials beside a loud one are
/// hardly smelled, by the compressive law they are the half of it, and the errors of each
/// excuse the less of it the more there are.
pub fn separations(asked: Asked, count: usize) -> Vec<Separation> {
    let Asked { palette, evidence, matching, materials, words, .. } = asked;
    let scores: Vec<(usize, usize)> =
        materials.iter().flat_map(|&material| words.iter().map(move |&word| (word, material))).collect();
    let unknowns = Unknowns::touched(palette, evidence).with(palette, &scores, materials);
    let fitted = fit(palette, evidence, &unknowns, matching, 1.0);
    let covariance = Posterior::covariance(palette, evidence, &unknowns, matching, 1.0, &fitted);
    let blend = |loud: Vec<(usize, f64)>| -> Option<Candidate> {
        let one = candidate(&asked, &unknowns, &fitted.values, loud)?;
        let tells = apart(&one.difference, &one.slopes, &covariance);
        Some(Candidate { tells, ..one })
    };
    let mut pairs: Vec<Candidate> = Vec::new();
    for (at, &one) in materials.iter().enumerate() {
        for &other in &materials[at + 1..] {
            pairs.extend(LOUDER.iter().filter_map(|&times| blend(vec![(one, times), (other, 1.0)])));
        }
    }
    let by_tells = |a: &Candidate, b: &Candidate| b.tells.total_cmp(&a.tells);
    pairs.sort_by(by_tells);
    pairs.truncate(KEPT);
    let mut ranked: Vec<Candidate> = pairs.iter().take(GROWN).flat_map(|pair| grow(materials, pair, &blend)).collect();
    ranked.extend(pairs);
    ranked.sort_by(by_tells);
    ranked.truncate(KEPT);

    let mut chosen: Vec<Separation> = Vec::new();
    let (mut difference, mut slopes) = (DVector::zeros(0), DMatrix::zeros(0, unknowns.len()));
    while chosen.len() < count {
        let with = |one: &Candidate| {
            let both = stacked(&difference, &slopes, one);
            apart(&both.0, &both.1, &covariance)
        };
        let values: Vec<f64> = ranked.iter().map(with).collect();
        let Some(best) = (0..values.len()).rev().max_by(|a, b| values[*a].total_cmp(&values[*b])) else { break };
        let one = ranked.remove(best);
        (difference, slopes) = stacked(&difference, &slopes, &one);
        chosen.push(Separation {
            parts: one.parts.clone(),
            deviations: values[best].max(0.0).sqrt(),
            differs: one.differs,
        });
    }
    chosen
}

/// A pair with one more quiet material after the other, as long as that tells more.
fn grow(
    materials: &[usize],
    pair: &Candidate,
    blend: &dyn Fn(Vec<(usize, f64)>) -> Option<Candidate>,
) -> Vec<Candidate> {
    let quiet = pair.loud.iter().map(|(_, loudness)| *loudness).fold(f64::INFINITY, f64::min);
    let mut grown: Vec<Candidate> = Vec::new();
    loop {
        let last = grown.last().unwrap_or(pair);
        if last.loud.len() >= MOST_PARTS {
            return grown;
        }
        let is_new = |at: &&usize| last.loud.iter().all(|(known, _)| known != *at);
        let with = |&at: &usize| blend(last.loud.iter().copied().chain([(at, quiet)]).collect());
        let tried = materials.iter().filter(is_new).filter_map(with);
        match tried.reduce(|a, b| if b.tells > a.tells { b } else { a }) {
            Some(more) if more.tells > last.tells => grown.push(more),
            _ => return grown,
        }
    }
}

/// The squared standard deviations between two predictions, after the best excuse.
fn apart(difference: &DVector<f64>, slopes: &DMatrix<f64>, covariance: &DMatrix<f64>) -> f64 {
    unexcused(difference, slopes, covariance).unwrap_or(0.0)
}

fn stacked(difference: &DVector<f64>, slopes: &DMatrix<f64>, one: &Candidate) -> (DVector<f64>, DMatrix<f64>) {
    let rows = difference.len();
    let all = rows + one.difference.len();
    let both = DVector::from_fn(all, |at, _| if at < rows { difference[at] } else { one.difference[at - rows] });
    let of = |row: usize, at: usize| if row < rows { slopes[(row, at)] } else { one.slopes[(row - rows, at)] };
    (both, DMatrix::from_fn(all, one.slopes.ncols(), of))
}

/// A blend of materials that are so loud by the linear law, each in units of the others;
/// `None` where no doses in whole parts come near that.
fn candidate(asked: &Asked, unknowns: &Unknowns, values: &[f64], loud: Vec<(usize, f64)>) -> Option<Candidate> {
    let Asked { palette, matching, words, error, .. } = *asked;
    let strength = |material: usize| {
        unknowns.strength(material).map_or_else(|| palette.materials[material].strength, |at| values[at].exponential())
    };
    let doses: Vec<f64> = loud.iter().map(|&(material, loudness)| loudness / strength(material)).collect();
    let whole: f64 = doses.iter().sum();
    let mut parts: Vec<(usize, f64)> = loud
        .iter()
        .zip(&doses)
        .map(|(&(material, _), dose)| (material, (1000.0 * dose / whole / STEP_PPT).round() * STEP_PPT))
        .collect();
    // What rounding leaves goes to the largest, where it is noticed least.
    let rest = 1000.0 - parts.iter().map(|(_, ppt)| ppt).sum::<f64>();
    parts.iter_mut().max_by(|a, b| a.1.total_cmp(&b.1))?.1 += rest;
    if parts.iter().any(|(_, ppt)| *ppt < STEP_PPT) {
        return None;
    }
    let judged = words.iter().map(|&word| (word, 0.0)).collect();
    let mut blend = Evidence {
        trial: 0,
        parts: parts.clone(),
        judged,
        error,
        log_strength: None,
        log_strength_error: f64::INFINITY,
        drying: None,
    };
    // In balance the total that would be smelled is needed: that of the level.
    let level = predict(palette, &blend, unknowns, Match::Level, 1.0, values);
    blend.judged.iter_mut().zip(&level.scores).for_each(|(judged, points)| judged.1 = *points);
    let [linear, bent] =
        [Law::Linear, Law::Compressive].map(|law| predict(palette, &blend, unknowns, matching, law.exponent(), values));
    let slopes = blend.slope_matrix(unknowns, &linear);
    let each = linear.scores.iter().zip(&bent.scores);
    let difference = DVector::from_iterator(words.len(), each.map(|(a, b)| (b - a) / error));
    let mut differs: Vec<(usize, f64, f64)> =
        words.iter().zip(linear.scores.iter().zip(&bent.scores)).map(|(&word, (&a, &b))| (word, a, b)).collect();
    differs.sort_by(|x, y| (y.2 - y.1).abs().total_cmp(&(x.2 - x.1).abs()).then(x.0.cmp(&y.0)));
    Some(Candidate { loud, tells: 0.0, parts, difference, slopes, differs })
}
