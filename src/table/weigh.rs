//! `weigh` as rows.

use super::csv::{self, Csv};
use crate::results::weigh::WeighReport;
use crate::results::weigh::{AddLine, WayOut};

/// One row for each thing to pour, in the order of weighing; the carrier
/// that fills up comes last.
pub fn weigh(report: &WeighReport) -> String {
    let head = [
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
    ];
    let mut csv = Csv::new(&head);
    let ways = report.overshoot.as_ref();
    let added = |way: Option<&WayOut>, material: &str| {
        let line = way.and_then(|way| way.lines.iter().find(|line| line.material == material));
        csv::number(line.map(|line| line.add_grams))
    };
    for line in &report.lines {
        csv.row(&[
            csv::text(&line.material),
            csv::text(line.cas.as_deref().unwrap_or_default()),
            csv::number(Some(line.bottle_percent)),
            csv::text(line.bottle_carrier.as_deref().unwrap_or_default()),
            csv::number(Some(line.grams)),
            csv::number(Some(line.reading)),
            csv::number(Some(line.exact_grams)),
            csv::number(Some(line.error_percent)),
            line.below_least.to_string(),
            line.parts.to_string(),
            csv::number(Some(line.parts_weighed)),
            csv::number(line.remedy.as_ref().map(|remedy| remedy.percent)),
            csv::number(line.stock_missing),
            csv::text(line.handling.as_deref().unwrap_or_default()),
            added(ways.and_then(|ways| ways.larger.as_ref()), &line.material),
            added(ways.and_then(|ways| ways.same.as_ref()), &line.material),
        ]);
    }
    // What a way out brings in that is not on the sheet.
    let is_new = |line: &&AddLine| report.lines.iter().all(|own| own.material != line.material);
    for line in ways.and_then(|ways| ways.same.as_ref()).iter().flat_map(|way| &way.lines).filter(is_new) {
        let mut row = vec![String::new(); head.len()];
        row[0] = csv::text(&line.material);
        row[2] = csv::number(Some(line.bottle_percent));
        row[head.len() - 1] = csv::number(Some(line.add_grams));
        csv.row(&row);
    }
    if let Some(top) = report.top_up.as_ref().filter(|top| top.left_grams > 0.0) {
        let mut row = vec![String::new(); head.len()];
        row[0] = csv::text(top.carrier.as_deref().unwrap_or("a carrier"));
        row[2] = "100".to_owned();
        row[4] = csv::number(Some(top.left_grams));
        row[5] = csv::number(Some(top.reading));
        csv.row(&row);
    }
    csv.finish()
}
