//! Formulas side by side, as rows.

use super::{Cell, Table, cells, numbers};
use crate::results::compare::{CompareReport, Compared};
use crate::units::Ppt;

/// One row a formula: its measures, its profile, and the doses of every
/// material that is in any of them.
pub fn compare(report: &CompareReport) -> Table {
    let fixed = [
        "name",
        "file",
        "status",
        "basis",
        "sum",
        "fidelity",
        "give_or_take",
        "loss",
        "second_fidelity",
        "second_loss",
        "price",
        "strength",
        "price_of_effect",
        "broken",
    ];
    let mut materials: Vec<&str> = Vec::new();
    for (name, _) in report.formulas.iter().flat_map(parts) {
        if !materials.contains(&name.as_str()) {
            materials.push(name);
        }
    }
    let blends = report.target.profile.iter().map(|line| format!("blend:{}", line.descriptor));
    let doses = materials.iter().map(|name| format!("parts:{name}"));
    let mut table = Table::new(fixed.map(str::to_owned).into_iter().chain(blends).chain(doses));
    for compared in &report.formulas {
        let it = &compared.formula;
        let broken: Vec<String> = compared.broken.iter().flatten().map(|broken| broken.rule.to_string()).collect();
        let mut row = cells![
            &compared.name,
            &compared.file,
            compared.status.word(),
            it.formula.as_ref().map(|formula| formula.basis.word()),
            compared.sum,
            it.fidelity,
            compared.give_or_take,
            it.loss,
            it.second_opinion.map(|second| second.fidelity),
            it.second_opinion.map(|second| second.loss),
            it.price,
            it.strength,
            it.price_of_effect,
            broken.join("; "),
        ];
        row.extend(numbers((0..report.target.profile.len()).map(|at| it.profile.get(at).map(|line| line.blend))));
        let dose = |name: &&str| parts(compared).iter().find(|(part, _)| part == name).map_or(Ppt::ZERO, |it| it.1);
        row.extend(materials.iter().map(|name| Cell::from(dose(name))));
        table.row(row);
    }
    table
}

/// The doses of a formula; none where it has no parts.
fn parts(compared: &Compared) -> &[(String, Ppt)] {
    compared.formula.formula.as_ref().map_or(&[], |formula| &formula.parts.0)
}
