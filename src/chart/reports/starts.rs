//! Formulas to smell side by side.

use super::title;
use crate::chart::starts::{Start, StartsChart};
use crate::results::starts::{StartLine, StartsReport};

fn start(line: &StartLine) -> Option<Start> {
    Some(Start {
        name: line.code.clone().unwrap_or_else(|| line.start.to_string()),
        fidelity_percent: line.formula.fidelity?,
        price_per_kg: line.formula.price,
        shares_percent: line.formula.shares.0.clone(),
        apart: line.apart.clone(),
    })
}

impl StartsChart {
    /// The chart of a report; none where there is no formula.
    pub fn of_report(report: &StartsReport) -> Option<StartsChart> {
        let starts: Vec<Start> = report.formulas.iter().filter_map(start).collect();
        (!starts.is_empty()).then(|| StartsChart {
            brief: title(&report.head),
            currency: report.head.currency.clone(),
            least_difference_percent: report.least_distance,
            margin_points: report.margin,
            starts,
        })
    }
}
