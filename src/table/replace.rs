//! `replace` as rows.

use super::csv::{self, Csv};
use crate::results::replace::ReplaceReport;
use crate::units::Ppt;

/// One row for each material of either formula.
pub fn replace(report: &ReplaceReport) -> String {
    let mut csv =
        Csv::new(&["material", "cas", "before", "after", "change", "why", "neat", "poured", "bottle_percent"]);
    let after = report.after.iter().flat_map(|after| &after.formula.materials);
    let gone = report.before.formula.materials.iter().filter(|line| {
        !report.after.iter().flat_map(|after| &after.formula.materials).any(|other| other.material == line.material)
    });
    for (line, is_gone) in after.map(|line| (line, false)).chain(gone.map(|line| (line, true))) {
        let change = report.changes.iter().find(|change| change.material == line.material);
        let before = change.map_or(line.parts, |change| change.before);
        let after = if is_gone { Ppt::ZERO } else { line.parts };
        let number = |value: f64| csv::number(Some(if is_gone { 0.0 } else { value }));
        csv.row(&[
            csv::text(&line.material),
            csv::text(line.cas.as_deref().unwrap_or_default()),
            before.to_string(),
            after.to_string(),
            (after - before).to_string(),
            csv::text(change.map_or("stays", |change| change.why)),
            number(line.neat),
            number(line.poured),
            csv::number(Some(line.bottle_percent)),
        ]);
    }
    csv.finish()
}
