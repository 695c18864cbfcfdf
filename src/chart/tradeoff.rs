//! What can be had for what: fidelity against a price, a strength, a count or
//! a dose, and the materials that enter and leave on the way.

/// What is traded for fidelity.
#[derive(Clone, Debug, PartialEq)]
pub enum Against {
    /// Price of the formula, per kg, in this currency.
    Price(String),
    /// Price of effect: price per kg divided by the strength, in this currency.
    Effect(String),
    /// Number of materials.
    Count,
    /// Strength of the formula.
    Strength,
    /// Dose in ppt of this material.
    Dose(String),
}

/// The best fidelity at one limit.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffPoint {
    /// The limit, in the unit of what is traded.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Dose in ppt of each of `materials`; empty where it is not known.
    pub doses_ppt: Vec<f64>,
}

/// A whole-part formula on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffFormula {
    /// Where it stands, in the unit of what is traded.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Whether it is proven best at its limit.
    pub proven: bool,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffChart {
    /// Title of the brief.
    pub brief: String,
    /// What is traded for fidelity.
    pub against: Against,
    /// Materials that any point uses.
    pub materials: Vec<String>,
    /// The continuous curve, `at` rising. For a count: the counts that can be
    /// met.
    pub points: Vec<TradeoffPoint>,
    /// Whole-part formulas, drawn as dots.
    pub formulas: Vec<TradeoffFormula>,
    /// The user's own limit, if the brief has one.
    pub own: Option<f64>,
    /// Where the return falls off most.
    pub knee: Option<f64>,
    /// What one further point of fidelity costs at the user's own limit, in
    /// the unit of what is traded.
    pub cost_of_a_point: Option<f64>,
}
