//! What sets each of several formulas apart from the others.

use super::starts::distance;
use crate::solve::Answer;
use crate::tolerance::curves::SAME_SHARE;

/// What sets one formula apart from the others.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Apart {
    /// Materials that it alone has.
    pub alone_with: Vec<usize>,
    /// Materials that it alone does without.
    pub alone_without: Vec<usize>,
    /// The material whose odour share differs most from what the others have
    /// on average: (material, share in percent, average of the others).
    pub share: Option<(usize, f64, f64)>,
    /// The descriptor in which it lies furthest outside of all others:
    /// (index into the targets, by how many points; negative where it has less).
    pub descriptor: Option<(usize, f64)>,
    /// Distance to the nearest of the others, in share points.
    pub nearest: f64,
}

/// What sets each of several formulas apart from the others.
pub fn apart(answers: &[Answer]) -> Vec<Apart> {
    (0..answers.len()).map(|at| apart_of(answers, at)).collect()
}

fn apart_of(answers: &[Answer], at: usize) -> Apart {
    let own = &answers[at];
    let others: Vec<&Answer> = (0..answers.len()).filter(|&other| other != at).map(|other| &answers[other]).collect();
    if others.is_empty() {
        return Apart::default();
    }
    let has = |answer: &Answer, material: usize| !answer.formula.dose(material).is_zero();
    let materials = 0..own.evaluation.shares_percent.len();
    let share = |answer: &Answer, material: usize| answer.evaluation.shares_percent[material];
    let average =
        |material: usize| others.iter().map(|other| share(other, material)).sum::<f64>() / others.len() as f64;
    let mut widest: Option<(usize, f64, f64)> = None;
    for material in materials.clone() {
        let (own, average) = (share(own, material), average(material));
        if widest.is_none_or(|(_, a, b)| (own - average).abs() > (a - b).abs() + SAME_SHARE) {
            widest = Some((material, own, average));
        }
    }
    let mut outside: Option<(usize, f64)> = None;
    for (counted, &points) in own.evaluation.profile.iter().enumerate() {
        let of_others = || others.iter().map(|other| other.evaluation.profile[counted]);
        let over = points - of_others().fold(f64::NEG_INFINITY, f64::max);
        let under = points - of_others().fold(f64::INFINITY, f64::min);
        let by = if over > 0.0 { over } else { under.min(0.0) };
        if by.abs() > outside.map_or(0.05, |(_, by): (usize, f64)| by.abs()) {
            outside = Some((counted, by));
        }
    }
    Apart {
        alone_with: materials
            .clone()
            .filter(|&it| has(own, it) && others.iter().all(|other| !has(other, it)))
            .collect(),
        alone_without: materials.filter(|&it| !has(own, it) && others.iter().all(|other| has(other, it))).collect(),
        share: widest.filter(|(_, own, average)| (own - average).abs() > 0.5),
        descriptor: outside,
        nearest: others.iter().map(|other| distance(&own.evaluation, &other.evaluation)).fold(f64::INFINITY, f64::min),
    }
}
