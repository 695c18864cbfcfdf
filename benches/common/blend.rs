//! The seeded instances as whole-part problems.

use std::sync::Arc;

use permil::brief::{Basis, Brief, Match, TargetEntry};
use permil::palette::{Descriptor, Material, Palette};
use permil::place::{Place, Placed};
use permil::problem::Problem;
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
        scores,
        score_error: None,
        price_per_kg: Some(instance.prices_per_kg[index]),
        min: None,
        max: Some(placed(Ppt::from_ppt(max))),
        max_in_concentrate_percent: None,
        max_in_product_percent: None,
        step: None,
        tags: Vec::new(),
        note: None,
        lasting_hours: None,
        natural: false,
        constituents: None,
        bottles: Vec::new(),
        packs: Vec::new(),
        stock_grams: None,
        have: true,
        handling: None,
        remarks: None,
    }
}

/// A whole-part problem from an instance.
pub fn problem(instance: &Instance, rules: Rules) -> Problem {
    let palette = Palette {
        file: Arc::from("generated"),
        name: None,
        currency: "EUR".to_owned(),
        scale: 10.0,
        descriptors: (0..instance.descriptors)
            .map(|index| Descriptor { name: format!("descriptor-{index}"), meaning: String::new() })
            .collect(),
        materials: (0..instance.strengths.len()).map(|index| material(instance, index, rules.max)).collect(),
        remarks: None,
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
        file: Arc::from("generated"),
        title: None,
        matching: rules.matching,
        target_from: None,
        target: target.collect(),
        basis: Basis::Neat,
        step: Some(placed(Ppt::from_ppt(rules.step))),
        min_dose: Some(placed(Ppt::from_ppt(rules.min_dose))),
        max_materials: Some(placed(rules.max_materials)),
        off_note_weight: 1.0,
        strength_min: None,
        strength_max: None,
        only: None,
        own_only: None,
        max_price: Some(placed(rules.budget * instance.blend_price_per_kg)),
        max_price_of_effect: None,
        uses: Vec::new(),
        doses: Vec::new(),
        groups: Vec::new(),
        ratios: Vec::new(),
    };
    Problem::new(palette, &brief, &[])
}
