//! A shelf looked at by itself: one question, one file.

pub mod map;
pub mod missing;
pub mod ranking;
pub mod twins;

use crate::palette::Material;

/// Each score as a part of all of a material's scores, adding up to 1; `None`
/// for what has no scores.
pub fn character(material: &Material) -> Option<Vec<f64>> {
    let sum: f64 = material.scores.iter().sum();
    (sum > 0.0).then(|| material.scores.iter().map(|score| score / sum).collect())
}

/// Price per kg for a unit of strength; `None` without a price and for
/// carriers.
pub fn price_of_effect(material: &Material) -> Option<f64> {
    material.price_per_kg.filter(|_| !material.is_carrier()).map(|price| price / material.strength)
}
