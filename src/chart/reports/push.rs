//! How far one material can go.

use super::title;
use crate::chart::push::{PushCap, PushChart, PushPoint};
use crate::results::push::{BestDose, CapLine, PushPoint as Line, PushReport};
use crate::results::states::CapReason;

impl PushChart {
    /// The chart of a report, what lies beyond the lowest cap included; none
    /// where there is no blend.
    pub fn of_report(report: &PushReport) -> Option<PushChart> {
        let point = |line: &Line| PushPoint {
            dose_ppt: line.dose,
            fidelity_percent: Some(line.fidelity),
            second_percent: Some(line.second_opinion),
            proven: line.proven,
        };
        let cap = |cap: &CapLine| PushCap { dose_ppt: cap.dose, reason: reason(cap) };
        let pair = |best: BestDose| (best.dose, best.fidelity);
        (!report.points.is_empty()).then(|| PushChart {
            brief: title(&report.head),
            material: report.material.clone(),
            points: report.points.iter().chain(&report.beyond).map(point).collect(),
            is_continuous: report.continuous,
            upper_limit: report.upper_limit.iter().map(|upper| (upper.at, upper.fidelity)).collect(),
            caps: report.caps.iter().map(cap).collect(),
            best: report.best.map(pair),
            best_second: report.best_second.map(pair),
            window_ppt: report.window.map(|[low, high]| (low, high)),
            margin_points: report.margin,
            gain_gone_ppt: report.gain_gone,
            without_percent: report.without.map(|without| without.fidelity),
        })
    }
}

/// The reason of a cap in so few words that it fits beside a line.
fn reason(cap: &CapLine) -> String {
    let what = match (&cap.substance, cap.reason) {
        (Some(substance), _) => substance.as_str(),
        (_, CapReason::Own) => "your cap",
        (_, CapReason::Palette) => "the palette's cap",
        (_, CapReason::Concentrate) => "advised in the concentrate",
        (_, CapReason::Product) => "advised in the product",
        (_, CapReason::Joint) => "joint limit",
        (_, CapReason::Stock) => "stock",
        (_, CapReason::Restriction) => &cap.words,
    };
    match &cap.product {
        Some(product) => format!("{what}, {product}"),
        None => what.to_owned(),
    }
}
