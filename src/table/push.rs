//! A curve along a dose, as rows.

use super::{Cell, Table, cells};
use crate::results::push::PushReport;

/// One row for each dose of the curve, those beyond the lowest cap marked,
/// then one for each point of the upper limit.
pub fn push(report: &PushReport) -> Table {
    let mut table = Table::new(["dose", "fidelity", "second_opinion", "loss", "price", "kind", "proven", "at_most"]);
    for (points, kind) in [(&report.points, "within"), (&report.beyond, "beyond")] {
        for point in points {
            table.row(cells![
                point.dose,
                point.fidelity,
                point.second_opinion,
                point.loss,
                point.price,
                kind,
                point.proven,
                point.at_most,
            ]);
        }
    }
    for upper in &report.upper_limit {
        table.row(cells![upper.at, upper.fidelity, Cell::Empty, Cell::Empty, Cell::Empty, "upper limit"]);
    }
    table
}
