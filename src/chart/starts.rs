//! Starting points to smell side by side.

/// One starting point.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// What it is called: "1", or a blind code.
    pub name: String,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Price per kg.
    pub price_per_kg: Option<f64>,
    /// Odour share in percent of each of its materials, in any order.
    pub shares_percent: Vec<(String, f64)>,
    /// What sets it apart, as a sentence.
    pub apart: String,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct StartsChart {
    /// Title of the brief.
    pub brief: String,
    /// Label of the currency.
    pub currency: String,
    /// The starting points, the nearest to the brief first.
    pub starts: Vec<Start>,
    /// Least difference between two of them, in percent of odour share: half
    /// the sum of absolute differences.
    pub least_difference_percent: Option<f64>,
    /// Points of fidelity that each may lie below the best.
    pub margin_points: f64,
}
