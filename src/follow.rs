//! Strengths that follow from those of other materials.

use crate::palette::Material;
use crate::portable::Portable;
use crate::strength::{STRENGTH_FACTOR, Said, Times};
use crate::thresholds::{Threshold, Thresholds};

/// What a strength that follows from others may be, see `keys::MATERIAL_STRENGTH`.
const RANGE: std::ops::RangeInclusive<f64> = 1e-6..=1e6;

/// Why a strength does not follow from another material's.
#[derive(Clone, Debug, PartialEq)]
pub enum Unfollowed {
    /// No material has the name.
    NoSuch,
    /// It comes back to itself by way of these, the last of which names it.
    Circle(Vec<String>),
    /// The other is a carrier.
    Carrier,
    /// The strength of the other follows from its formula.
    Base,
    /// It would lie outside what a strength may be.
    Range(f64),
    /// One of the two, by its name, has no threshold in the table.
    NoThreshold(String),
    /// The other's own strength could not be found out, which is told there.
    Elsewhere,
}

/// Fills in the strengths that follow from other materials, with their errors.
/// Errors of a comparison and of what it is compared with add up as variances of
/// the logarithm, and count as independent of each other: no ratio is ever told
/// surer than it is, that of two materials compared with one third less sure.
/// Gives back which could not be filled in, and why.
pub fn follow(materials: &mut [Material], known: &Thresholds) -> Vec<(usize, Unfollowed)> {
    let mut done: Vec<Option<bool>> = vec![None; materials.len()];
    let mut wrong = Vec::new();
    for at in 0..materials.len() {
        walk(materials, known, at, &mut done, &mut wrong);
    }
    wrong
}

/// Follows one chain of comparisons to its end, and then back. Not by recursion:
/// a chain may be as long as the shelf.
fn walk(
    materials: &mut [Material],
    known: &Thresholds,
    start: usize,
    done: &mut [Option<bool>],
    wrong: &mut Vec<(usize, Unfollowed)>,
) {
    let mut path: Vec<usize> = Vec::new();
    let mut at = start;
    while done[at].is_none() {
        let Said::Of { of, .. } = &materials[at].said else {
            done[at] = Some(true);
            break;
        };
        path.push(at);
        let Some(next) = materials.iter().position(|other| other.name == *of) else {
            wrong.push((at, Unfollowed::NoSuch));
            done[at] = Some(false);
            break;
        };
        if let Some(first) = path.iter().position(|before| *before == next) {
            let round = path[first..].iter().map(|&of| materials[of].name.clone()).collect();
            wrong.push((at, Unfollowed::Circle(round)));
            path.iter().for_each(|&of| done[of] = Some(false));
            break;
        }
        at = next;
    }
    while let Some(at) = path.pop() {
        if done[at].is_some() {
            continue;
        }
        let Said::Of { of, .. } = &materials[at].said else { continue };
        let Some(other) = materials.iter().position(|other| other.name == *of) else { continue };
        let found = if done[other] == Some(true) {
            by(&materials[at], &materials[other], known)
        } else {
            Err(Unfollowed::Elsewhere)
        };
        done[at] = Some(found.is_ok());
        match found {
            Ok((strength, factor)) => {
                materials[at].strength = strength;
                materials[at].strength_factor = Some(factor);
            }
            Err(why) => wrong.push((at, why)),
        }
    }
}

/// Strength and factor of a material beside another.
fn by(own: &Material, other: &Material, known: &Thresholds) -> Result<(f64, f64), Unfollowed> {
    let Said::Of { times, .. } = &own.said else { return Ok((own.strength, 1.0)) };
    if other.formula.is_some() {
        return Err(Unfollowed::Base);
    }
    if other.is_carrier() {
        return Err(Unfollowed::Carrier);
    }
    let times = match times {
        Times::Number(times) => *times,
        Times::Thresholds => {
            let mean = |of: &Material| {
                let row = of.cas.as_ref().and_then(|cas| known.of(cas));
                row.map(Threshold::mean).ok_or_else(|| Unfollowed::NoThreshold(of.name.clone()))
            };
            // The less of it is smelled, the stronger it is.
            mean(other)? / mean(own)?
        }
    };
    let strength = times * other.strength;
    if !RANGE.contains(&strength) {
        return Err(Unfollowed::Range(strength));
    }
    let deviations = [own.said.own_factor(), Some(other.strength_factor.unwrap_or(STRENGTH_FACTOR))];
    let variance: f64 = deviations.into_iter().flatten().map(|factor| factor.logarithm().powi(2)).sum();
    Ok((strength, variance.sqrt().exponential()))
}
