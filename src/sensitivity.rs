//! What is known to be smelled differently from person to person.

use crate::palette::{Cas, Material};

/// Substances to which people differ, in the order of the table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sensitivities {
    /// The rows; no two have a number in common.
    pub rows: Vec<Sensitivity>,
}

/// One substance to which people differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sensitivity {
    /// Its numbers, isomers among them; at least one.
    pub cas: Vec<Cas>,
    /// What it is called.
    pub name: String,
    /// In what people differ.
    pub differs: String,
    /// Where that was published.
    pub source: String,
    /// Whether the source was read; else the row is from memory.
    pub is_read: bool,
}

impl Sensitivities {
    /// The row of a material, by its CAS number.
    pub fn of(&self, material: &Material) -> Option<&Sensitivity> {
        let cas = material.cas.as_ref()?;
        self.rows.iter().find(|row| row.cas.contains(cas))
    }
}
