//! What the report of `tradeoff` holds.

use serde::Serialize;

use crate::results::states::Traded;
use crate::results::{Care, FormulaReport, Head, Ordered, ReasonsReport};
use crate::solve::Status;
use crate::units::Ppt;

/// What a limit buys, along its whole range.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TradeoffReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal` (all of it proven), `feasible`, `infeasible` (no formula keeps
    /// the other rules, or none in the brief's own doses) or `unknown`.
    pub status: Status,
    /// `price`, `effect`, `strength`, `count` or `dose`.
    pub against: Traded,
    /// The material whose dose it is; null unless `dose`.
    pub material: Option<String>,
    /// What the rules keep out though it is let in here, in a sentence; null
    /// where that is so of nothing.
    pub let_in: Option<String>,
    /// What the limit counts.
    pub unit: String,
    /// The best formulas that keep every rule, limits rising: each holds from its
    /// own limit to that of the next.
    pub points: Vec<PointLine>,
    /// The same formulas in full; some of them where the brief allows any doses.
    pub formulas: Vec<LimitFormula>,
    /// What could be had over any doses and with any number of materials, limits
    /// rising: no formula lies above it. Empty where the brief allows any doses,
    /// and against a count.
    pub upper_limit: Vec<UpperLine>,
    /// Limits that no formula keeps: proven.
    pub without_formula: Vec<f64>,
    /// Limits of which there was no time to find out.
    pub not_computed: Vec<f64>,
    /// Where the curve begins, ends and is best.
    pub ends: Option<Ends>,
    /// Where the return falls off most; null where it does not.
    pub knee: Option<Knee>,
    /// What the brief's own limit means; null where it has none.
    pub own: Option<OwnLine>,
    /// The formula at the brief's own limit, else the best.
    pub blend: Option<FormulaReport>,
    /// Every material of the curve: where it enters and leaves.
    pub materials: Vec<PassingLine>,
    /// How far a fidelity may be off, in points: one standard deviation over the
    /// draws of scores and strengths, of the
    /// formula at the brief's own limit, else of the best blend.
    pub doubt: Option<f64>,
    /// Whether there was time for all of it.
    pub complete: bool,
    /// What was checked of these blends; null where there is none.
    pub care: Option<Care>,
    /// Why there is no blend, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
    /// Whether the text shows the upper limit.
    #[serde(skip)]
    pub shows_upper_limit: bool,
}

/// A limit under the name of what is traded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Named {
    /// Price per kg, at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_limit: Option<f64>,
    /// Price of effect, at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub effect_limit: Option<f64>,
    /// Strength, at least.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strength_limit: Option<f64>,
    /// Number of materials, at most.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u64>,
    /// Dose in ppt, exactly.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dose: Option<f64>,
}

/// The best at one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PointLine {
    /// The limit by its name.
    #[serde(flatten)]
    pub limit: Named,
    /// The limit, whatever it is of.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Loss in score points.
    pub loss: f64,
    /// Whether the brief allows any doses: between two points the best then
    /// changes little by little, not in steps.
    pub continuous: bool,
    /// Whether it is proven best.
    pub proven: bool,
    /// The limit as far as which it is the best that is known, in the loosening
    /// direction; null where no limit at all brings more.
    pub until: Option<f64>,
    /// No formula has a higher fidelity with this limit, in percent.
    pub at_most: f64,
    /// Price per kg.
    pub price: Option<f64>,
    /// Dose in ppt of each part, the largest first.
    pub parts: Ordered<Ppt>,
}

/// What could be had at one limit over any doses.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UpperLine {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
}

/// The best formula at one limit.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitFormula {
    /// The limit by its name.
    #[serde(flatten)]
    pub limit: Named,
    /// The limit, whatever it is of.
    pub at: f64,
    /// `optimal` or `feasible`.
    pub status: Status,
    /// Percent of the draws of scores and strengths in which it is nearer the
    /// target than the formula at the brief's own limit;
    /// null for that one, and where there is none.
    pub nearer_in_percent: Option<f64>,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
}

/// Both ends of a curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ends {
    /// The first limit.
    pub from: f64,
    /// Fidelity in percent there.
    pub fidelity_from: f64,
    /// The last limit.
    pub to: f64,
    /// Fidelity in percent there.
    pub fidelity_to: f64,
    /// The limit of the best, the first where several are equal.
    pub best_at: f64,
    /// Its fidelity in percent.
    pub best: f64,
    /// Whether both ends are certain: nothing tighter can be kept, and nothing
    /// looser brings more.
    pub proven: bool,
}

/// Where the return falls off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Knee {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent there.
    pub fidelity: f64,
    /// Points of fidelity for each unit on the way there, on average.
    pub return_before: f64,
    /// Points of fidelity for each unit from there on, on average.
    pub return_after: f64,
}

/// What the brief's own limit means.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OwnLine {
    /// The limit.
    pub at: f64,
    /// Fidelity in percent there; null where no blend keeps it.
    pub fidelity: Option<f64>,
    /// How far the limit must give for one point more; null where so much is
    /// not to be had.
    pub point_more_costs: Option<f64>,
    /// How far it may be tightened for one point less.
    pub point_less_saves: Option<f64>,
    /// Points of fidelity for a unit more of the limit.
    pub slope_up: Option<f64>,
    /// Points of fidelity that a unit less takes.
    pub slope_down: Option<f64>,
    /// Points of fidelity that are to be had beyond it.
    pub to_gain: Option<f64>,
}

/// Where one material is present along the curve.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassingLine {
    /// The material.
    pub material: String,
    /// Its greatest dose on the curve in ppt.
    pub most: f64,
    /// The limit at which it has that.
    pub most_at: f64,
    /// Stretches in which it is present.
    pub present: Vec<StretchLine>,
}

/// A stretch of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StretchLine {
    /// The limit at which it enters; null where it is there from the start.
    pub enters: Option<f64>,
    /// The limit at which it leaves; null where it stays to the end.
    pub leaves: Option<f64>,
}
