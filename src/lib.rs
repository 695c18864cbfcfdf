//! Accord exploration and optimisation for perfumers.

pub mod analysis;
pub mod brief;
pub mod cli;
pub mod control;
pub mod escape;
pub mod evaluate;
pub mod files;
pub mod formula;
pub mod limits;
pub mod model;
pub mod number;
pub mod odour;
pub mod palette;
pub mod place;
pub mod problem;
pub mod report;
pub mod solve;
pub mod units;
