//! A curve along a rule, as rows.

use super::{Cell, Table, cells};
use crate::results::tradeoff::TradeoffReport;
use crate::units::Ppt;

/// One row for each formula of the curve, limits rising, with a column for
/// the dose of every material; then one for each point of the upper limit.
pub fn tradeoff(report: &TradeoffReport) -> Table {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in report.points.iter().flat_map(|point| &point.parts.0) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let fixed = ["limit", "fidelity", "loss", "continuous", "proven", "price", "until", "at_most", "kind"];
    let mut table = Table::new(fixed.into_iter().chain(names.iter().copied()));
    for point in &report.points {
        let mut row = cells![
            point.at,
            point.fidelity,
            point.loss,
            point.continuous,
            point.proven,
            point.price,
            point.until,
            point.at_most,
            "formula",
        ];
        let dose = |name: &&str| point.parts.0.iter().find(|(part, _)| part == name).map_or(Ppt::ZERO, |it| it.1);
        row.extend(names.iter().map(|name| Cell::from(dose(name))));
        table.row(row);
    }
    for upper in &report.upper_limit {
        let mut row = cells![upper.at, upper.fidelity];
        row.resize(fixed.len() - 1, Cell::Empty);
        row.push(Cell::from("upper limit"));
        table.row(row);
    }
    table
}
