//! The sheet to weigh from, as rows.

use super::{Cell, Table, cells};
use crate::results::weigh::{AddLine, WayOut, WeighReport};

/// One row for each thing to pour, in the order of weighing; the carrier
/// that fills up comes last.
pub fn weigh(report: &WeighReport) -> Table {
    let mut table = Table::new([
        "material",
        "cas",
        "bottle_percent",
        "bottle_carrier",
        "grams",
        "reading",
        "exact_grams",
        "error_percent",
        "below_least",
        "parts",
        "parts_weighed",
        "remedy_percent",
        "stock_missing",
        "handling",
        "add_in_larger_batch",
        "add_in_same_batch",
    ]);
    let ways = report.overshoot.as_ref();
    let added = |way: Option<&WayOut>, material: &str| {
        let line = way.and_then(|way| way.lines.iter().find(|line| line.material == material));
        line.map(|line| line.add_grams)
    };
    for line in &report.lines {
        table.row(cells![
            &line.material,
            line.cas.as_deref(),
            line.bottle_percent,
            line.bottle_carrier.as_deref(),
            line.grams,
            line.reading,
            line.exact_grams,
            line.error_percent,
            line.below_least,
            line.parts,
            line.parts_weighed,
            line.remedy.as_ref().map(|remedy| remedy.percent),
            line.stock_missing,
            line.handling.as_deref(),
            added(ways.and_then(|ways| ways.larger.as_ref()), &line.material),
            added(ways.and_then(|ways| ways.same.as_ref()), &line.material),
        ]);
    }
    // What a way out brings in that is not on the sheet.
    let is_new = |line: &&AddLine| report.lines.iter().all(|own| own.material != line.material);
    for line in ways.and_then(|ways| ways.same.as_ref()).iter().flat_map(|way| &way.lines).filter(is_new) {
        let mut row = cells![&line.material, Cell::Empty, line.bottle_percent];
        row.resize(table.head.len() - 1, Cell::Empty);
        row.push(Cell::from(line.add_grams));
        table.row(row);
    }
    if let Some(top) = report.top_up.as_ref().filter(|top| top.left_grams > 0.0) {
        let carrier = top.carrier.as_deref().unwrap_or("a carrier");
        table.row(cells![carrier, Cell::Empty, 100.0, Cell::Empty, top.left_grams, top.reading]);
    }
    table
}
