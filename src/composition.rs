//! A published composition: what an analysis found in a natural, part by part.
//! Its parts need not be on the shelf.

use std::sync::Arc;

use crate::palette::{Cas, Palette};
use crate::place::Place;

/// What something is made of, as somebody published it.
#[derive(Clone, Debug, PartialEq)]
pub struct Composition {
    /// The file it was read from.
    pub file: Arc<str>,
    /// Its title.
    pub title: Option<String>,
    /// Where it was published.
    pub source: Option<String>,
    /// Percent by mass that nobody identified, from 0, below 100.
    pub unknown_percent: f64,
    /// The parts, in the order of the file; at least one.
    pub parts: Vec<Component>,
}

/// A part of a composition.
#[derive(Clone, Debug, PartialEq)]
pub struct Component {
    /// What it is called there.
    pub name: String,
    /// Where it stands.
    pub place: Place,
    /// Its CAS number.
    pub cas: Option<Cas>,
    /// Percent by mass of the whole, what is unknown included; above 0.
    pub percent: f64,
    /// Its strength per part by dilution, on the palette's scale, where the
    /// composition says so.
    pub strength: Option<f64>,
    /// The material of the palette that it is (index), `None` where the shelf
    /// has none or no palette is known.
    pub material: Option<usize>,
}

impl Composition {
    /// Percent by mass of the parts together: what is identified.
    pub fn known_percent(&self) -> f64 {
        self.parts.iter().map(|part| part.percent).sum()
    }

    /// Percent by mass of every material of a palette; parts that the palette
    /// lacks are left out.
    pub fn percent_by_material(&self, palette: &Palette) -> Vec<f64> {
        let mut percent = vec![0.0; palette.materials.len()];
        for part in &self.parts {
            if let Some(material) = part.material {
                percent[material] += part.percent;
            }
        }
        percent
    }

    /// The parts that no material of the palette is.
    pub fn lacking(&self) -> impl Iterator<Item = &Component> {
        self.parts.iter().filter(|part| part.material.is_none())
    }
}
