//! Profiles from a proposal or a comparison.

use super::title;
use crate::chart::profile::{Blend, Part, ProfileChart, Wanted};
use crate::results::compare::CompareReport;
use crate::results::propose::ProposeReport;
use crate::results::stages::NamedStage;
use crate::results::strip::StageLine;
use crate::results::{FormulaReport, ProfileLine};
use crate::text::stages::called;

fn wanted(profile: &[ProfileLine]) -> Vec<Wanted> {
    profile.iter().map(|line| Wanted { descriptor: line.descriptor.clone(), target: line.target }).collect()
}

/// The formula before and after its change.
pub(super) fn beside(before: &FormulaReport, after: &FormulaReport) -> Option<(Vec<Wanted>, Vec<Blend>)> {
    let blends = vec![blend("before".to_owned(), before)?, blend("after".to_owned(), after)?];
    Some((wanted(&after.profile), blends))
}

/// A formula that was judged; none where it has no odour.
fn blend(name: String, report: &FormulaReport) -> Option<Blend> {
    let brings = |brings: &[(String, f64)]| {
        let points = |descriptor: &String| {
            let of_it = brings.iter().filter(|(word, _)| word == descriptor);
            of_it.map(|(_, points)| points).sum()
        };
        report.profile.iter().map(|line| points(&line.descriptor)).collect()
    };
    let part = |line: &crate::results::PartLine| Part {
        material: line.material.clone(),
        dose_ppt: line.parts.as_f64(),
        unusual: line.unusual_mark(),
        brings: brings(&line.brings.0),
    };
    Some(Blend {
        name,
        fidelity_percent: report.fidelity?,
        scores: report.profile.iter().map(|line| line.blend).collect(),
        ranges: report.profile.iter().map(|line| Some((line.low?, line.high?))).collect(),
        parts: report.materials.iter().map(part).collect(),
    })
}

impl ProfileChart {
    /// The profile of a proposal; none where there is no formula.
    pub fn of_proposal(report: &ProposeReport) -> Option<ProfileChart> {
        let blends = vec![blend("the proposal".to_owned(), &report.formula)?];
        Some(ProfileChart { brief: title(&report.head), wanted: wanted(&report.formula.profile), blends, told: None })
    }

    /// The profile of one formula under a name; none where it has no odour.
    pub fn of_formula(brief: &str, name: &str, report: &FormulaReport) -> Option<ProfileChart> {
        let blends = vec![blend(name.to_owned(), report)?];
        Some(ProfileChart { brief: brief.to_owned(), wanted: wanted(&report.profile), blends, told: None })
    }

    /// The profile of what is left of a formula at a stage; none where nothing is.
    pub fn of_stage(brief: &str, stage: &NamedStage) -> Option<ProfileChart> {
        ProfileChart::of_time(brief, called(stage), &stage.line)
    }

    /// The profile of what is left at a time that is called so; none where nothing is.
    pub(super) fn of_time(brief: &str, called: String, line: &StageLine) -> Option<ProfileChart> {
        let profile = &line.profile;
        let wanted = profile.iter().map(|line| Wanted { descriptor: line.descriptor.clone(), target: line.target });
        let brief = format!("{brief}, {called}");
        let blend = Blend {
            name: called,
            fidelity_percent: line.fidelity?,
            scores: profile.iter().map(|line| line.blend).collect(),
            ranges: vec![None; profile.len()],
            parts: Vec::new(),
        };
        Some(ProfileChart { brief, wanted: wanted.collect(), blends: vec![blend], told: None })
    }

    /// The profiles of the formulas that could be judged; none where there is
    /// not one.
    pub fn of_comparison(report: &CompareReport) -> Option<ProfileChart> {
        let judged = || report.formulas.iter().filter(|formula| formula.formula.fidelity.is_some());
        let first = judged().next()?;
        let name = |at: usize, name: &str, file: &str| {
            // Two formulas may have one title.
            let is_double = judged().enumerate().any(|(other, formula)| other != at && formula.name == name);
            if is_double { format!("{name} ({file})") } else { name.to_owned() }
        };
        let blends: Vec<Blend> = judged()
            .enumerate()
            .filter_map(|(at, formula)| blend(name(at, &formula.name, &formula.file), &formula.formula))
            .collect();
        let brief = if blends.len() == 1 { first.name.clone() } else { title(&report.head) };
        Some(ProfileChart { brief, wanted: wanted(&first.formula.profile), blends, told: None })
    }
}
