//! `starts` as rows.

use super::csv::{self, Csv};
use crate::results::starts::StartsReport;

/// One row for each part of each formula.
pub fn starts(report: &StartsReport) -> String {
    let head = ["start", "code", "material", "cas", "parts", "neat", "poured", "bottle_percent", "share"];
    let mut csv = Csv::new(&head);
    for line in &report.formulas {
        // Who smells without knowing is not told the number either.
        let number = if line.code.is_some() { String::new() } else { line.start.to_string() };
        for part in &line.formula.materials {
            csv.row(&[
                number.clone(),
                line.code.clone().unwrap_or_default(),
                csv::text(&part.material),
                csv::text(part.cas.as_deref().unwrap_or_default()),
                part.parts.to_string(),
                csv::number(Some(part.neat)),
                csv::number(Some(part.poured)),
                csv::number(Some(part.bottle_percent)),
                csv::number(part.share),
            ]);
        }
    }
    csv.finish()
}
