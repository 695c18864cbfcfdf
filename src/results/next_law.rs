//! The trials that tell the two laws apart.

use serde::Serialize;

use super::learn::ExponentLearned;
use super::{Care, FormulaReport, Head};
use crate::analysis::law::Separation;
use crate::analysis::learn::Exponent;
use crate::brief::{Basis, Brief};
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::units::Ppt;

/// Descriptors that are named for a trial.
const NAMED: usize = 4;

/// The report of `next --about law`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextLawReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `law`: what the trials are about.
    pub about: &'static str,
    /// The trials' file.
    pub trials: String,
    /// Codes of the trials that were learned from.
    pub used: Vec<String>,
    /// What these say of the exponent; null where they say nothing.
    pub exponent: Option<ExponentLearned>,
    /// The trials, the one that tells most first.
    pub next: Vec<SeparationLine>,
    /// What was checked of the blends; null where there is none.
    pub care: Option<Care>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A blend of a few materials that tells the laws apart.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeparationLine {
    /// How many standard deviations the laws lie apart after this trial and those before
    /// it.
    pub deviations: f64,
    /// What each law expects, where they differ most.
    pub differs: Vec<DifferenceLine>,
    /// The blend.
    pub mod_formula: FormulaReport,
}

/// What the laws expect of one descriptor, in points.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DifferenceLine {
    /// The descriptor.
    pub descriptor: String,
    /// By the linear law.
    pub linear: f64,
    /// By the compressive one.
    pub compressive: f64,
}

impl NextLawReport {
    /// The report of some trials.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        trials: &str,
        used: Vec<String>,
        exponent: Option<Exponent>,
        chosen: &[Separation],
        warnings: Vec<String>,
    ) -> NextLawReport {
        let mut most = vec![0.0_f64; problem.palette.materials.len()];
        for (material, ppt) in chosen.iter().flat_map(|one| &one.parts) {
            most[*material] = most[*material].max(*ppt);
        }
        let line = |one: &Separation| SeparationLine {
            deviations: one.deviations,
            differs: one
                .differs
                .iter()
                .take(NAMED)
                .map(|&(descriptor, linear, compressive)| DifferenceLine {
                    descriptor: problem.palette.descriptors[descriptor].name.clone(),
                    linear,
                    compressive,
                })
                .collect(),
            mod_formula: blend(problem, one),
        };
        NextLawReport {
            head: Head::new("next", problem, brief),
            about: "law",
            trials: trials.to_owned(),
            used,
            exponent: exponent.map(ExponentLearned::new),
            next: chosen.iter().map(line).collect(),
            care: (!chosen.is_empty()).then(|| Care::new(problem, &most)),
            warnings,
        }
    }
}

/// The blend of a trial, in neat parts.
fn blend(problem: &Problem, one: &Separation) -> FormulaReport {
    let mut doses = vec![Ppt::ZERO; problem.palette.materials.len()];
    one.parts.iter().for_each(|&(material, ppt)| doses[material] = Ppt::from_ppt(ppt));
    let formula = Formula::from_doses(Basis::Neat, &doses);
    let evaluation = evaluate(problem, &formula).ok();
    FormulaReport::new(problem, &formula, evaluation.as_ref())
}
