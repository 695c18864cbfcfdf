//! How sure formulas are.

use super::title;
use crate::chart::doubt::{DoubtChart, DoubtPart, DoubtRow};
use crate::results::doubt::{DoubtLine, DoubtReport};
use crate::results::states::WhichNumber;

impl DoubtChart {
    /// The chart of a report; none where there is no formula.
    pub fn of_report(report: &DoubtReport) -> Option<DoubtChart> {
        let first = report.formulas.first()?;
        let row = |line: &DoubtLine| {
            let at = |percent: usize| line.percentiles.get(percent - 1).copied().unwrap_or(line.on_paper);
            DoubtRow {
                name: line.name.clone().unwrap_or_else(|| "the proposal".to_owned()),
                on_paper_percent: line.on_paper,
                mean_percent: line.fidelity.mean,
                nine_in_ten_percent: (line.fidelity.p5, line.fidelity.p95),
                half_percent: (at(25), at(75)),
            }
        };
        let part = |line: &crate::results::doubt::MaterialShare| {
            let strength =
                first.numbers.iter().find(|it| it.material == line.material && it.number == WhichNumber::Strength);
            DoubtPart {
                material: line.material.clone(),
                share_percent: line.share.max(0.0),
                by_strength_percent: strength.map_or(0.0, |it| it.share).clamp(0.0, line.share.max(0.0)),
            }
        };
        Some(DoubtChart {
            brief: title(&report.head),
            draws: report.draws,
            rows: report.formulas.iter().map(row).collect(),
            nearer_percent: report.nearer.first().filter(|_| report.formulas.len() == 2).map(|line| line.chance),
            parts: first.by_material.iter().map(part).collect(),
        })
    }
}
