//! From rules to linear rows, before any solver.

pub mod blend;
mod counted;
pub mod doses;
pub mod programme;
mod rows;

pub use blend::{Blend, BlendColumn, BlendCount, BlendRow, CapColumn, LossCap, Role};
pub use doses::DoseProgramme;
