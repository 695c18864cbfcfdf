//! One formula with everything that is known of it.

use serde::Serialize;

use super::limits::Limits;
use super::near::NearReport;
use super::parts::{FormulaParts, falling};
use super::stages::{NamedStage, OnPaper, stages};
use super::{AdviceLine, IdleReport, JointLine, LimitLine, Ordered, RangeLine, UsualLine, ViewsReport};
use crate::analysis::contribution::{contributions, price_shares_percent};
use crate::analysis::doubt::spread::Spread;
use crate::analysis::doubt::told::Told;
use crate::analysis::pour::{Pour, pour};
use crate::evaluate::{Evaluation, evaluate};
use crate::formula::Formula;
use crate::problem::Problem;
use crate::sentences::{self, said};
use crate::units::Ppt;

/// One formula in a report; numbers are null where it has no odour.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct FormulaReport {
    /// The formula, or null where there is none.
    pub formula: Option<FormulaParts>,
    /// Fidelity in percent.
    pub fidelity: Option<f64>,
    /// Where nine draws in ten of it lie; left out where a report does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub range: Option<RangeLine>,
    /// Loss in score points.
    pub loss: Option<f64>,
    /// No formula inside the rules has a loss below this.
    pub bound: Option<f64>,
    /// Price per kg.
    pub price: Option<f64>,
    /// Strength.
    pub strength: Option<f64>,
    /// Its materials whose strength is a word or a comparison; left out where
    /// there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub loose_strengths: Vec<String>,
    /// Price per kg divided by the strength.
    pub price_of_effect: Option<f64>,
    /// What of it is idle weight; null where it has no odour.
    pub idle: Option<IdleReport>,
    /// What each of several views makes of it; fidelity, loss, profile and shares are those
    /// of the worst. Left out where there is one view alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub views: Option<ViewsReport>,
    /// The same formula by the other law: when strong materials weigh less, unless the
    /// brief is judged so.
    pub second_opinion: Option<SecondOpinion>,
    /// Every descriptor that counts.
    pub profile: Vec<ProfileLine>,
    /// Odour share in percent of each part.
    pub shares: Ordered<f64>,
    /// The parts, with what each of them does.
    pub materials: Vec<PartLine>,
    /// How many of them are dosed outside their usual range; left out where the
    /// palette names none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unusual: Option<usize>,
    /// What is poured.
    pub poured: Option<Poured>,
    /// Every restriction that holds, product by product, the tightest first.
    pub limits: Vec<LimitLine>,
    /// Limits that several restrictions share.
    pub joints: Vec<JointLine>,
    /// Advice of the palette on materials that are used.
    pub advice: Vec<AdviceLine>,
    /// How far it is from the known formula that the brief stays near to; left
    /// out where it names none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub near: Option<NearReport>,
    /// How it comes on paper, where the brief has it smelled there; left out otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blotter: Option<OnPaper>,
    /// The formula at each of the brief's stages, by the clock of its own film; left out where
    /// there are none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stages: Vec<NamedStage>,
}

/// The formula judged with another exponent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SecondOpinion {
    /// Shares go with (strength x dose) to this power.
    pub exponent: f64,
    /// Fidelity in percent.
    pub fidelity: f64,
    /// Loss in score points.
    pub loss: f64,
}

/// A descriptor of the blend beside what is wanted.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProfileLine {
    /// The word.
    pub descriptor: String,
    /// Wanted, in points.
    pub target: f64,
    /// What the blend has.
    pub blend: f64,
    /// Weight of the gap.
    pub weight: f64,
    /// Multiplies the weight where the blend has too much.
    pub excess: f64,
    /// Blend less target.
    pub gap: f64,
    /// One draw in twenty of the scores and strengths lies below; left out where a
    /// report does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// One draw in twenty lies above; likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
}

/// One part of a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartLine {
    /// The material.
    pub material: String,
    /// Its CAS number.
    pub cas: Option<String>,
    /// Dose in ppt of the basis.
    pub parts: Ppt,
    /// Neat material in it, in ppt.
    pub neat: f64,
    /// What is poured from the usual bottle, in ppt.
    pub poured: f64,
    /// Percent of neat material in that bottle.
    pub bottle_percent: f64,
    /// Odour share in percent; null where the formula has no odour.
    pub share: Option<f64>,
    /// Share of the price in percent, the carrier in its bottle included in
    /// basis bottle.
    pub price_share: Option<f64>,
    /// Its usual doses; left out where the palette names none of any material.
    #[serde(flatten)]
    pub usual: Option<UsualLine>,
    /// What it adds to the profile, in points, the most first.
    pub brings: Ordered<f64>,
    /// What to do before or while weighing it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub handling: Option<String>,
}

/// What the usual bottles pour.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Poured {
    /// Sum of what is poured, in ppt of the formula.
    pub total: f64,
    /// Percent of neat accord in it.
    pub concentration_percent: f64,
    /// Carriers that bottles bring, in ppt of the formula.
    pub carriers: Ordered<f64>,
}

impl FormulaReport {
    /// A formula of the problem's basis and its evaluation; without one the
    /// formula has no odour, and its numbers stay null.
    ///
    /// Where the brief has stages it is judged as its own film dries, whatever clocks the
    /// problem has.
    pub fn new(problem: &Problem, formula: &Formula, evaluation: Option<&Evaluation>) -> FormulaReport {
        let Some((blotter, stages)) = stages(problem, formula) else {
            return FormulaReport::as_mixed(problem, formula, evaluation);
        };
        let own = problem.as_it_dries(formula);
        let evaluation = evaluation.and_then(|_| evaluate(&own, formula).ok());
        let report = FormulaReport::as_mixed(&own, formula, evaluation.as_ref());
        FormulaReport { blotter: Some(blotter), stages, ..report }
    }

    fn as_mixed(problem: &Problem, formula: &Formula, evaluation: Option<&Evaluation>) -> FormulaReport {
        let neat_ppt = problem.neat_ppt(formula);
        let poured = pour(problem, formula);
        let order = falling(formula);
        let materials = part_lines(problem, formula, evaluation, &poured, &order);
        let Limits { limits, joints, advice } = Limits::new(problem, &neat_ppt);
        let loose = formula.parts.iter().map(|(at, _)| problem.material(*at)).filter(|it| it.said.is_loose());
        let mut report = FormulaReport {
            loose_strengths: loose.map(|material| material.name.clone()).collect(),
            formula: Some(FormulaParts::new(problem, formula)),
            idle: IdleReport::new(problem, formula),
            materials,
            unusual: problem.knows_usual_doses().then(|| problem.unusual(formula).len()),
            poured: Some(Poured {
                total: poured.total_ppt,
                concentration_percent: poured.concentration_percent,
                carriers: poured.carriers.into_iter().collect(),
            }),
            limits,
            joints,
            advice,
            near: NearReport::new(problem, formula),
            ..FormulaReport::default()
        };
        if let Some(evaluation) = evaluation {
            report.judge(problem, evaluation);
        }
        report
    }

    /// Its strength for reading, with so many digits and at most so many decimals.
    pub fn strength_shown(&self, digits: i32, most: usize) -> Option<String> {
        let is_loose = !self.loose_strengths.is_empty();
        self.strength.map(|strength| said::strength(strength, is_loose, digits, most))
    }

    /// Which doses are outside their usual range, as a sentence; `None` where
    /// there are none.
    pub fn unusual_told(&self) -> Option<String> {
        let marked = self.materials.iter().filter_map(|line| Some((line.material.as_str(), line.unusual_mark()?)));
        sentences::usual::told(&marked.collect::<Vec<_>>())
    }

    /// The same with how sure its fidelity is.
    pub fn with_range(self, told: Option<&Told>) -> FormulaReport {
        let mut report = FormulaReport { range: told.map(RangeLine::from), ..self };
        report.profile_ranges(told.map(|told| &told.profile[..]).unwrap_or_default());
        report
    }

    /// Sets how sure each score of the blend is, where that is known.
    pub(super) fn profile_ranges(&mut self, profile: &[Spread]) {
        for (line, spread) in self.profile.iter_mut().zip(profile) {
            (line.low, line.high) = (Some(spread.p5), Some(spread.p95));
        }
    }

    fn judge(&mut self, problem: &Problem, evaluation: &Evaluation) {
        let second = &evaluation.second_opinion;
        self.fidelity = Some(evaluation.fidelity_percent);
        self.loss = Some(evaluation.loss);
        self.views = ViewsReport::new(problem, evaluation);
        self.price = evaluation.price_per_kg;
        self.strength = Some(evaluation.strength);
        self.price_of_effect = evaluation.price_of_effect();
        self.second_opinion = Some(SecondOpinion {
            exponent: problem.views[evaluation.worst].law.other().exponent(),
            fidelity: second.fidelity_percent,
            loss: second.loss,
        });
        self.shares = self.materials.iter().map(|line| (line.material.clone(), line.share.unwrap_or(0.0))).collect();
        let line = |(target, &blend): (&crate::problem::Target, &f64)| ProfileLine {
            descriptor: problem.palette.descriptors[target.descriptor].name.clone(),
            target: target.score,
            blend,
            weight: target.weight,
            excess: target.excess,
            gap: blend - target.score,
            low: None,
            high: None,
        };
        self.profile = problem.views[evaluation.worst].targets.iter().zip(&evaluation.profile).map(line).collect();
    }
}

impl PartLine {
    /// How a dose outside its usual range is marked; `None` for any other.
    pub fn unusual_mark(&self) -> Option<String> {
        self.usual.as_ref()?.mark()
    }
}

fn part_lines(
    problem: &Problem,
    formula: &Formula,
    evaluation: Option<&Evaluation>,
    poured: &Pour,
    order: &[usize],
) -> Vec<PartLine> {
    // What is brought is told of the view that decides.
    let seen = evaluation.filter(|_| problem.views.len() > 1).map(|evaluation| problem.seen(evaluation.worst));
    let seen = seen.as_ref().unwrap_or(problem);
    let brought = evaluation.map(|evaluation| contributions(seen, evaluation));
    let prices = price_shares_percent(problem, formula);
    let descriptor = |counted: usize| seen.palette.descriptors[seen.targets[counted].descriptor].name.clone();
    let line = |&at: &usize| {
        let (index, dose) = formula.parts[at];
        let material = problem.material(index);
        let brings = brought.iter().flat_map(|brought| &brought[index]);
        PartLine {
            material: material.name.clone(),
            cas: material.cas.as_ref().map(ToString::to_string),
            parts: dose,
            neat: poured.lines[at].neat_ppt,
            poured: poured.lines[at].poured_ppt,
            bottle_percent: poured.lines[at].bottle_percent,
            share: evaluation.map(|evaluation| evaluation.shares_percent[index]),
            price_share: prices.as_ref().map(|prices| prices[at]),
            usual: UsualLine::new(problem, formula, index),
            brings: brings.map(|&(counted, points)| (descriptor(counted), points)).collect(),
            handling: material.handling.clone(),
        }
    };
    order.iter().map(line).collect()
}
