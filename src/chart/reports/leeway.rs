//! The leeway of a formula's doses.

use super::title;
use crate::chart::leeway::{LeewayBar, LeewayChart};
use crate::problem::{DoseDomain, Problem, UsualDoses};
use crate::results::leeway::{LeewayLine, LeewayReport};
use crate::units::Ppt;

/// The bar of a material; none where its range is not known or has no dose.
fn bar(line: &LeewayLine, caps: &[(&str, DoseDomain)], usual: &[(&str, UsualDoses)]) -> Option<LeewayBar> {
    let (min, max) = (line.min?, line.max?);
    let is_cap = |(name, domain): &&(&str, DoseDomain)| {
        *name == line.material && !domain.fixed && domain.most < Ppt::WHOLE && domain.most > Ppt::ZERO
    };
    let cap = caps.iter().find(is_cap);
    let usual = usual.iter().find(|(name, _)| *name == line.material);
    let lives = max > Ppt::LEAST || line.at > Ppt::LEAST;
    lives.then(|| LeewayBar {
        material: line.material.clone(),
        min_ppt: min.as_f64(),
        max_ppt: max.as_f64(),
        at_ppt: line.at.as_f64(),
        cap_ppt: cap.map(|(_, domain)| domain.most.as_f64()),
        usual_ppt: usual.map(|(_, usual)| (usual.least.as_f64(), usual.most.as_f64())),
        loss_without_points: line.without.and_then(|without| without.costs),
    })
}

impl LeewayChart {
    /// The chart of a report, with the caps that the rules set on single
    /// doses; none where there is no formula.
    pub fn of_report(report: &LeewayReport, problem: &Problem) -> Option<LeewayChart> {
        let named = |(at, domain)| (problem.material(at).name.as_str(), domain);
        let caps: Vec<(&str, DoseDomain)> = problem.dose_rules().into_iter().enumerate().map(named).collect();
        let usual = problem.usual_doses();
        let usual: Vec<(&str, UsualDoses)> =
            usual.iter().map(|&(at, doses)| (problem.material(at).name.as_str(), doses)).collect();
        let fidelity_percent = report.proposal.as_ref()?.fidelity?;
        Some(LeewayChart {
            brief: report.name.clone().unwrap_or_else(|| title(&report.head)),
            margin_points: report.margin,
            fidelity_percent,
            bars: report.materials.iter().filter_map(|line| bar(line, &caps, &usual)).collect(),
        })
    }
}
