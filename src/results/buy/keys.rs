//! The lines of the report of `buy`.

use serde::Serialize;

use crate::results::{FormulaParts, FormulaReport, Offered, PurchaseReport};
use crate::solve::Status;

/// The best formula with what is on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ShelfAlone {
    /// `optimal`, `feasible`, `infeasible` or `unknown`.
    pub status: Status,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// Fidelity in percent that no formula from the shelf can pass.
    pub bound_fidelity: Option<f64>,
}

/// What one or two materials would bring if they stood on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Candidate {
    /// The material, or the two of the best pair.
    pub materials: Vec<String>,
    /// `optimal`: the best formula that can be had with it, proven; `feasible`:
    /// the best found in time; `infeasible`: there is still no formula;
    /// `unknown`: nothing better was found in time.
    pub status: Status,
    /// Fidelity in percent less that of the shelf alone; null where there is
    /// no formula to compare.
    pub gain: Option<f64>,
    /// The most that it could be; null where there is no formula to compare.
    pub most_gain: Option<f64>,
    /// Percent of the draws of scores and strengths in which its formula is nearer
    /// the target than that of the shelf; null where that one stands.
    pub nearer_in_percent: Option<f64>,
    /// Of the best two, the same beside the best formula with one more material.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nearer_than_single_in_percent: Option<f64>,
    /// Whether neither is nearer in enough of them to speak of it.
    pub within_doubt: Option<bool>,
    /// The formula, null where it is that of the shelf; its numbers.
    #[serde(flatten)]
    pub formula: Offered,
    /// What a first batch needs of it.
    pub purchase: Option<PurchaseReport>,
}

/// What several candidates at once could bring at the most.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BestWith {
    /// `optimal`, `feasible`, `infeasible` or `unknown`, as of a candidate.
    pub status: Status,
    /// Those that the best formula uses; empty where fewer do as well.
    pub materials: Vec<String>,
    /// That formula; null where fewer do as well.
    pub formula: Option<FormulaParts>,
    /// The best fidelity that was found with any of them, in percent.
    pub fidelity: Option<f64>,
    /// The same less that of the shelf alone.
    pub gain: Option<f64>,
    /// Fidelity in percent that no formula with them can pass.
    pub bound_fidelity: Option<f64>,
}

/// A material that would be of no use to this brief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// The material.
    pub material: String,
    /// Why, without a full stop.
    pub why: String,
}

impl Candidate {
    /// Whether it is a pair.
    pub fn is_pair(&self) -> bool {
        self.materials.len() > 1
    }

    /// Whether a formula with it beats the shelf alone, or is the first there
    /// is.
    pub fn adds(&self) -> bool {
        self.formula.formula.is_some()
    }

    /// Whether no more can be had with it than was found.
    pub fn is_proven(&self) -> bool {
        self.status == Status::Optimal
    }
}
