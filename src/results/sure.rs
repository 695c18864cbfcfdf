//! How sure a match is.

use serde::Serialize;

use crate::analysis::doubt::told::{DRAWS, SEED, Told};

/// Where nine draws in ten of a formula's fidelity lie, in percent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RangeLine {
    /// One draw in twenty lies below.
    pub low: f64,
    /// One draw in twenty lies above.
    pub high: f64,
    /// How many draws.
    pub draws: usize,
    /// Which draws.
    pub seed: u64,
}

impl From<&Told> for RangeLine {
    fn from(told: &Told) -> RangeLine {
        RangeLine { low: told.fidelity.p5, high: told.fidelity.p95, draws: DRAWS, seed: SEED }
    }
}
