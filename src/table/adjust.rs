//! The formula of `adjust` before and after, as rows.

use super::{Table, cells};
use crate::results::adjust::AdjustReport;
use crate::units::Ppt;

/// One row for each material of either formula.
pub fn adjust(report: &AdjustReport) -> Table {
    let mut table = Table::new(["material", "cas", "before", "after", "change", "poured", "bottle_percent", "grams"]);
    let after = || report.after.iter().flat_map(|after| &after.formula.materials);
    let gone = report.before.formula.materials.iter();
    let gone = gone.filter(|line| after().all(|other| other.material != line.material));
    let dose = |material: &str| {
        let line = report.before.formula.materials.iter().find(|line| line.material == material);
        line.map_or(Ppt::ZERO, |line| line.parts)
    };
    for (line, is_gone) in after().map(|line| (line, false)).chain(gone.map(|line| (line, true))) {
        let before = dose(&line.material);
        let after = report.after.as_ref().map(|_| if is_gone { Ppt::ZERO } else { line.parts });
        let grams = report.add.iter().flat_map(|add| &add.grams.0).find(|(name, _)| *name == line.material);
        table.row(cells![
            &line.material,
            line.cas.as_deref(),
            before,
            after,
            after.map(|after| after - before),
            if is_gone { 0.0 } else { line.poured },
            line.bottle_percent,
            report.add.as_ref().map(|_| grams.map_or(0.0, |(_, grams)| *grams)),
        ]);
    }
    table
}
