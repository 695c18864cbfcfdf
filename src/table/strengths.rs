//! What comparisons say of strengths, as rows.

use super::{Table, cells};
use crate::results::strengths::StrengthsReport;

/// One row for each material compared.
pub fn strengths(report: &StrengthsReport) -> Table {
    let mut table =
        Table::new(["material", "before", "before_factor", "after", "factor", "low", "high", "ratio", "tie", "pairs"]);
    for line in &report.materials {
        table.row(cells![
            &line.material,
            line.before,
            line.before_factor,
            line.after,
            line.factor,
            line.low,
            line.high,
            line.ratio,
            line.tie.word(),
            line.count,
        ]);
    }
    table
}
