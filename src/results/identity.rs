//! Materials whose CAS number does not tell the limits what they are.

use serde::Serialize;

use crate::analysis::identity::{Doubtful, doubtful};
use crate::problem::Problem;
use crate::sentences;
use crate::sentences::identity::restricted;

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
    /// A material that its number does not tell the limits.
    pub fn new(problem: &Problem, it: &Doubtful) -> IdentityLine {
        let named = |material: usize| problem.material(material).name.clone();
        let (kind, materials, cas, substances) = match it {
            Doubtful::ByName { subject, restrictions } => {
                (IdentityKind::ByName, vec![named(subject.material)], None, restricted(problem, restrictions))
            }
            Doubtful::MayBe { subject, known, passed_by } => {
                (IdentityKind::MayBe, vec![named(subject.material)], Some(&known.cas), restricted(problem, passed_by))
            }
            Doubtful::OtherNumber { subject, by_name, .. } => {
                (IdentityKind::OtherNumber, vec![named(subject.material)], Some(&by_name.cas), Vec::new())
            }
            Doubtful::LeftOut { restriction, known, materials } => (
                IdentityKind::LeftOut,
                materials.iter().map(|&material| named(material)).collect(),
                Some(&known.cas),
                restricted(problem, &[*restriction]),
            ),
        };
        let (sentence, remedy) = sentences::identity::doubtful(problem, it);
        IdentityLine { kind, materials, cas: cas.map(ToString::to_string), substances, sentence, remedy }
    }
}
