//! What makes a fidelity uncertain, as rows.

use super::{Table, cells};
use crate::results::doubt::DoubtReport;

/// The uncertain numbers of every formula with their shares.
pub fn doubt(report: &DoubtReport) -> Table {
    let mut table = Table::new([
        "formula",
        "on_paper",
        "mean",
        "p5",
        "p95",
        "material",
        "number",
        "descriptor",
        "at",
        "error",
        "share",
        "share_error",
        "total_share",
    ]);
    for line in &report.formulas {
        for number in &line.numbers {
            table.row(cells![
                line.name.as_deref().unwrap_or("proposal"),
                line.on_paper,
                line.fidelity.mean,
                line.fidelity.p5,
                line.fidelity.p95,
                &number.material,
                number.number.word(),
                number.descriptor.as_deref(),
                number.at,
                number.error,
                number.share,
                number.share_error,
                number.total_share,
            ]);
        }
    }
    table
}
