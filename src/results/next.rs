//! The trials worth weighing next.

use serde::Serialize;

use super::states::LessonKind;
use super::{Care, FormulaReport, Head, ReasonsReport};
use crate::analysis::learn::Kind;
use crate::analysis::next::{About, Candidate, DROP_GRAMS, Effort, Lesson, Next, Per};
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
    /// For what they are to teach most: `minute`, `cost` or `trial`.
    pub per: Per,
    /// What weighing and smelling take.
    pub effort: EffortLine,
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

/// What weighing and smelling are taken to take.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EffortLine {
    /// Minutes for weighing one material.
    pub weighing_minutes: f64,
    /// Minutes for smelling once.
    pub smelling_minutes: f64,
    /// Minutes for each of the two rows of dilutions of a match.
    pub dilution_minutes: f64,
    /// Mass of a mod in grams.
    pub batch_grams: f64,
    /// What a dip takes of a material, in grams.
    pub drop_grams: f64,
    /// Whether all of that is assumed, and nothing of it was said.
    pub is_assumed: bool,
}

/// A trial worth weighing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LessonLine {
    /// `mod`; `single`: one material alone, which costs a dip and no weighing; or `match`: two
    /// materials, diluted until they smell equally strong.
    pub kind: LessonKind,
    /// The material of a single, the first one of a match.
    pub material: Option<String>,
    /// The other material of a match.
    pub beside: Option<String>,
    /// Percent of the usual bottle of a single: it can be smelled as it stands.
    pub bottle_percent: Option<f64>,
    /// Materials to weigh.
    pub weighings: usize,
    /// Minutes that it takes.
    pub minutes: f64,
    /// What the materials cost, in the palette's currency; null where a price is missing.
    pub cost: Option<f64>,
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
    /// For what trials are to teach most.
    pub per: Per,
    /// What weighing and smelling take.
    pub effort: Effort,
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
            Candidate::Single(_) | Candidate::Match(..) => None,
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
            per: looked.per,
            effort: EffortLine::new(&looked.effort),
            next: lessons.iter().map(|lesson| line(problem, looked, lesson)).collect(),
            care,
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}

impl EffortLine {
    fn new(effort: &Effort) -> EffortLine {
        EffortLine {
            weighing_minutes: effort.weighing_minutes,
            smelling_minutes: effort.smelling_minutes,
            dilution_minutes: effort.dilution_minutes,
            batch_grams: effort.batch_grams,
            drop_grams: DROP_GRAMS,
            is_assumed: *effort == Effort::default(),
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
    let named = |material: usize| problem.material(material).name.clone();
    let (kind, material, beside, answer) = match lesson.candidate {
        Candidate::Mod(at) => (LessonKind::Mod, None, None, looked.formulas.get(at)),
        Candidate::Single(material) => (LessonKind::Single, Some(material), None, None),
        Candidate::Match(one, other) => (LessonKind::Match, Some(one), Some(other), None),
    };
    let bottle = |material: usize| 100.0 * problem.material(material).usual_fraction();
    LessonLine {
        kind,
        material: material.map(named),
        beside: beside.map(named),
        bottle_percent: material.filter(|_| kind == LessonKind::Single).map(bottle),
        weighings: answer.map_or(0, |answer| answer.formula.parts.len()),
        minutes: lesson.takes.minutes,
        cost: lesson.takes.cost,
        fall_percent: lesson.fall_percent,
        doubt_after: lesson.deviation_after,
        about: lesson.about.iter().map(about).collect(),
        mod_formula: answer.map(|answer| FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation))),
    }
}
