//! The report of `doubt`.

use serde::Serialize;

use super::broken::BrokenLine;
use super::compositions::CompositionLine;
use super::parts::name_of;
use super::states::{FormulaStatus, WhichNumber};
use super::{Care, FormulaParts, Head, ReasonsReport};
use crate::analysis::broken::broken;
use crate::analysis::doubt::draws::{Asked, Cloud, Doubt, Nearer};
use crate::analysis::doubt::number::{Number, Part, of_material};
use crate::analysis::doubt::shares::Share;
use crate::analysis::doubt::spread::Spread;
use crate::analysis::repair::Reasons;
use crate::brief::Brief;
use crate::evaluate::evaluate;
use crate::formula::Formula;
use crate::portable::Portable;
use crate::problem::Problem;
use crate::sentences::said::{said, said_score};
use crate::solve::Status;

/// How sure some formulas are.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoubtReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Of the proposal: `optimal`, `feasible`, `infeasible` or `unknown`; of
    /// formulas that were given: `feasible`, or `broken` where one breaks rules.
    pub status: FormulaStatus,
    /// How many draws.
    pub draws: usize,
    /// Which draws.
    pub seed: u64,
    /// Of the first formula, in percent; null where there is none.
    pub fidelity: Option<SpreadLine>,
    /// The formulas, in the order of the command line.
    pub formulas: Vec<DoubtLine>,
    /// Every pair of formulas.
    pub nearer: Vec<NearerLine>,
    /// Naturals that were smelled, beside the palette; left out where there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub compositions: Vec<CompositionLine>,
    /// What was checked; null where there is no formula.
    pub care: Option<Care>,
    /// Why there is no formula, and what would mend it.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// How something spreads over the draws.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpreadLine {
    /// Its mean.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// One draw in twenty lies below.
    pub p5: f64,
    /// One draw in twenty lies above.
    pub p95: f64,
}

/// How sure one formula is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DoubtLine {
    /// Its title, or its file; null for the proposal.
    pub name: Option<String>,
    /// Its file.
    pub file: Option<String>,
    /// Its doses.
    pub formula: FormulaParts,
    /// The rules of the brief that it breaks.
    pub broken: Vec<BrokenLine>,
    /// Fidelity in percent by the numbers as they are written.
    pub on_paper: f64,
    /// Of the fidelity, in percent.
    pub fidelity: SpreadLine,
    /// Mean fidelity of the worst tenth of the draws, in percent.
    pub worst_tenth: f64,
    /// One standard deviation of the fidelity over the draws, in points.
    pub give_or_take: Option<f64>,
    /// Fidelity at 1 to 99 percent of the draws.
    pub percentiles: Vec<f64>,
    /// Of every descriptor that counts, in points.
    pub profile: Vec<DescriptorSpread>,
    /// The uncertain numbers, those that matter most first.
    pub numbers: Vec<NumberLine>,
    /// All numbers of a material together, likewise.
    pub by_material: Vec<MaterialShare>,
}

/// How sure a descriptor is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DescriptorSpread {
    /// The word.
    pub descriptor: String,
    /// Wanted, in points.
    pub target: f64,
    /// What the blend has by the numbers as they are written.
    pub blend: f64,
    /// Over the draws.
    #[serde(flatten)]
    pub spread: SpreadLine,
}

/// An uncertain number and its share of the doubt.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NumberLine {
    /// The material.
    pub material: String,
    /// `strength` or `score`.
    pub number: WhichNumber,
    /// Whose score.
    pub descriptor: Option<String>,
    /// The number as it is written.
    pub at: f64,
    /// What it rests on where it is no number: a word, a comparison; left out where
    /// it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub said: Option<String>,
    /// One standard deviation: points of a score, the factor of a strength.
    pub error: f64,
    /// Percent of the variance of the fidelity that would go if it were known.
    pub share: f64,
    /// One standard deviation of that estimate, in percent.
    pub share_error: f64,
    /// Percent that would be left if all others were known.
    pub total_share: f64,
}

/// All numbers of one material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MaterialShare {
    /// The material.
    pub material: String,
    /// Percent of the variance of the fidelity that would go if they were known.
    pub share: f64,
    /// One standard deviation of that estimate, in percent.
    pub share_error: f64,
    /// Percent that would be left if all others were known.
    pub total_share: f64,
}

/// Two formulas on the same draws.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct NearerLine {
    /// The first, counted from 0.
    pub a: usize,
    /// The second.
    pub b: usize,
    /// Percent of the draws in which the first is nearer the target.
    pub chance: f64,
    /// Fidelity of the first less that of the second, in points.
    pub difference: SpreadLine,
    /// Whether neither is nearer in enough of the draws to speak of it.
    pub inside_doubt: bool,
}

/// A formula that is looked at.
#[derive(Clone, Debug)]
pub struct Subject {
    /// The formula, in the basis of the brief.
    pub formula: Formula,
    /// As it was read, where it was given.
    pub given: Option<Formula>,
    /// The word for the proposal's status; `feasible` for a given one.
    pub status: FormulaStatus,
}

impl From<Spread> for SpreadLine {
    fn from(Spread { mean, sd, p5, p95 }: Spread) -> SpreadLine {
        SpreadLine { mean, sd, p5, p95 }
    }
}

impl DoubtReport {
    /// What came of the draws; `seen` is the problem as they were judged.
    pub fn new(
        (problem, seen): (&Problem, &Problem),
        brief: &Brief,
        subjects: &[Subject],
        asked: Asked,
        found: &Doubt,
        warnings: Vec<String>,
    ) -> DoubtReport {
        let pairs = subjects.iter().zip(&found.clouds);
        let formulas: Vec<DoubtLine> =
            pairs.map(|(subject, cloud)| DoubtLine::new((problem, seen), brief, subject, cloud)).collect();
        let broken = formulas.iter().any(|line| !line.broken.is_empty());
        let status = subjects.first().map_or(FormulaStatus::Unknown, |subject| subject.status);
        let mut most_neat = vec![0.0_f64; problem.palette.materials.len()];
        for subject in subjects {
            let neat = problem.neat_ppt(&subject.formula);
            most_neat.iter_mut().zip(neat).for_each(|(most, ppt)| *most = most.max(ppt));
        }
        DoubtReport {
            head: Head::new("doubt", problem, brief),
            status: if broken { FormulaStatus::Broken } else { status },
            draws: asked.draws,
            seed: asked.seed,
            fidelity: formulas.first().map(|line| line.fidelity),
            formulas,
            nearer: found.nearer.iter().map(NearerLine::new).collect(),
            compositions: Vec::new(),
            care: Some(Care::new(problem, &most_neat)),
            reasons: ReasonsReport::default(),
            warnings,
        }
    }

    /// The report where there is no formula.
    pub fn without_formula(
        problem: &Problem,
        brief: &Brief,
        status: Status,
        reasons: &Reasons,
        warnings: Vec<String>,
    ) -> DoubtReport {
        DoubtReport {
            head: Head::new("doubt", problem, brief),
            status: status.into(),
            draws: 0,
            seed: 0,
            fidelity: None,
            formulas: Vec::new(),
            nearer: Vec::new(),
            compositions: Vec::new(),
            care: None,
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }
}

impl DoubtLine {
    fn new((problem, seen): (&Problem, &Problem), brief: &Brief, subject: &Subject, cloud: &Cloud) -> DoubtLine {
        let formula = &subject.formula;
        let evaluation = evaluate(seen, formula).ok();
        let converted = subject.given.as_ref().is_some_and(|given| given.basis != problem.basis);
        let broken = if subject.given.is_some() { broken(problem, brief, formula, converted) } else { Vec::new() };
        let blends = evaluation.as_ref().map(|it| it.profile.clone()).unwrap_or_default();
        let lines = seen.targets.iter().zip(&cloud.profile).zip(&blends);
        let profile = lines.map(|((target, spread), blend)| DescriptorSpread {
            descriptor: problem.palette.descriptors[target.descriptor].name.clone(),
            target: target.score,
            blend: *blend,
            spread: (*spread).into(),
        });
        let mut numbers: Vec<NumberLine> =
            cloud.numbers.iter().map(|(number, share)| NumberLine::new(seen, *number, share)).collect();
        numbers.sort_by(|a, b| b.share.total_cmp(&a.share));
        let name = |index: usize| problem.material(index).name.clone();
        let mut by_material: Vec<MaterialShare> = cloud
            .materials
            .iter()
            .map(|(index, share)| MaterialShare {
                material: name(*index),
                share: 100.0 * share.first,
                share_error: 100.0 * share.first_error,
                total_share: 100.0 * share.total,
            })
            .collect();
        by_material.sort_by(|a, b| b.share.total_cmp(&a.share));
        DoubtLine {
            name: subject.given.as_ref().map(name_of),
            file: subject.given.as_ref().and_then(|given| given.file.as_deref().map(str::to_owned)),
            formula: FormulaParts::new(problem, formula),
            broken: broken.into_iter().map(BrokenLine::from).collect(),
            on_paper: evaluation.as_ref().map_or(0.0, |it| it.fidelity_percent),
            fidelity: cloud.fidelity.into(),
            worst_tenth: cloud.worst_tenth,
            give_or_take: Some(cloud.fidelity.sd),
            percentiles: cloud.percentiles.clone(),
            profile: profile.collect(),
            numbers,
            by_material,
        }
    }
}

impl NumberLine {
    pub(super) fn new(problem: &Problem, number: Number, share: &Share) -> NumberLine {
        let material = problem.material(number.material);
        let uncertain = of_material(problem, number.material);
        let deviation = uncertain.iter().find(|it| it.number == number).map_or(0.0, |it| it.deviation);
        let (kind, descriptor, at, error, said) = match number.part {
            Part::Strength => (WhichNumber::Strength, None, material.strength, deviation.exponential(), said(material)),
            Part::Score(target) => {
                let descriptor = problem.targets[target].descriptor;
                let name = problem.palette.descriptors[descriptor].name.clone();
                let word = said_score(&problem.palette, material, descriptor);
                (WhichNumber::Score, Some(name), material.scores[descriptor], deviation, word)
            }
        };
        NumberLine {
            material: material.name.clone(),
            number: kind,
            descriptor,
            at,
            said,
            error,
            share: 100.0 * share.first,
            share_error: 100.0 * share.first_error,
            total_share: 100.0 * share.total,
        }
    }
}

impl NearerLine {
    fn new(nearer: &Nearer) -> NearerLine {
        NearerLine {
            a: nearer.a,
            b: nearer.b,
            chance: nearer.pair.nearer_percent(),
            difference: nearer.pair.difference.into(),
            inside_doubt: !nearer.pair.is_told_apart(),
        }
    }
}
