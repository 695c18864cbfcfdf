//! `verify` as rows.

use super::csv::{self, Csv};
use crate::results::verify::VerifyReport;

/// One row: the verdict.
pub fn verify(report: &VerifyReport) -> String {
    let mut csv = Csv::new(&["status", "loss", "fidelity", "bound", "bound_fidelity", "parts_closed", "faults"]);
    csv.row(&[
        csv::text(report.status),
        csv::number(report.loss),
        csv::number(report.fidelity),
        csv::number(report.bound),
        csv::number(report.bound_fidelity),
        report.parts_closed.to_string(),
        csv::text(&report.faults.join("; ")),
    ]);
    csv.finish()
}
