//! A verdict on a certificate, as a row.

use super::{Table, cells};
use crate::results::verify::VerifyReport;

/// One row: the verdict.
pub fn verify(report: &VerifyReport) -> Table {
    let mut table = Table::new(["status", "loss", "fidelity", "bound", "bound_fidelity", "parts_closed", "faults"]);
    table.row(cells![
        report.status.word(),
        report.loss,
        report.fidelity,
        report.bound,
        report.bound_fidelity,
        report.parts_closed,
        report.faults.join("; "),
    ]);
    table
}
