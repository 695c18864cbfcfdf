//! What a search is asked and what it answers.

use crate::units::Ppt;

/// What a judge outside the search says of a formula.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// Loss in score points.
    pub loss: f64,
    /// Price per kg, where every material has one.
    pub price_per_kg: Option<f64>,
}

/// Verifies doses of a blend's columns in arithmetic of its own: their loss, or
/// `None` where they break a rule.
pub type Judge<'a> = dyn Fn(&[Ppt]) -> Option<Judged> + Sync + 'a;

/// A formula that passed its check.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Dose of each column of the blend.
    pub doses: Vec<Ppt>,
    /// What the judge said.
    pub judged: Judged,
}

/// What a search came to.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The best formula found.
    pub found: Option<Found>,
    /// No formula inside the rules has a loss below this; infinite when there
    /// is none at all.
    pub bound: f64,
    /// Nodes visited.
    pub nodes: u64,
    /// Simplex iterations.
    pub iterations: u64,
}

/// What is known before a search begins.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// Doses of each column of the blend; they need not keep the rules.
    pub formulas: Vec<Vec<Ppt>>,
    /// No formula inside the rules has a loss below this.
    pub bound: f64,
    /// Formulas with a loss of this or more are of no use.
    pub ceiling: Option<f64>,
}

/// What a search is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// The best formula, with its proof.
    Best,
    /// Any formula, or the proof that there is none.
    Any,
}
