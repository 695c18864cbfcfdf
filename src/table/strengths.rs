//! `strengths` as rows.

use super::csv::{self, Csv};
use crate::results::strengths::StrengthsReport;

/// One row for each material compared.
pub fn strengths(report: &StrengthsReport) -> String {
    let mut table =
        Csv::new(&["material", "before", "before_factor", "after", "factor", "low", "high", "ratio", "tie", "pairs"]);
    for line in &report.materials {
        let figures = [line.before, line.before_factor, line.after, line.factor, line.low, line.high, line.ratio];
        let mut row = vec![csv::text(&line.material)];
        row.extend(figures.map(|figure| csv::number(Some(figure))));
        row.extend([csv::text(line.tie), line.count.to_string()]);
        table.row(&row);
    }
    table.finish()
}
