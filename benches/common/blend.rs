//! The seeded instances as whole-part problems.

use std::sync::Arc;

use permil::brief::{Brief, Match, TargetEntry};
use permil::control::Control;
use permil::palette::{Descriptor, Material, Palette};
use permil::place::{Place, Placed};
use permil::problem::{Problem, Rule, RuleId, RuleKind};
use permil::solve::{Method, propose};
use permil::units::Ppt;

use super::Instance;

/// The rules that the timed briefs have.
#[derive(Clone, Copy, Debug)]
pub struct Rules {
    /// How the blend is compared with the target.
    pub matching: Match,
    /// At most so many materials.
    pub max_materials: usize,
    /// Least dose in ppt, if used at all.
    pub min_dose: f64,
    /// Doses are whole multiples of this many ppt.
    pub step: f64,
    /// Greatest dose of one material in ppt.
    pub max: f64,
    /// The budget, as a part of what the target's own blend costs.
    pub budget: f64,
}

/// At most ten materials, 2 ppt at least, whole parts.
pub const TEN_WHOLE_PARTS: Rules =
    Rules { matching: Match::Level, max_materials: 10, min_dose: 2.0, step: 1.0, max: 1000.0, budget: 1.0 };

fn place() -> Place {
    Place { file: Arc::from("generated"), line: 1, column: 1 }
}

fn placed<T>(value: T) -> Placed<T> {
    Placed { value, place: place() }
}

fn material(instance: &Instance, index: usize, max: f64) -> Material {
    let mut scores = vec![0.0; instance.descriptors];
    for &(descriptor, score) in &instance.scores[index] {
        scores[descriptor] = score;
    }
    Material {
        name: format!("Material {index:04}"),
        place: place(),
        cas: None,
        strength: instance.strengths[index],
        strength_factor: None,
        said: Default::default(),
        score_words: Vec::new(),
        scores,
        score_error: None,
        price_per_kg: Some(instance.prices_per_kg[index]),
        min: None,
        max: Some(placed(Ppt::from_ppt(max))),
        max_in_concentrate_percent: None,
        max_in_product_percent: None,
        usual: None,
        step: None,
        tags: Vec::new(),
        note: None,
        lasting_hours: None,
        lasting_factor: None,
        molar_mass: None,
        vapour_pressure: None,
        natural: false,
        constituents: None,
        bottles: Vec::new(),
        packs: Vec::new(),
        stock_grams: None,
        have: true,
        handling: None,
        remarks: None,
        formula: None,
        base: None,
    }
}

/// A whole-part problem from an instance.
pub fn problem(instance: &Instance, rules: Rules) -> Problem {
    let palette = Palette {
        file: Arc::from("generated"),
        name: None,
        currency: "EUR".to_owned(),
        scale: 10.0,
        lasting_percent: 100.0,
        descriptors: (0..instance.descriptors)
            .map(|index| Descriptor { name: format!("descriptor-{index}"), meaning: String::new() })
            .collect(),
        materials: (0..instance.strengths.len()).map(|index| material(instance, index, rules.max)).collect(),
        score_words: Vec::new(),
        remarks: None,
        tied: None,
    };
    let target = instance.target.iter().enumerate().map(|(descriptor, &score)| TargetEntry {
        descriptor,
        place: place(),
        score: Some(score),
        weight: None,
        excess: None,
        min: None,
        max: None,
    });
    let brief = Brief {
        matching: rules.matching,
        target: target.collect(),
        step: Some(placed(Ppt::from_ppt(rules.step))),
        min_dose: Some(placed(Ppt::from_ppt(rules.min_dose))),
        max_materials: Some(placed(rules.max_materials)),
        max_price: Some(placed(rules.budget * instance.blend_price_per_kg)),
        ..Brief::empty(Arc::from("generated"))
    };
    Problem::new(palette, &brief, &[])
}

/// The problem with ten further rules, each of which the formula found without
/// them within 2,000 nodes breaks or just keeps: caps on its three largest
/// doses, a least dose of its fourth, bounds on two groups, a ratio, both bounds
/// on strength, and the price of effect.
pub fn with_ten_rules(problem: Problem) -> Problem {
    let control = Control { node_limit: Some(2_000), ..Control::default() };
    let found = propose(&problem, Method::Auto, &control).expect("the method takes every problem");
    let answer = found.answer.expect("the plain brief has a formula");
    let mut parts = answer.formula.parts.clone();
    parts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let dose = |at: usize| parts[at].1.as_f64();
    let every = |by: usize, rest: usize| -> Arc<[usize]> {
        (0..problem.columns.len()).filter(|material| material % by == rest).collect()
    };
    let sum = |members: &[usize]| -> f64 {
        parts.iter().filter(|(material, _)| members.contains(material)).map(|(_, dose)| dose.as_f64()).sum()
    };
    let [thirds, halves] = [every(3, parts[0].0 % 3), every(2, parts[1].0 % 2)];
    let (strength, price) = (answer.evaluation.strength, answer.evaluation.price_per_kg.unwrap_or(0.0));
    let caps = (0..3).map(|at| (RuleKind::DoseMax(parts[at].0), (0.8 * dose(at)).floor()));
    let rules: Vec<(RuleKind, f64)> = caps
        .chain([
            (RuleKind::DoseMin(parts[3].0), (1.1 * dose(3)).ceil()),
            (RuleKind::GroupMax(thirds.clone()), 0.95 * sum(&thirds)),
            (RuleKind::GroupMin(halves.clone()), 1.05 * sum(&halves).min(900.0)),
            (RuleKind::RatioMax { of: parts[0].0, to: parts[1].0 }, 0.9 * dose(0) / dose(1)),
            (RuleKind::StrengthMin, 0.95 * strength),
            (RuleKind::StrengthMax, 1.05 * strength),
            (RuleKind::PriceOfEffect, 1.05 * price / strength),
        ])
        .collect();
    let mut ruled = problem;
    for (at, (kind, limit)) in rules.into_iter().enumerate() {
        ruled.rules.push(Rule { id: RuleId::Stock(format!("further {at}").into()), kind, place: place(), at: limit });
    }
    ruled
}
