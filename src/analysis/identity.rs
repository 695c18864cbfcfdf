//! Which substance a material is, where its CAS number does not tell the
//! limits: it has none, or an isomer of it is counted and it is not.

use std::collections::BTreeMap;

use crate::files::substances;
use crate::limits::{Allergen, Counts, Restriction};
use crate::palette::{Cas, Material};
use crate::problem::Problem;
use crate::substances::{MatchedBy, Substance};

/// Something that a CAS number does not tell.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubtful {
    /// It has no number, and restrictions count it by its name.
    ByName {
        /// The material.
        subject: Subject,
        /// Indices of the restrictions.
        restrictions: Vec<usize>,
    },
    /// It has no number, its name is known, and limits pass it by.
    MayBe {
        /// The material.
        subject: Subject,
        /// What it may be.
        known: &'static Substance,
        /// Indices of the restrictions that speak of what it may be.
        passed_by: Vec<usize>,
    },
    /// Its number says another substance than its name.
    OtherNumber {
        /// The material.
        subject: Subject,
        /// What its name says.
        by_name: &'static Substance,
        /// What its number says.
        by_number: &'static Substance,
    },
    /// A restriction counts some numbers of a sum, and not this one.
    LeftOut {
        /// Index of the restriction.
        restriction: usize,
        /// The number.
        known: &'static Substance,
        /// The materials that bring it.
        materials: Vec<usize>,
    },
}

/// A material of the palette, or of what one is mixed from.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    /// Index in the palette.
    pub material: usize,
    /// The name of the part, where the material is a base.
    pub part: Option<String>,
}

/// What is doubtful about some materials of a problem.
pub fn doubtful(problem: &Problem, materials: &[usize]) -> Vec<Doubtful> {
    let mut found = Vec::new();
    for &material in materials {
        for (subject, described) in described(problem, material) {
            match (&described.cas, substances().by_name(&described.name)) {
                (None, known) if !described.is_carrier() => {
                    found.extend(without_number(problem, subject, described, known))
                }
                (Some(cas), Some(by_name)) => {
                    let by_number = substances().by_number(cas).filter(|by_number| by_number.sum != by_name.sum);
                    found.extend(by_number.map(|by_number| Doubtful::OtherNumber { subject, by_name, by_number }));
                }
                _ => {}
            }
        }
    }
    found.extend(left_out(problem, materials));
    found
}

/// A material itself, or everything that a base is mixed from.
pub fn described(problem: &Problem, material: usize) -> Vec<(Subject, &Material)> {
    let whole = problem.material(material);
    match &whole.base {
        None => vec![(Subject { material, part: None }, whole)],
        Some(base) => {
            base.parts.iter().map(|(part, _)| (Subject { material, part: Some(part.name.clone()) }, part)).collect()
        }
    }
}

/// A material that a label list counts by its name, or may pass by.
#[derive(Clone, Debug, PartialEq)]
pub struct Unlabelled {
    /// The material.
    pub subject: Subject,
    /// Names on the label under which it counts by its name.
    pub counted_as: Vec<String>,
    /// What it may be, where a list speaks of that and passes it by.
    pub may_be: Option<&'static Substance>,
}

/// The materials of a formula without a CAS number of which label lists speak,
/// by their names.
pub fn label_doubts(problem: &Problem, allergens: &[&Allergen], neat_ppt: &[f64]) -> Vec<Unlabelled> {
    let used = (0..neat_ppt.len()).filter(|&material| neat_ppt[material] > 0.0);
    let parts = used.flat_map(|material| described(problem, material));
    let doubt = |(subject, part): (Subject, &Material)| {
        if part.cas.is_some() || part.is_carrier() {
            return None;
        }
        let counts = |allergen: &&&Allergen| allergen.matched(part).is_some();
        let counted_as: Vec<String> = allergens.iter().filter(counts).map(|allergen| allergen.name.clone()).collect();
        let speaks = |known: &Substance| allergens.iter().any(|allergen| allergen.cas.contains(&known.cas));
        let known = substances().by_name(&part.name).filter(|known| counted_as.is_empty() && speaks(known));
        (known.is_some() || !counted_as.is_empty()).then_some(Unlabelled { subject, counted_as, may_be: known })
    };
    parts.filter_map(doubt).collect()
}

fn without_number(
    problem: &Problem,
    subject: Subject,
    described: &Material,
    known: Option<&'static Substance>,
) -> Vec<Doubtful> {
    let by_name = |restriction: &Restriction| restriction.matched(described) == Some(MatchedBy::Name);
    let all = problem.restrictions.iter().enumerate();
    let (counted, others): (Vec<_>, Vec<_>) = all.partition(|(_, restriction)| by_name(restriction));
    let mut found = Vec::new();
    if let Some(known) = known {
        let speaks =
            |restriction: &Restriction| substances().of_sum(&known.sum).any(|row| restriction.cas.contains(&row.cas));
        let passed_by: Vec<usize> = others.iter().filter(|(_, it)| speaks(it)).map(|(index, _)| *index).collect();
        if counted.is_empty() || !passed_by.is_empty() {
            found.push(Doubtful::MayBe { subject: subject.clone(), known, passed_by });
        }
    }
    if !counted.is_empty() {
        let restrictions = counted.into_iter().map(|(index, _)| index).collect();
        found.push(Doubtful::ByName { subject, restrictions });
    }
    found
}

/// Numbers that some materials bring, and that a restriction does not count
/// though it counts others of the same sum.
fn left_out(problem: &Problem, materials: &[usize]) -> Vec<Doubtful> {
    let mut brought_by: BTreeMap<&Cas, Vec<usize>> = BTreeMap::new();
    for &material in materials {
        for cas in brought(problem, material) {
            let by = brought_by.entry(cas).or_default();
            if by.last() != Some(&material) {
                by.push(material);
            }
        }
    }
    let mut found = Vec::new();
    for (cas, materials) in brought_by {
        let Some(known) = substances().by_number(cas) else { continue };
        let sum: Vec<&Cas> = substances().of_sum(&known.sum).map(|row| &row.cas).collect();
        let passes = |restriction: &Restriction| {
            !restriction.cas.contains(cas) && sum.iter().any(|other| restriction.cas.contains(other))
        };
        let passing = problem.restrictions.iter().enumerate().filter(|(_, restriction)| passes(restriction));
        found.extend(passing.map(|(restriction, _)| Doubtful::LeftOut {
            restriction,
            known,
            materials: materials.clone(),
        }));
    }
    found
}

/// The numbers that a material brings: its own and those of its constituents.
fn brought(problem: &Problem, material: usize) -> Vec<&Cas> {
    let described = described(problem, material).into_iter();
    described
        .flat_map(|(_, part)| {
            let within = part.constituents.iter().flatten().filter(|(_, percent)| *percent > 0.0);
            part.cas.iter().chain(within.map(|(cas, _)| cas))
        })
        .collect()
}

/// The materials of a formula that can burn the skin together with daylight,
/// as far as the shipped table knows.
pub fn phototoxic(problem: &Problem, neat_ppt: &[f64]) -> Vec<usize> {
    let is_phototoxic = |part: &Material| match &part.cas {
        Some(cas) => substances().by_number(cas).is_some_and(|row| row.phototoxic),
        None => substances().by_name(&part.name).is_some_and(|row| row.phototoxic),
    };
    let used = (0..neat_ppt.len()).filter(|&material| neat_ppt[material] > 0.0);
    used.filter(|&material| described(problem, material).iter().any(|(_, part)| is_phototoxic(part))).collect()
}
