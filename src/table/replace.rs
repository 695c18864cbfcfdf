//! The formula of `replace` before and after, as rows.

use super::{Table, cells};
use crate::results::replace::ReplaceReport;
use crate::units::Ppt;

/// One row for each material of either formula.
pub fn replace(report: &ReplaceReport) -> Table {
    let mut table =
        Table::new(["material", "cas", "before", "after", "change", "why", "neat", "poured", "bottle_percent"]);
    let after = || report.after.iter().flat_map(|after| &after.formula.materials);
    let gone = report.before.formula.materials.iter();
    let gone = gone.filter(|line| after().all(|other| other.material != line.material));
    for (line, is_gone) in after().map(|line| (line, false)).chain(gone.map(|line| (line, true))) {
        let change = report.changes.iter().find(|change| change.material == line.material);
        let before = change.map_or(line.parts, |change| change.before);
        let after = if is_gone { Ppt::ZERO } else { line.parts };
        table.row(cells![
            &line.material,
            line.cas.as_deref(),
            before,
            after,
            after - before,
            change.map_or("stays", |change| change.why.word()),
            if is_gone { 0.0 } else { line.neat },
            if is_gone { 0.0 } else { line.poured },
            line.bottle_percent,
        ]);
    }
    table
}
