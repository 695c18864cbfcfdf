//! Starting points as rows.

use super::usual::{usual_cells, usual_head};
use super::{Table, cells};
use crate::results::starts::StartsReport;

/// One row for each part of each formula.
pub fn starts(report: &StartsReport) -> Table {
    let head = ["start", "code", "material", "cas", "parts", "neat", "poured", "bottle_percent", "share"];
    let usual = report.formulas.first().map(|line| usual_head(&line.formula)).unwrap_or_default();
    let mut table = Table::new(head.into_iter().chain(usual));
    for line in &report.formulas {
        for part in &line.formula.materials {
            let mut row = cells![
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
            ];
            row.extend(usual_cells(part));
            table.row(row);
        }
    }
    table
}
