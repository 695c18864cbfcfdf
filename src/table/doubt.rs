//! `doubt` as rows.

use super::csv::{self, Csv};
use crate::results::doubt::DoubtReport;

/// The uncertain numbers of every formula with their shares.
pub fn doubt(report: &DoubtReport) -> String {
    let mut table = Csv::new(&[
        "formula",
        "on_paper",
        "mean",
        "p5",
        "p95",
        "material",
        "number",
        "descriptor",
        "at",
        "error",
        "share",
        "share_error",
        "total_share",
    ]);
    for line in &report.formulas {
        let own = [line.on_paper, line.fidelity.mean, line.fidelity.p5, line.fidelity.p95];
        for number in &line.numbers {
            let mut row = vec![csv::text(line.name.as_deref().unwrap_or("proposal"))];
            row.extend(own.map(|figure| csv::number(Some(figure))));
            row.extend([
                csv::text(&number.material),
                csv::text(number.number),
                csv::text(number.descriptor.as_deref().unwrap_or_default()),
            ]);
            let figures = [number.at, number.error, number.share, number.share_error, number.total_share];
            row.extend(figures.map(|figure| csv::number(Some(figure))));
            table.row(&row);
        }
    }
    table.finish()
}
