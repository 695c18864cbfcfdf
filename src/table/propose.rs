//! The formula of a proposal, as rows.

use super::usual::{usual_cells, usual_head};
use super::{Table, cells};
use crate::number::plain;
use crate::results::propose::ProposeReport;

/// One row for each material of the formula.
pub fn propose(report: &ProposeReport) -> Table {
    let head = ["material", "cas", "parts", "neat", "share", "price_share", "poured", "bottle_percent", "brings"];
    let mut table = Table::new(head.into_iter().chain(usual_head(&report.formula)));
    for line in &report.formula.materials {
        let brought = |(descriptor, points): &(String, f64)| format!("{descriptor} {}", plain(*points));
        let brings: Vec<String> = line.brings.0.iter().map(brought).collect();
        let mut row = cells![
            &line.material,
            line.cas.as_deref(),
            line.parts,
            line.neat,
            line.share,
            line.price_share,
            line.poured,
            line.bottle_percent,
            brings.join("; "),
        ];
        row.extend(usual_cells(line));
        table.row(row);
    }
    table
}
