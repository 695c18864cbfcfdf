//! Accord exploration and optimisation for perfumers.

pub mod brief;
pub mod control;
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
