//! From rules to linear rows, before any solver.

pub mod blend;
mod counted;
pub mod doses;
mod near;
pub mod programme;
mod role;
mod rows;

pub use blend::{Blend, BlendColumn, BlendCount, BlendRow, CapColumn, LossCap};
pub use doses::DoseProgramme;
pub use role::Role;
