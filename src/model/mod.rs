//! From rules to linear rows, before any solver.

pub mod blend;
pub mod doses;
pub mod programme;
mod rows;

pub use blend::{Blend, BlendColumn, BlendCount, BlendRow};
pub use doses::DoseProgramme;
