//! `compare` as rows.

use super::csv::{self, Csv};
use crate::results::compare::CompareReport;
use crate::results::compare::Compared;
use crate::units::Ppt;

/// One row a formula: its measures, its profile, and the doses of every
/// material that is in any of them.
pub fn compare(report: &CompareReport) -> String {
    let mut head: Vec<String> = [
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
    ]
    .map(str::to_owned)
    .to_vec();
    head.extend(report.target.profile.iter().map(|line| format!("blend:{}", line.descriptor)));
    let mut materials: Vec<&str> = Vec::new();
    let parts = |formula: &Compared| formula.formula.formula.clone().map(|it| it.parts.0).unwrap_or_default();
    let all: Vec<Vec<(String, Ppt)>> = report.formulas.iter().map(parts).collect();
    for (name, _) in all.iter().flatten() {
        if !materials.contains(&name.as_str()) {
            materials.push(name);
        }
    }
    head.extend(materials.iter().map(|name| format!("parts:{name}")));
    let mut csv = Csv::new(&head);
    for (compared, parts) in report.formulas.iter().zip(&all) {
        let it = &compared.formula;
        let broken = compared.broken.iter().flatten().map(|broken| broken.rule.as_str());
        let mut row = vec![
            csv::text(&compared.name),
            csv::text(&compared.file),
            csv::text(compared.status),
            csv::text(it.formula.as_ref().map_or("", |formula| formula.basis)),
            compared.sum.to_string(),
            csv::number(it.fidelity),
            csv::number(compared.give_or_take),
            csv::number(it.loss),
            csv::number(it.second_opinion.map(|second| second.fidelity)),
            csv::number(it.second_opinion.map(|second| second.loss)),
            csv::number(it.price),
            csv::number(it.strength),
            csv::number(it.price_of_effect),
            csv::text(&broken.collect::<Vec<_>>().join("; ")),
        ];
        let blend = |at: usize| csv::number(it.profile.get(at).map(|line| line.blend));
        row.extend((0..report.target.profile.len()).map(blend));
        let dose = |name: &&str| parts.iter().find(|(part, _)| part == name).map_or(Ppt::ZERO, |(_, dose)| *dose);
        row.extend(materials.iter().map(|name| dose(name).to_string()));
        csv.row(&row);
    }
    csv.finish()
}
