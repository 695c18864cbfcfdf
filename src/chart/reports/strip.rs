//! How a formula dries.

use crate::chart::drying::{DryingBand, DryingChart, DryingMark};
use crate::results::strip::StripReport;

impl DryingChart {
    /// The chart of a report.
    pub fn of_report(report: &StripReport) -> DryingChart {
        let band = |(at, line): (usize, &crate::results::strip::DryingLine)| DryingBand {
            material: line.material.clone(),
            shares_percent: report.course.iter().map(|point| point.shares[at]).collect(),
        };
        let smells = |band: &DryingBand| band.shares_percent.iter().any(|share| *share > 0.0);
        DryingChart {
            formula: report.name.clone(),
            minutes: report.course.iter().map(|point| point.minutes).collect(),
            bands: report.materials.iter().enumerate().map(band).filter(smells).collect(),
            marks: report
                .stages
                .iter()
                .map(|stage| DryingMark {
                    minutes: stage.minutes,
                    fidelity_percent: stage.fidelity,
                    kept_percent: stage.kept,
                })
                .collect(),
        }
    }
}
