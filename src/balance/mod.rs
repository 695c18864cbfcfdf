//! From a formula to the balance: arithmetic only, in grams.

pub mod ethanol;
pub mod least;
pub mod product;
pub mod rounding;
