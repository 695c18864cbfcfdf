//! What several noses disagree on.

use crate::nose::{Impression, NOTHING_FACTOR, Nose};
use crate::palette::SCORE_ERROR;
use crate::portable::Portable;
use crate::problem::Problem;
use crate::strength::STRENGTH_FACTOR;

/// A number of which two noses think differently: of all pairs of noses the two that
/// lie furthest apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disagreement {
    /// The material.
    pub material: usize,
    /// The descriptor of its score; `None` for its strength.
    pub descriptor: Option<usize>,
    /// The two noses, the one with the smaller number first.
    pub noses: [usize; 2],
    /// Their numbers: points of a score, or strengths.
    pub at: [f64; 2],
    /// How far apart they lie in standard deviations of a difference of the two.
    pub deviations: f64,
}

/// Two numbers count as different from so many standard deviations of their difference
/// on: what as sure a pair would reach by chance once in twenty times.
pub const DIFFERENT: f64 = 2.0;

/// What noses differ in, of the materials that may be used and the descriptors that
/// count, the most in its own error first.
pub fn disagreements(problem: &Problem, noses: &[Nose]) -> Vec<Disagreement> {
    let domains = problem.domains();
    let mut found = Vec::new();
    for material in (0..domains.len()).filter(|&at| domains[at].is_ok() && !problem.material(at).is_carrier()) {
        let all: Vec<(usize, &Impression)> = noses
            .iter()
            .enumerate()
            .filter_map(|(at, nose)| nose.impressions.get(material)?.as_ref().map(|impression| (at, impression)))
            .collect();
        let strength = |one: &Impression| (one.strength, one.strength_factor.unwrap_or(STRENGTH_FACTOR).logarithm());
        found.extend(furthest(&all, strength, logarithms).map(|furthest| furthest.of(material, None)));
        for target in &problem.targets {
            let score = |one: &Impression| (one.scores[target.descriptor], one.score_error.unwrap_or(SCORE_ERROR));
            let apart = |low: f64, high: f64| high - low;
            found.extend(furthest(&all, score, apart).map(|furthest| furthest.of(material, Some(target.descriptor))));
        }
    }
    found.retain(|one| one.deviations >= DIFFERENT);
    found.sort_by(|one, other| other.deviations.total_cmp(&one.deviations));
    found
}

/// How far two strengths lie apart, as the logarithm of a factor.
fn logarithms(low: f64, high: f64) -> f64 {
    if high <= 0.0 { 0.0 } else { (high / low.max(high / NOTHING_FACTOR)).logarithm() }
}

/// Two noses that lie furthest apart.
struct Furthest {
    noses: [usize; 2],
    at: [f64; 2],
    deviations: f64,
}

impl Furthest {
    fn of(self, material: usize, descriptor: Option<usize>) -> Disagreement {
        Disagreement { material, descriptor, noses: self.noses, at: self.at, deviations: self.deviations }
    }
}

/// The pair of noses that lies furthest apart in a number with its error.
fn furthest(
    all: &[(usize, &Impression)],
    number: impl Fn(&Impression) -> (f64, f64),
    apart: impl Fn(f64, f64) -> f64,
) -> Option<Furthest> {
    let mut most: Option<Furthest> = None;
    for (place, (first, one)) in all.iter().enumerate() {
        for (second, other) in &all[place + 1..] {
            let ((a, a_error), (b, b_error)) = (number(one), number(other));
            let error = a_error.hypotenuse(b_error);
            let (noses, at) = if a <= b { ([*first, *second], [a, b]) } else { ([*second, *first], [b, a]) };
            let distance = apart(at[0], at[1]);
            if distance <= 0.0 {
                continue;
            }
            // Two numbers that both are certain differ without a doubt.
            let deviations = if error > 0.0 { distance / error } else { f64::MAX };
            if most.as_ref().is_none_or(|most| deviations > most.deviations) {
                most = Some(Furthest { noses, at, deviations });
            }
        }
    }
    most
}
