//! How far a strong material can go: fidelity against its dose.

/// The best fidelity with the dose forced.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PushPoint {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// Fidelity in percent; none where no blend can have this dose.
    pub fidelity_percent: Option<f64>,
    /// Fidelity in percent by the second opinion.
    pub second_percent: Option<f64>,
}

/// A cap on the dose.
#[derive(Clone, Debug, PartialEq)]
pub struct PushCap {
    /// The dose in ppt.
    pub dose_ppt: f64,
    /// Its reason in a few words: "own cap", "restriction, Fine fragrance".
    pub reason: String,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct PushChart {
    /// Title of the brief.
    pub brief: String,
    /// The material.
    pub material: String,
    /// Points with rising dose, from nothing to beyond the cap.
    pub points: Vec<PushPoint>,
    /// Every cap; the lowest ends what the rules allow.
    pub caps: Vec<PushCap>,
    /// Dose in ppt and fidelity in percent of the best.
    pub best: Option<(f64, f64)>,
    /// Dose in ppt and fidelity in percent of the best by the second opinion.
    pub best_second: Option<(f64, f64)>,
    /// Doses in ppt between which fidelity is within `margin_points` of the best.
    pub window_ppt: Option<(f64, f64)>,
    /// Points that the window gives away.
    pub margin_points: f64,
    /// The dose in ppt from which on it is no better than without any.
    pub gain_gone_ppt: Option<f64>,
    /// Fidelity in percent without any.
    pub without_percent: Option<f64>,
}
