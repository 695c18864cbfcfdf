//! The one place that knows a solver.

pub mod backend;
mod quiet;
pub mod ratio;
pub mod search;
