//! `check` as rows.

use super::csv::{self, Csv};
use crate::results::check::CheckReport;

/// One row for each descriptor: what blends inside the rules can have of it.
pub fn check(report: &CheckReport) -> String {
    let mut csv = Csv::new(&["descriptor", "target", "low", "high", "inside", "proven"]);
    for line in &report.ranges {
        csv.row(&[
            csv::text(&line.descriptor),
            csv::number(Some(line.target)),
            csv::number(line.low),
            csv::number(line.high),
            line.inside.map(|inside| inside.to_string()).unwrap_or_default(),
            line.proven.to_string(),
        ]);
    }
    csv.finish()
}
