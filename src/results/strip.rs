//! The report of `strip`.

use serde::Serialize;

use super::course::Course;
use super::parts::name_of;
use super::{Head, Ordered, RangeLine};
use crate::analysis::doubt::told::SEED;
use crate::analysis::strip::{Dried, Moment};
use crate::brief::Brief;
use crate::formula::Formula;
use crate::problem::Problem;
use crate::sentences::blotter;
use crate::tenacity::{Blotter, Source};

/// A formula as it dries on a blotter.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StripReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// The formula's title, or its file where it has none.
    pub name: String,
    /// Its file.
    pub file: Option<String>,
    /// Percent of the accord in what the blotter is dipped in.
    pub percent: f64,
    /// The same of what it was dipped in when tenacities were noted.
    pub lasting_percent: f64,
    /// g/m2 of the film that tenacities from vapour pressures go by; null where there is
    /// none of these.
    pub film_weight: Option<f64>,
    /// Hours until the film is gone; null where a material never goes.
    pub life_hours: Option<f64>,
    /// The materials, those first that are gone first.
    pub materials: Vec<DryingLine>,
    /// The times, in order.
    pub stages: Vec<TimeLine>,
    /// What it is from the first time to the last, or until the film is gone.
    #[serde(flatten)]
    pub course: Course,
    /// What the figures leave out, and what in them is assumed.
    pub notes: Vec<String>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// How long one material lasts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DryingLine {
    /// The material.
    pub material: String,
    /// Neat ppt of the formula.
    pub neat: f64,
    /// Hours until it is gone alone.
    pub lasting: f64,
    /// What that rests on: `palette`, `vapour pressure`, `its note` or `the shelf`.
    pub lasting_from: &'static str,
    /// One standard deviation of that, as a factor.
    pub lasting_factor: f64,
    /// Molar mass in g/mol.
    pub molar_mass: f64,
    /// Whether that is written in the palette.
    pub molar_mass_known: bool,
    /// Hours until less than a hundredth of it is left in this formula; null where that
    /// is never.
    pub gone_hours: Option<f64>,
}

/// The formula at one time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StageLine {
    /// Minutes after dipping.
    pub minutes: f64,
    /// The film's clock, in g/mol times hours; null when the film is gone.
    pub clock: Option<f64>,
    /// Percent of the film's mass that is left.
    pub film_left: f64,
    /// Strength of what is left.
    pub strength: f64,
    /// The same, in percent of the formula's at the moment of dipping.
    pub kept: f64,
    /// Fidelity in percent; null where nothing is left that counts.
    pub fidelity: Option<f64>,
    /// Where nine draws in ten of it lie, of scores, strengths and tenacities; null where
    /// in most of them nothing is left. `draws` are those in which something is.
    pub range: Option<RangeLine>,
    /// Loss in score points.
    pub loss: Option<f64>,
    /// Every descriptor that counts.
    pub profile: Vec<StageProfileLine>,
    /// Odour share in percent of each material, the largest first.
    pub shares: Ordered<f64>,
    /// Percent of each material that is left, in the order of `materials`.
    pub left: Ordered<f64>,
}

/// The formula at a time that was asked about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TimeLine {
    /// The brief's stage at this time; left out where it has none then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The formula at it.
    #[serde(flatten)]
    pub line: StageLine,
}

/// A descriptor of what is left beside what is wanted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StageProfileLine {
    /// The word.
    pub descriptor: String,
    /// Wanted, in points.
    pub target: f64,
    /// What is left has this.
    pub blend: f64,
}

/// A number that JSON has.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

impl StripReport {
    /// The report of a formula that dries.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        formula: &Formula,
        blotter: &Blotter,
        dried: &Dried,
        warnings: Vec<String>,
    ) -> StripReport {
        let neat = problem.neat_ppt(formula);
        let mut order: Vec<usize> = (0..dried.materials.len()).collect();
        order.sort_by(|&a, &b| dried.gone_hours[a].total_cmp(&dried.gone_hours[b]));
        let line = |&at: &usize| {
            let (material, tenacity) = (dried.materials[at], &dried.tenacities[at]);
            DryingLine {
                material: problem.material(material).name.clone(),
                neat: neat[material],
                lasting: tenacity.hours,
                lasting_from: from(tenacity.source),
                lasting_factor: tenacity.factor,
                molar_mass: tenacity.molar_mass,
                molar_mass_known: tenacity.is_molar_mass_known,
                gone_hours: finite(dried.gone_hours[at]),
            }
        };
        let materials: Vec<DryingLine> = order.iter().map(line).collect();
        let time = |moment: &Moment| TimeLine {
            name: problem.stage_at(moment.hours).map(|stage| problem.stage_name(stage).to_owned()),
            line: StageLine::new(problem, dried, &order, moment, &neat),
        };
        let stages = dried.moments.iter().map(time).collect();
        let assumed: Vec<&str> = (order.iter())
            .filter(|&&at| dried.tenacities[at].is_assumed())
            .map(|&at| problem.material(dried.materials[at]).name.as_str())
            .collect();
        StripReport {
            head: Head::new("strip", problem, brief),
            name: name_of(formula),
            file: formula.file.as_deref().map(str::to_owned),
            percent: blotter.percent,
            lasting_percent: blotter.lasting_percent,
            film_weight: dried.film_weight,
            life_hours: finite(dried.film.life_hours()),
            materials,
            stages,
            course: Course::new(problem, formula, dried, &order),
            notes: blotter::notes(&assumed),
            warnings,
        }
    }
}

/// The word for what a tenacity rests on.
fn from(source: Source) -> &'static str {
    match source {
        Source::Written => "palette",
        Source::Pressure => "vapour pressure",
        Source::Note(_) => "its note",
        Source::Shelf => "the shelf",
    }
}

impl StageLine {
    /// Hours after dipping.
    pub fn hours(&self) -> f64 {
        self.minutes / 60.0
    }

    /// A formula that dries, of its neat ppt, at one of its times, with the materials in this
    /// order.
    pub(super) fn new(problem: &Problem, dried: &Dried, order: &[usize], moment: &Moment, neat: &[f64]) -> StageLine {
        let evaluation = moment.evaluation.as_ref();
        let (strength, whole) =
            (dried.strength_at(problem, neat, &moment.left), dried.strength_at_start(problem, neat));
        let name = |at: usize| problem.material(dried.materials[at]).name.clone();
        let mut shares: Vec<(String, f64)> = evaluation.map_or_else(Vec::new, |it| {
            let each = (0..dried.materials.len()).map(|at| (name(at), it.shares_percent[dried.materials[at]]));
            each.filter(|(_, share)| *share > 0.0).collect()
        });
        shares.sort_by(|a, b| b.1.total_cmp(&a.1));
        let profile = evaluation.map_or_else(Vec::new, |it| {
            let problem = problem.after(|_| 1.0, problem.stage_at(moment.hours));
            let each = problem.views[it.worst].targets.iter().zip(&it.profile);
            let line = |(target, blend): (&crate::problem::Target, &f64)| StageProfileLine {
                descriptor: problem.palette.descriptors[target.descriptor].name.clone(),
                target: target.score,
                blend: *blend,
            };
            each.map(line).collect()
        });
        StageLine {
            minutes: moment.hours * 60.0,
            clock: moment.clock,
            film_left: 100.0 * moment.film_left,
            strength,
            kept: if whole > 0.0 { 100.0 * strength / whole } else { 0.0 },
            fidelity: evaluation.map(|it| it.fidelity_percent),
            range: moment.fidelity.as_ref().map(|(spread, draws)| RangeLine {
                low: spread.p5,
                high: spread.p95,
                draws: *draws,
                seed: SEED,
            }),
            loss: evaluation.map(|it| it.loss),
            profile,
            shares: Ordered(shares),
            left: order.iter().map(|&at| (name(at), 100.0 * moment.left[at])).collect(),
        }
    }
}
