//! Trials worth weighing next, as rows.

use super::{Cell, Table, cells};
use crate::results::next::NextReport;

/// A row for each part of a mod, and one for each material that is smelled alone or beside another.
pub fn next(report: &NextReport) -> Table {
    let mut table = Table::new([
        "next",
        "kind",
        "fall_percent",
        "minutes",
        "cost",
        "doubt_after",
        "weighings",
        "material",
        "parts",
        "reason",
    ]);
    for (at, line) in report.next.iter().enumerate() {
        let reason = line.about.first().map(|about| format!("{}: {}", about.material, about.what));
        let mut row = |material: Cell, parts: Cell| {
            table.row(cells![
                at + 1,
                line.kind.word(),
                line.fall_percent,
                line.minutes,
                line.cost,
                line.doubt_after,
                line.weighings,
                material,
                parts,
                reason.clone(),
            ]);
        };
        match &line.mod_formula {
            Some(formula) => formula
                .materials
                .iter()
                .for_each(|part| row(Cell::from(&part.material), Cell::from(part.parts.as_f64()))),
            None => {
                for material in line.material.iter().chain(&line.beside) {
                    row(Cell::from(material), Cell::Empty);
                }
            }
        }
    }
    table
}
