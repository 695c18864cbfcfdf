//! The one place that knows a solver.

pub mod search;
