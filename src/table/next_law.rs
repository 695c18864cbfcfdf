//! Trials that tell the laws apart, as rows.

use super::{Cell, Table, cells};
use crate::results::next_law::NextLawReport;

/// A row for each part of each blend.
pub fn next_law(report: &NextLawReport) -> Table {
    let mut table = Table::new(["next", "deviations", "material", "parts", "differs", "linear", "compressive"]);
    for (at, line) in report.next.iter().enumerate() {
        let most = line.differs.first();
        for part in &line.mod_formula.materials {
            table.row(cells![
                at + 1,
                line.deviations,
                Cell::from(&part.material),
                Cell::from(part.parts.as_f64()),
                Cell::from(most.map(|line| line.descriptor.as_str())),
                Cell::from(most.map(|line| line.linear)),
                Cell::from(most.map(|line| line.compressive)),
            ]);
        }
    }
    table
}
