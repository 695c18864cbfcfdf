//! Materials whose CAS number does not tell the limits what they are, in words.

use serde::Serialize;

use crate::analysis::identity::{Doubtful, Subject, Unlabelled, doubtful, label_doubts};
use crate::limits::Allergen;
use crate::problem::Problem;
use crate::substances::Substance;

/// Why a CAS number does not tell what a material is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IdentityKind {
    /// It has none, and is matched by its name.
    ByName,
    /// It has none, and may be a substance by its name.
    MayBe,
    /// It has another substance's.
    OtherNumber,
    /// A limit leaves it out, though it counts the others of its sum.
    LeftOut,
}

/// A material whose CAS number does not tell the limits what it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct IdentityLine {
    /// What is so, in words that stay the same: `matched by name`, `may be`,
    /// `other number`, `left out`.
    pub kind: IdentityKind,
    /// The materials that it is about.
    pub materials: Vec<String>,
    /// The number that a material may have, or that is left out; null where
    /// it was matched by its name.
    pub cas: Option<String>,
    /// The restrictions that count it by its name, or that pass it by.
    pub substances: Vec<String>,
    /// The same as a sentence, without a full stop.
    pub sentence: String,
    /// What could be done, likewise.
    #[serde(skip)]
    pub remedy: String,
}

/// What is doubtful about the materials of a formula, given the neat parts per
/// thousand of every palette material. Without limits nothing is.
pub fn identities(problem: &Problem, neat_ppt: &[f64]) -> Vec<IdentityLine> {
    if problem.restrictions.is_empty() {
        return Vec::new();
    }
    let used: Vec<usize> = (0..neat_ppt.len()).filter(|&material| neat_ppt[material] > 0.0).collect();
    doubtful(problem, &used).iter().map(|it| IdentityLine::new(problem, it)).collect()
}

impl IdentityLine {
    /// A doubt in words.
    pub fn new(problem: &Problem, it: &Doubtful) -> IdentityLine {
        let restrictions = |indices: &[usize]| -> Vec<String> {
            let mut names: Vec<String> = Vec::new();
            for &index in indices {
                let name = &problem.restrictions[index].substance;
                if !names.contains(name) {
                    names.push(name.clone());
                }
            }
            names
        };
        let named = |material: usize| problem.material(material).name.clone();
        match it {
            Doubtful::ByName { subject, restrictions: counted } => {
                let substances = restrictions(counted);
                IdentityLine {
                    kind: IdentityKind::ByName,
                    materials: vec![named(subject.material)],
                    cas: None,
                    sentence: format!(
                        "{} has no CAS number and is matched by its name: limits count it as {}",
                        called(problem, subject),
                        substances.join(", ")
                    ),
                    remedy: "write its number (cas) to be sure".to_owned(),
                    substances,
                }
            }
            Doubtful::MayBe { subject, known, passed_by } => IdentityLine {
                kind: IdentityKind::MayBe,
                materials: vec![named(subject.material)],
                cas: Some(known.cas.to_string()),
                sentence: format!(
                    "{} has no CAS number; by its name it may be {}: limits pass it by until the number is written",
                    called(problem, subject),
                    name_and_number(known)
                ),
                remedy: format!("write cas = \"{}\" if that is what it is", known.cas),
                substances: restrictions(passed_by),
            },
            Doubtful::OtherNumber { subject, by_name, by_number } => IdentityLine {
                kind: IdentityKind::OtherNumber,
                materials: vec![named(subject.material)],
                cas: Some(by_name.cas.to_string()),
                sentence: format!(
                    "{} has the CAS number of another substance, {}; by its name it may be {}",
                    called(problem, subject),
                    name_and_number(by_number),
                    name_and_number(by_name)
                ),
                remedy: "look at the bottle: limits and labels go by the number".to_owned(),
                substances: Vec::new(),
            },
            Doubtful::LeftOut { restriction, known, materials } => {
                let materials: Vec<String> = materials.iter().map(|&material| named(material)).collect();
                let substance = problem.restrictions[*restriction].substance.clone();
                IdentityLine {
                    kind: IdentityKind::LeftOut,
                    cas: Some(known.cas.to_string()),
                    sentence: format!(
                        "The limit on {substance} does not count {} ({}), though it counts other numbers of the same \
                         sum, {}",
                        known.cas,
                        materials.join(", "),
                        known.sum
                    ),
                    remedy: "add the number to its cas where the source means it too".to_owned(),
                    materials,
                    substances: vec![substance],
                }
            }
        }
    }
}

fn called(problem: &Problem, subject: &Subject) -> String {
    let name = &problem.material(subject.material).name;
    subject.part.as_ref().map_or_else(|| name.clone(), |part| format!("{part} (in {name})"))
}

/// "Isoeugenol, 97-54-1".
pub fn name_and_number(known: &Substance) -> String {
    format!("{}, {}", known.names.first().unwrap_or(&known.sum), known.cas)
}

/// What a label list says of materials without a number, a sentence each.
pub fn on_the_label(problem: &Problem, allergens: &[&Allergen], neat_ppt: &[f64]) -> Vec<String> {
    let sentence = |it: &Unlabelled| {
        let called = called(problem, &it.subject);
        match it.may_be {
            Some(known) => format!(
                "{called} has no CAS number; by its name it may be {}: the label list passes it by until the number \
                 is written.",
                name_and_number(known)
            ),
            None => format!(
                "{called} has no CAS number and is matched by its name: the label list counts it as {}.",
                it.counted_as.join(", ")
            ),
        }
    };
    label_doubts(problem, allergens, neat_ppt).iter().map(sentence).collect()
}
