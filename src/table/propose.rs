//! `propose` as rows.

use super::csv::{self, Csv};
use crate::results::propose::ProposeReport;

/// One row for each material of the formula.
pub fn propose(report: &ProposeReport) -> String {
    let mut csv =
        Csv::new(&["material", "cas", "parts", "neat", "share", "price_share", "poured", "bottle_percent", "brings"]);
    for line in &report.formula.materials {
        let brings: Vec<String> = line
            .brings
            .0
            .iter()
            .map(|(descriptor, points)| format!("{descriptor} {}", crate::number::plain(*points)))
            .collect();
        csv.row(&[
            csv::text(&line.material),
            csv::text(line.cas.as_deref().unwrap_or_default()),
            line.parts.to_string(),
            csv::number(Some(line.neat)),
            csv::number(line.share),
            csv::number(line.price_share),
            csv::number(Some(line.poured)),
            csv::number(Some(line.bottle_percent)),
            csv::text(&brings.join("; ")),
        ]);
    }
    csv.finish()
}
