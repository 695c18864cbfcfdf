//! What `learn` changes, as rows.

use super::{Table, cells};
use crate::portable::Portable;
use crate::results::learn::LearnReport;

/// One row for each number that changes.
pub fn learn(report: &LearnReport) -> Table {
    let mut table = Table::new(["material", "what", "before", "after", "sd", "low_95", "high_95", "sds", "driven_by"]);
    for change in &report.changes {
        let drivers: Vec<&str> = change.driven_by.iter().map(|driver| driver.code.as_str()).collect();
        table.row(cells![
            &change.material,
            &change.what,
            change.before,
            change.after,
            change.sd,
            change.low,
            change.high,
            change.sds,
            drivers.join("; "),
        ]);
    }
    for line in &report.lasting {
        table.row(cells![
            &line.material,
            "lasting",
            line.before,
            line.after,
            line.factor.logarithm(),
            line.low,
            line.high,
            line.sds,
            "",
        ]);
    }
    table
}
