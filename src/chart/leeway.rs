//! How much room every dose has: bars from lowest to highest.

/// The room of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct LeewayBar {
    /// The material.
    pub material: String,
    /// The lowest dose in ppt within the margin.
    pub min_ppt: f64,
    /// The highest dose in ppt within the margin.
    pub max_ppt: f64,
    /// The proposal's dose in ppt, 0 where it has none.
    pub at_ppt: f64,
    /// The cap on its dose in ppt, if there is one below 1000.
    pub cap_ppt: Option<f64>,
    /// Points of fidelity lost when it is left out; none where the rules do
    /// not allow that, or where it is not known.
    pub loss_without_points: Option<f64>,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct LeewayChart {
    /// Title of the brief.
    pub brief: String,
    /// Points of fidelity that may be given away.
    pub margin_points: f64,
    /// Fidelity in percent of the proposal.
    pub fidelity_percent: f64,
    /// The materials; those that can have no dose but 0 are left out.
    pub bars: Vec<LeewayBar>,
}
