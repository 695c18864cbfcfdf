//! What is said of several noses.

use crate::analysis::noses::Disagreement;
use crate::nose::{Nose, OWN};
use crate::number::{rounded, significant};
use crate::palette::Material;
use crate::problem::Problem;
use crate::sensitivity::Sensitivity;

/// A nose by its name, the palette's own in words.
pub fn nose(name: &str) -> String {
    if name == OWN { "your own".to_owned() } else { format!("\"{name}\"") }
}

/// What two noses disagree on.
pub fn disagreement(problem: &Problem, noses: &[Nose], one: &Disagreement) -> String {
    let material = &problem.material(one.material).name;
    let [low, high] = one.noses.map(|at| nose(&noses[at].name));
    match one.descriptor {
        None if one.at[0] <= 0.0 => {
            format!("{material}: {low} smells nothing of it, {high} has strength {}", strength(one.at[1]))
        }
        None => format!(
            "the strength of {material}: {} for {low}, {} for {high}, {} times as much",
            strength(one.at[0]),
            strength(one.at[1]),
            significant(one.at[1] / one.at[0], 2, 0, 1)
        ),
        Some(at) => format!(
            "how {} {material} is: {} for {low}, {} for {high}",
            problem.palette.descriptors[at].name,
            rounded(one.at[0], 1),
            rounded(one.at[1], 1)
        ),
    }
}

fn strength(value: f64) -> String {
    significant(value, 3, 0, 3)
}

/// That people smell a material differently.
pub fn differently(material: &Material, row: &Sensitivity) -> String {
    let from = if row.is_read { "" } else { "; from memory" };
    format!("{}: {} ({}{from})", material.name, row.differs, row.source)
}
