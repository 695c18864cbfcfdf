//! `next` as rows.

use super::csv::{self, Csv};
use crate::results::next::NextReport;

/// A row for each part of a mod, and one for each single material.
pub fn next(report: &NextReport) -> String {
    let mut table =
        Csv::new(&["next", "kind", "fall_percent", "doubt_after", "weighings", "material", "parts", "reason"]);
    for (at, line) in report.next.iter().enumerate() {
        let reason = line.about.first().map_or(String::new(), |about| format!("{}: {}", about.material, about.what));
        let mut row = |material: &str, parts: Option<f64>| {
            table.row(&[
                (at + 1).to_string(),
                line.kind.to_owned(),
                csv::number(Some(line.fall_percent)),
                csv::number(Some(line.doubt_after)),
                line.weighings.to_string(),
                csv::text(material),
                csv::number(parts),
                csv::text(&reason),
            ]);
        };
        match &line.mod_formula {
            Some(formula) => formula.materials.iter().for_each(|part| row(&part.material, Some(part.parts.as_f64()))),
            None => row(line.material.as_deref().unwrap_or_default(), None),
        }
    }
    table.finish()
}
