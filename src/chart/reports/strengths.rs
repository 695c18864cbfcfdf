//! Strengths from matches.

use crate::analysis::strengths::ties::Tie;
use crate::chart::strengths::{StrengthRow, StrengthsChart};
use crate::results::strengths::StrengthsReport;

impl StrengthsChart {
    /// The chart of a report.
    pub fn of_report(report: &StrengthsReport) -> StrengthsChart {
        let row = |line: &crate::results::strengths::StrengthLine| StrengthRow {
            material: line.material.clone(),
            before: line.before,
            before_range: line.before_range(),
            after: line.after,
            range: (line.low, line.high),
            held: line.held,
            tied: line.tie != Tie::None,
        };
        StrengthsChart {
            shelf: report.name.clone().unwrap_or_else(|| report.palette.clone()),
            reference: report.reference.clone(),
            pairs: report.pairs.len(),
            contradictions: report.pairs.iter().filter(|pair| pair.contradicts).count(),
            rows: report.materials.iter().map(row).collect(),
        }
    }
}
