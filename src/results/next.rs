//! The trials worth weighing next.

use serde::Serialize;

use super::states::LessonKind;
use super::{Care, FormulaReport, Head, ReasonsReport};
use crate::analysis::learn::Kind;
use crate::analysis::next::{About, Candidate, Lesson, Next};
use crate::analysis::repair::Reasons;
use crate::brief::Brief;
use crate::problem::Problem;
use crate::solve::{Answer, Status};

/// The report of `next`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// The trials' file.
    pub trials: String,
    /// Of the best formula: `optimal`, `feasible`, `infeasible` or `unknown`.
    pub status: Status,
    /// Points of fidelity that a mod may lie below the best.
    pub margin: f64,
    /// Seed of the random directions.
    pub seed: u64,
    /// Codes of the trials that were learned from.
    pub used: Vec<String>,
    /// One standard deviation of the best formula's fidelity now, in points;
    /// null where there is no formula.
    pub doubt: Option<f64>,
    /// The trials, the most worth first.
    pub next: Vec<LessonLine>,
    /// What was checked of the formulas; null where none is among them.
    pub care: Option<Care>,
    /// Why there is no formula, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A trial worth weighing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LessonLine {
    /// `mod` or `single`: one material alone, which costs a dip and no weighing.
    pub kind: LessonKind,
    /// The material of a single.
    pub material: Option<String>,
    /// Percent of the usual bottle of a single: it can be smelled as it stands.
    pub bottle_percent: Option<f64>,
    /// Materials to weigh.
    pub weighings: usize,
    /// By how much what is unsure about the match falls, in percent of its
    /// variance now, on average over the formulas near the best.
    pub fall_percent: f64,
    /// One standard deviation of the best formula's fidelity after this trial
    /// and those before it, in points.
    pub doubt_after: f64,
    /// What it is about, the most first.
    pub about: Vec<AboutLine>,
    /// The formula of a mod.
    pub mod_formula: Option<FormulaReport>,
}

/// What a trial is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AboutLine {
    /// The material.
    pub material: String,
    /// `strength`, or the descriptor.
    pub what: String,
    /// Its part of what is unsure about the match before this trial, in percent.
    pub part_percent: f64,
    /// How much of that this trial takes away, in percent.
    pub taken_percent: f64,
}

/// What was looked at.
pub struct Looked<'a> {
    /// The trials' file.
    pub trials: &'a str,
    /// Codes of the trials that were learned from.
    pub used: Vec<String>,
    /// State of the best formula.
    pub status: Status,
    /// Points that a mod may lie below it.
    pub margin: f64,
    /// Seed of the random directions.
    pub seed: u64,
    /// The formulas near the best.
    pub formulas: &'a [Answer],
}

impl NextReport {
    /// The report; without a formula it says why there is none.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        looked: &Looked,
        next: Option<&Next>,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> NextReport {
        let lessons: Vec<&Lesson> = next.iter().flat_map(|next| &next.lessons).collect();
        let mods = lessons.iter().filter_map(|lesson| match lesson.candidate {
            Candidate::Mod(at) => looked.formulas.get(at),
            Candidate::Single(_) => None,
        });
        let care = super::most::most_neat(problem, mods).map(|neat| Care::new(problem, &neat));
        NextReport {
            head: Head::new("next", problem, brief),
            trials: looked.trials.to_owned(),
            status: looked.status,
            margin: looked.margin,
            seed: looked.seed,
            used: looked.used.clone(),
            doubt: next.map(|next| next.deviation),
            next: lessons.iter().map(|lesson| line(problem, looked, lesson)).collect(),
            care,
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}

fn line(problem: &Problem, looked: &Looked, lesson: &Lesson) -> LessonLine {
    let about = |about: &About| {
        let (material, what) = match about.kind {
            Kind::Strength { material } => (material, "strength".to_owned()),
            Kind::Lasting { material } => (material, "lasting".to_owned()),
            Kind::Score { material, descriptor } => (material, problem.palette.descriptors[descriptor].name.clone()),
        };
        AboutLine {
            material: problem.material(material).name.clone(),
            what,
            part_percent: about.part_percent,
            taken_percent: about.taken_percent,
        }
    };
    let (material, answer) = match lesson.candidate {
        Candidate::Mod(at) => (None, looked.formulas.get(at)),
        Candidate::Single(material) => (Some(problem.material(material)), None),
    };
    LessonLine {
        kind: if material.is_some() { LessonKind::Single } else { LessonKind::Mod },
        material: material.map(|material| material.name.clone()),
        bottle_percent: material.map(|material| 100.0 * material.usual_fraction()),
        weighings: answer.map_or(0, |answer| answer.formula.parts.len()),
        fall_percent: lesson.fall_percent,
        doubt_after: lesson.deviation_after,
        about: lesson.about.iter().map(about).collect(),
        mod_formula: answer.map(|answer| FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation))),
    }
}
