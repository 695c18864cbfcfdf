//! From rules to linear rows, before any solver.

pub mod blend;
mod clocks;
mod counted;
pub mod doses;
mod heard;
pub mod ladder;
mod near;
pub mod programme;
mod role;
mod rows;
mod rungs;
mod view;

pub use blend::{Blend, BlendColumn, BlendCount, BlendRow, BlendView, CapColumn, LossCap};
pub use clocks::{AtClock, ClockBox, Drying};
pub use doses::DoseProgramme;
pub use ladder::Ladder;
pub use role::Role;
