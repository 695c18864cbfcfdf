//! Accord exploration and optimisation for perfumers.

pub mod brief;
pub mod control;
pub mod files;
pub mod formula;
pub mod limits;
pub mod model;
pub mod odour;
pub mod palette;
pub mod place;
pub mod solve;
pub mod units;
