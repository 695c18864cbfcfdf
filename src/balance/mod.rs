//! From a formula to the balance: arithmetic only, in grams.

pub mod least;
pub mod rounding;
