//! A finished product as rows.

use super::{Table, cells, numbers};
use crate::results::product::ProductReport;

/// One row for each limit, each category, each name of the label and each
/// thing to mix.
pub fn product(report: &ProductReport) -> Table {
    let mut table = Table::new(["kind", "name", "percent", "limit_percent", "highest_dosage_percent", "grams", "ml"]);
    let mut row = |kind: &str, name: &str, figures: [Option<f64>; 5]| {
        let mut cells = cells![kind, name];
        cells.extend(numbers(figures));
        table.row(cells);
    };
    for line in &report.limits {
        row("limit", &line.substance, [Some(line.use_percent), Some(line.limit_percent), None, None, None]);
    }
    for line in &report.categories {
        row("category", &line.category, [None, None, line.highest_dosage_percent, None, None]);
    }
    for line in &report.without_figure {
        row(&format!("without figure: {}", line.reason.word()), &line.material, [None; 5]);
    }
    for line in &report.label {
        row("label", &line.name, [Some(line.percent), Some(line.above_percent), None, None, None]);
    }
    if let Some(batch) = &report.batch {
        row("mix", "from the vessel", [None, None, None, Some(batch.vessel_grams), None]);
        row("mix", "accord", [None, None, None, Some(batch.accord_grams), None]);
        row("mix", "rest of the concentrate", [None, None, None, Some(batch.rest_grams), None]);
        row("mix", "ethanol", [None, None, None, Some(batch.ethanol_grams), Some(batch.ethanol_ml)]);
        row("mix", "water", [None, None, None, Some(batch.water_grams), Some(batch.water_ml)]);
    }
    table
}
