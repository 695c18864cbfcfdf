//! `push` as rows.

use super::csv::{self, Csv};
use crate::results::push::PushReport;

/// One row for each dose of the curve, those beyond the lowest cap marked,
/// then one for each point of the upper limit.
pub fn push(report: &PushReport) -> String {
    let mut csv = Csv::new(&["dose", "fidelity", "second_opinion", "loss", "price", "kind", "proven", "at_most"]);
    for (points, kind) in [(&report.points, "within"), (&report.beyond, "beyond")] {
        for point in points {
            csv.row(&[
                csv::number(Some(point.dose)),
                csv::number(Some(point.fidelity)),
                csv::number(Some(point.second_opinion)),
                csv::number(Some(point.loss)),
                csv::number(point.price),
                csv::text(kind),
                point.proven.to_string(),
                csv::number(Some(point.at_most)),
            ]);
        }
    }
    for upper in &report.upper_limit {
        let mut cells = [Some(upper.at), Some(upper.fidelity)].map(csv::number).to_vec();
        cells.resize(5, String::new());
        cells.extend([csv::text("upper limit"), String::new(), String::new()]);
        csv.row(&cells);
    }
    csv.finish()
}
