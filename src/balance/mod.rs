//! From a formula to the balance: arithmetic only, in grams.

pub mod bottle;
pub mod dilution;
pub mod ethanol;
pub mod least;
pub mod overshoot;
pub mod own;
pub mod product;
pub mod record;
pub mod rounding;
pub mod sheet;
pub mod stock;
pub mod total;
pub mod tremble;
pub mod unfold;
pub mod vessel;
