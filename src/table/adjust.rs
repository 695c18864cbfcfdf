//! `adjust` as rows.

use super::csv::{self, Csv};
use crate::results::adjust::AdjustReport;
use crate::units::Ppt;

/// One row for each material of either formula.
pub fn adjust(report: &AdjustReport) -> String {
    let mut csv = Csv::new(&["material", "cas", "before", "after", "change", "poured", "bottle_percent", "grams"]);
    let after = || report.after.iter().flat_map(|after| &after.formula.materials);
    let gone = report.before.formula.materials.iter();
    let gone = gone.filter(|line| after().all(|other| other.material != line.material));
    let dose = |material: &str| {
        let line = report.before.formula.materials.iter().find(|line| line.material == material);
        line.map_or(Ppt::ZERO, |line| line.parts)
    };
    for (line, is_gone) in after().map(|line| (line, false)).chain(gone.map(|line| (line, true))) {
        let before = dose(&line.material);
        let after = if is_gone { Ppt::ZERO } else { line.parts };
        let grams = report.add.iter().flat_map(|add| &add.grams.0).find(|(name, _)| *name == line.material);
        csv.row(&[
            csv::text(&line.material),
            csv::text(line.cas.as_deref().unwrap_or_default()),
            before.to_string(),
            if report.after.is_some() { after.to_string() } else { String::new() },
            if report.after.is_some() { (after - before).to_string() } else { String::new() },
            csv::number(Some(if is_gone { 0.0 } else { line.poured })),
            csv::number(Some(line.bottle_percent)),
            csv::number(report.add.as_ref().map(|_| grams.map_or(0.0, |(_, grams)| *grams))),
        ]);
    }
    csv.finish()
}
