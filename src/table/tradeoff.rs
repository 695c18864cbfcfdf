//! `tradeoff` as rows.

use super::csv::{self, Csv};
use crate::results::tradeoff::TradeoffReport;

/// One row for each formula of the curve, limits rising, with a column for
/// the dose of every material; then one for each point of the upper limit.
pub fn tradeoff(report: &TradeoffReport) -> String {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in report.points.iter().flat_map(|point| &point.parts.0) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let fixed = ["limit", "fidelity", "loss", "continuous", "proven", "price", "until", "at_most", "kind"];
    let mut csv = Csv::new(&fixed.iter().copied().chain(names.iter().copied()).collect::<Vec<_>>());
    for point in &report.points {
        let mut cells = [Some(point.at), Some(point.fidelity), Some(point.loss)].map(csv::number).to_vec();
        cells.extend([point.continuous, point.proven].map(|word| word.to_string()));
        cells.extend([point.price, point.until, Some(point.at_most)].map(csv::number));
        cells.push(csv::text("formula"));
        let dose = |name: &&str| point.parts.0.iter().find(|(part, _)| part == name).map(|(_, dose)| dose.to_string());
        cells.extend(names.iter().map(|name| dose(name).unwrap_or_else(|| "0".to_owned())));
        csv.row(&cells);
    }
    for upper in &report.upper_limit {
        let mut cells = [Some(upper.at), Some(upper.fidelity)].map(csv::number).to_vec();
        cells.resize(fixed.len() - 1, String::new());
        cells.push(csv::text("upper limit"));
        cells.resize(fixed.len() + names.len(), String::new());
        csv.row(&cells);
    }
    csv.finish()
}
