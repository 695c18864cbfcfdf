//! Starting points as rows.

use super::{Table, cells};
use crate::results::starts::StartsReport;

/// One row for each part of each formula.
pub fn starts(report: &StartsReport) -> Table {
    let mut table =
        Table::new(["start", "code", "material", "cas", "parts", "neat", "poured", "bottle_percent", "share"]);
    for line in &report.formulas {
        for part in &line.formula.materials {
            table.row(cells![
                // Who smells without knowing is not told the number either.
                if line.code.is_some() { None } else { Some(line.start) },
                line.code.as_deref(),
                &part.material,
                part.cas.as_deref(),
                part.parts,
                part.neat,
                part.poured,
                part.bottle_percent,
                part.share,
            ]);
        }
    }
    table
}
