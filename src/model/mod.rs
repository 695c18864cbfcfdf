//! From rules to linear rows, before any solver.

pub mod blend;
pub mod programme;
mod rows;

pub use blend::{Blend, BlendColumn, BlendRow};
