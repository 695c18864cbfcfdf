//! `learn` as rows.

use super::csv::{self, Csv};
use crate::results::learn::LearnReport;

/// One row for each number that changes.
pub fn learn(report: &LearnReport) -> String {
    let mut table = Csv::new(&["material", "what", "before", "after", "sd", "low_95", "high_95", "sds", "driven_by"]);
    for change in &report.changes {
        let drivers: Vec<&str> = change.driven_by.iter().map(|driver| driver.code.as_str()).collect();
        let mut cells = vec![csv::text(&change.material), csv::text(&change.what)];
        let numbers = [change.before, change.after, change.sd, change.low, change.high, change.sds];
        cells.extend(numbers.map(|number| csv::number(Some(number))));
        cells.push(csv::text(&drivers.join("; ")));
        table.row(&cells);
    }
    table.finish()
}
