//! `leeway` as rows.

use super::csv::{self, Csv};
use crate::results::leeway::LeewayReport;
use crate::units::Ppt;

/// One row for each material that may be used.
pub fn leeway(report: &LeewayReport) -> String {
    let head = ["material", "at", "min", "max", "proven", "role", "without", "fidelity_without", "costs"];
    let mut csv = Csv::new(&head);
    let dose = |dose: Option<Ppt>| dose.map(|dose| dose.to_string()).unwrap_or_default();
    for line in &report.materials {
        csv.row(&[
            csv::text(&line.material),
            line.at.to_string(),
            dose(line.min),
            dose(line.max),
            line.proven.to_string(),
            csv::text(line.role),
            csv::text(line.without.map_or("", |without| without.outcome)),
            csv::number(line.without.and_then(|without| without.fidelity)),
            csv::number(line.without.and_then(|without| without.costs)),
        ]);
    }
    csv.finish()
}
