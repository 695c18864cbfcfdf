//! The report of `compare`.
use serde::Serialize;
/// Formulas beside the target.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CompareReport {}
