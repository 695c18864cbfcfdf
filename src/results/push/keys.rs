//! What the report of `push` holds.

use serde::Serialize;

use crate::brief::Basis;
use crate::problem::RuleId;
use crate::results::states::CapReason;
use crate::results::{Care, FormulaReport, Head, Ordered, ReasonsReport};
use crate::solve::Status;
use crate::units::Ppt;

/// How far one material can go.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PushReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal` (all of it proven), `feasible`, `infeasible` or `unknown`.
    pub status: Status,
    /// The material.
    pub material: String,
    /// What the brief says against it and is set aside here; null where it
    /// says nothing.
    pub let_in: Option<String>,
    /// `neat` or `bottle`: what doses count.
    pub basis: Basis,
    /// Points of fidelity that the window gives away.
    pub margin: f64,
    /// Exponent of the second opinion.
    pub exponent: f64,
    /// Whether the brief allows any doses: between two points the best then
    /// changes little by little.
    pub continuous: bool,
    /// The best formulas that keep every rule, doses rising.
    pub points: Vec<PushPoint>,
    /// What could be had over any doses and with any number of materials, doses
    /// rising: no formula lies above it. Empty where the brief allows any doses.
    pub upper_limit: Vec<UpperDose>,
    /// The same beyond the lowest cap, the caps giving way as far as the dose
    /// needs: to see, not to mix.
    pub beyond: Vec<PushPoint>,
    /// The dose of the best formula within all rules.
    pub best: Option<BestDose>,
    /// The formula with that dose.
    pub best_blend: Option<FormulaReport>,
    /// The dose of the curve with the best second opinion.
    pub best_second: Option<BestDose>,
    /// The least and the greatest dose of a formula within the margin of the best.
    pub window: Option<[f64; 2]>,
    /// Whether each of the two is certain.
    pub window_proven: [bool; 2],
    /// The dose from which on it is no better than without any; null where
    /// that lies beyond the curve, or there is no gain.
    pub gain_gone: Option<f64>,
    /// Whether that lies beyond a cap.
    pub gain_gone_beyond_cap: bool,
    /// The best without any; null where no blend does without.
    pub without: Option<WithoutAny>,
    /// What gives way below the window.
    pub low_end: Option<EndLine>,
    /// What gives way above it.
    pub high_end: Option<EndLine>,
    /// Every cap on the dose, the lowest first.
    pub caps: Vec<CapLine>,
    /// The points in full, where many were asked for.
    pub formulas: Vec<DoseFormula>,
    /// Doses of the grid with which no formula keeps the brief: proven.
    pub without_formula: Vec<f64>,
    /// Doses of the grid of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// How far the best fidelity may be off, in points: one standard deviation
    /// over the draws of scores and strengths.
    pub doubt: Option<f64>,
    /// Whether there was time for all of it.
    pub complete: bool,
    /// What was checked of the blends within the rules; null where there is
    /// none.
    pub care: Option<Care>,
    /// Why there is no blend, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The best blend with one dose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PushPoint {
    /// Dose in ppt.
    pub dose: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Fidelity of the same blend in percent by the second opinion.
    pub second_opinion: f64,
    /// Loss in score points.
    pub loss: f64,
    /// Whether it is proven best.
    pub proven: bool,
    /// No formula has a higher fidelity with this dose, in percent.
    pub at_most: f64,
    /// Price per kg.
    pub price: Option<f64>,
    /// Dose in ppt of each part, the largest first.
    pub parts: Ordered<Ppt>,
}

/// What could be had with one dose over any doses of the others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UpperDose {
    /// The dose in ppt.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
}

/// A dose and what it comes to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BestDose {
    /// Dose in ppt.
    pub dose: f64,
    /// Fidelity in percent, by the opinion that is spoken of.
    pub fidelity: f64,
}

/// The best without any of the material.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WithoutAny {
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Points that leaving it out costs.
    pub costs: f64,
    /// Percent of the draws of scores and strengths in which it is nearer the
    /// target than the best.
    pub nearer_in_percent: Option<f64>,
}

/// What gives way at an end of the window.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EndLine {
    /// Dose in ppt.
    pub dose: f64,
    /// Fidelity in percent there.
    pub fidelity: f64,
    /// The descriptor whose gap grows most from the best dose to here; null
    /// where none does.
    pub descriptor: Option<String>,
    /// What the blend has of it less what the target wants, in points.
    pub gap: Option<f64>,
    /// What that gap adds to the loss, in points.
    pub adds: Option<f64>,
    /// Rules that hold the blend here and do not hold the best one.
    pub rules: Vec<RuleLine>,
    /// Whether the dose can go no further inside the rules.
    pub wall: bool,
}

/// A rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RuleLine {
    /// Its id.
    pub rule: RuleId,
    /// The file it was written in.
    pub file: String,
    /// The line; null where no line says it.
    pub line: Option<usize>,
    /// The rule as a sentence without a full stop.
    pub sentence: String,
}

/// A cap on the dose.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CapLine {
    /// Dose in ppt.
    pub dose: f64,
    /// `own`, `palette`, `concentrate`, `product`, `restriction`, `joint` or
    /// `stock`.
    pub reason: CapReason,
    /// The reason in words.
    pub words: String,
    /// What is restricted; null for other reasons.
    pub substance: Option<String>,
    /// The rule's id; null for stock.
    pub rule: Option<RuleId>,
    /// Name of the finished product, if the cap is of one that has a name.
    #[serde(rename = "use")]
    pub product: Option<String>,
    /// The file it is written in.
    pub file: Option<String>,
    /// The line.
    pub line: Option<usize>,
    /// Whether the figure was checked in its source; null for other reasons.
    pub verified: Option<bool>,
}

/// The best formula with one dose, in the brief's own doses.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoseFormula {
    /// Dose in ppt.
    pub dose: f64,
    /// `optimal` or `feasible`.
    pub status: Status,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
}
