//! What a shelf does not say, and what hangs on a single material.

use crate::palette::{Material, Palette};

/// Something that a palette may leave out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lack {
    /// A price.
    Price,
    /// A CAS number.
    Cas,
    /// Any score; of materials that are no carriers.
    Scores,
    /// What a natural contains.
    Constituents,
}

impl Lack {
    /// All of them.
    pub const ALL: [Lack; 4] = [Lack::Price, Lack::Cas, Lack::Scores, Lack::Constituents];

    fn lacks(self, material: &Material) -> bool {
        match self {
            Lack::Price => material.price_per_kg.is_none(),
            // A blend, of nature or by a formula, may have none.
            Lack::Cas => material.cas.is_none() && !material.natural && material.base.is_none(),
            Lack::Scores => !material.is_carrier() && material.scores.iter().all(|score| *score == 0.0),
            Lack::Constituents => material.natural && material.constituents.is_none(),
        }
    }

    /// The materials that lack it.
    pub fn of(self, palette: &Palette) -> Vec<usize> {
        (0..palette.materials.len()).filter(|&at| self.lacks(&palette.materials[at])).collect()
    }
}

/// The materials that carry a descriptor with their scores, the highest score
/// first.
pub fn carriers_of(palette: &Palette, descriptor: usize) -> Vec<(usize, f64)> {
    let scores = palette.materials.iter().map(|material| material.scores[descriptor]).enumerate();
    let mut found: Vec<(usize, f64)> = scores.filter(|(_, score)| *score > 0.0).collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    found
}
