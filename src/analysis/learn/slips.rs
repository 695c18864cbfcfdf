//! What a single slip would explain of a trial that does not fit the others: a number written
//! down wrongly, a wrong bottle, a dilution taken for another, a material left out.
//!
//! With each of them the trial is held once more against the fit to the others, with what that
//! leaves unsure: the slip after which it is least unlike them explains it best. A slip of a
//! formula is looked for only where one was weighed and smelled as it was dipped.

use nalgebra::DVector;

use super::fit::fit;
use super::model::{Evidence, predict};
use super::posterior::{Posterior, normal, unexcused};
use super::unknowns::Unknowns;
use crate::brief::Match;
use crate::palette::Palette;

/// A trial counts as explained where it is no more unlike the others than so many standard
/// normal numbers.
const EXPLAINED: f64 = 2.0;
/// Factors by which a bottle may be stronger or weaker than it was taken for.
const DILUTIONS: [f64; 4] = [0.01, 0.1, 10.0, 100.0];
/// Scores that it takes at least: fewer are explained by anything.
const LEAST_JUDGED: usize = 3;

/// One slip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Slip {
    /// The score of this descriptor.
    Number(usize),
    /// Another material in the place of one.
    Bottle {
        /// What was noted.
        noted: usize,
        /// What it would have been.
        instead: usize,
    },
    /// So many times as much of a material.
    Dilution {
        /// The material.
        material: usize,
        /// The factor.
        factor: f64,
    },
    /// A material that was left out.
    Missing(usize),
}

/// The slip that explains a trial best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Explained {
    /// The slip.
    pub slip: Slip,
    /// How unlike the others the trial is with it: a standard normal number where it is like
    /// them.
    pub misfit: f64,
}

/// What one slip explains of a trial, an index among the evidence; `None` where none makes it
/// like the others. `is_weighed` says whether its formula was weighed.
pub fn slip(
    palette: &Palette,
    evidence: &[Evidence],
    at: usize,
    (matching, exponent): (Match, f64),
    is_weighed: bool,
) -> Option<Explained> {
    let one = &evidence[at];
    if one.judged.len() < LEAST_JUDGED {
        return None;
    }
    let mut others = evidence.to_vec();
    others.remove(at);
    let all: Vec<usize> = (0..palette.materials.len()).filter(|at| !palette.materials[*at].is_carrier()).collect();
    let scores: Vec<(usize, usize)> =
        one.judged.iter().flat_map(|&(word, _)| all.iter().map(move |&material| (word, material))).collect();
    let unknowns = Unknowns::touched(palette, evidence).with(palette, &scores, &all);
    let fitted = fit(palette, &others, &unknowns, matching, exponent);
    let covariance = Posterior::covariance(palette, &others, &unknowns, matching, exponent, &fitted);
    let mut slips: Vec<(Slip, Evidence)> = (0..one.judged.len()).map(|row| without_number(one, row)).collect();
    if is_weighed && one.drying.is_none() {
        slips.extend(of_formula(one, &all));
    }
    let misfit = |changed: &Evidence| {
        let prediction = predict(palette, changed, &unknowns, matching, exponent, &fitted.values);
        let gap = DVector::from_vec(changed.residuals(&prediction));
        let squares = unexcused(&gap, &changed.slope_matrix(&unknowns, &prediction), &covariance)?;
        Some(normal(squares, changed.degrees(matching, &prediction)))
    };
    let tried = slips.iter().filter_map(|(slip, changed)| Some(Explained { slip: *slip, misfit: misfit(changed)? }));
    // Of equals the first: a number before a bottle.
    let best = tried.reduce(|best, one| if one.misfit < best.misfit { one } else { best });
    best.filter(|best| best.misfit < EXPLAINED)
}

/// The trial as if one of its scores had not been judged.
fn without_number(one: &Evidence, row: usize) -> (Slip, Evidence) {
    let mut changed = one.clone();
    let (descriptor, _) = changed.judged.remove(row);
    (Slip::Number(descriptor), changed)
}

/// The trial with other formulas, each of which one slip at the balance makes of what was noted.
fn of_formula(one: &Evidence, all: &[usize]) -> Vec<(Slip, Evidence)> {
    let with = |parts: Vec<(usize, f64)>| Evidence { parts, ..one.clone() };
    let mut slips = Vec::new();
    for (at, &(noted, _)) in one.parts.iter().enumerate() {
        if one.parts.len() > 1 {
            let mut parts = one.parts.clone();
            parts.remove(at);
            slips.push((Slip::Missing(noted), with(parts)));
            for factor in DILUTIONS {
                let mut parts = one.parts.clone();
                parts[at].1 *= factor;
                slips.push((Slip::Dilution { material: noted, factor }, with(parts)));
            }
        }
        for &instead in all.iter().filter(|other| one.parts.iter().all(|(part, _)| part != *other)) {
            let mut parts = one.parts.clone();
            parts[at].0 = instead;
            parts.sort_unstable_by_key(|(material, _)| *material);
            slips.push((Slip::Bottle { noted, instead }, with(parts)));
        }
    }
    slips
}
