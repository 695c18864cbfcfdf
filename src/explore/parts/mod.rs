//! What the page shows of a formula: one file for each part.

pub mod blotter;
pub mod compare;
pub mod formula;
pub mod limits;
pub mod profile;
pub mod reasons;
