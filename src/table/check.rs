//! What blends inside the rules can reach, as rows.

use super::{Table, cells};
use crate::results::check::CheckReport;

/// One row for each descriptor.
pub fn check(report: &CheckReport) -> Table {
    let mut table = Table::new(["descriptor", "target", "low", "high", "inside", "proven"]);
    for line in &report.ranges {
        table.row(cells![&line.descriptor, line.target, line.low, line.high, line.inside, line.proven]);
    }
    table
}
