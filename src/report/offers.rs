//! The lines of the report of `buy`, made from what was found.

use super::buy::{Candidate, LeftOut, Limit};
use super::purchase::PurchaseReport;
use super::{FormulaParts, FormulaReport, Offered};
use crate::analysis::buy::{Buy, Offer};
use crate::analysis::packs::purchases;
use crate::problem::{Absence, Problem};
use crate::solve::Answer;

/// The most of each material in any of several formulas, in neat ppt.
pub fn most_neat<'a>(problem: &Problem, answers: impl Iterator<Item = &'a Answer>) -> Option<Vec<f64>> {
    let mut most = vec![0.0_f64; problem.palette.materials.len()];
    let mut seen = false;
    for answer in answers {
        seen = true;
        most.iter_mut().zip(&answer.evaluation.neat_ppt).for_each(|(most, ppt)| *most = most.max(*ppt));
    }
    seen.then_some(most)
}

/// A material that is of no use to the brief, and why.
pub fn left_out(problem: &Problem, material: usize, why: Option<Absence>) -> LeftOut {
    let why = match why {
        None => "its rules leave it no dose".to_owned(),
        Some(Absence::UnnamedCarrier) => "a carrier that [doses] does not name".to_owned(),
        Some(Absence::TargetItself) => "it is the target itself, and [doses] does not name it".to_owned(),
        Some(Absence::Rule(rule)) => {
            let rule = &problem.rules[rule];
            format!("{} ({})", problem.sentence(rule), rule.place)
        }
    };
    LeftOut { material: problem.material(material).name.clone(), why }
}

/// Makes lines of the report from what was found.
pub struct Maker<'a> {
    /// The problem, open to everything that could be bought.
    pub problem: &'a Problem,
    /// What was found.
    pub buy: &'a Buy,
    /// Grams of neat accord of a first batch.
    pub batch_grams: f64,
}

impl Maker<'_> {
    pub fn formula(&self, answer: Option<&Answer>) -> FormulaReport {
        answer.map_or_else(FormulaReport::default, |answer| {
            FormulaReport::new(self.problem, &answer.formula, Some(&answer.evaluation))
        })
    }

    /// The best offer; a pair only where it beats the best single one by more
    /// than the doubt of the scores.
    pub fn shown(&self, offers: &[&Offer]) -> Option<usize> {
        let fidelity = |at: usize| Some(offers.get(at)?.answer.as_ref()?.evaluation.fidelity_percent);
        let best = fidelity(0)?;
        let is_pair = offers[0].materials.len() > 1;
        let is_doubtful = fidelity(1).zip(self.buy.doubt_percent).is_some_and(|(next, doubt)| best - next < doubt);
        Some(usize::from(is_pair && is_doubtful))
    }

    fn base_fidelity(&self) -> Option<f64> {
        Some(self.buy.base.answer.as_ref()?.evaluation.fidelity_percent)
    }

    fn names(&self, materials: &[usize]) -> Vec<String> {
        materials.iter().map(|&material| self.problem.material(material).name.clone()).collect()
    }

    pub fn candidate(&self, offer: &Offer) -> Candidate {
        let base = self.base_fidelity();
        // Where nothing is gained the shelf's formula stands, with its numbers.
        let formula = match (&offer.answer, &self.buy.base.answer) {
            (None, Some(base)) => {
                let report = self.formula(Some(base));
                FormulaReport {
                    fidelity: report.fidelity,
                    loss: report.loss,
                    price: report.price,
                    strength: report.strength,
                    price_of_effect: report.price_of_effect,
                    second_opinion: report.second_opinion,
                    ..FormulaReport::default()
                }
            }
            (answer, _) => self.formula(answer.as_ref()),
        };
        let gain = formula.fidelity.zip(base).map(|(with, without)| with - without);
        let most = offer.bound.zip(base).map(|(bound, without)| self.problem.fidelity_percent(bound) - without);
        let purchase = offer.answer.as_ref().map(|answer| {
            PurchaseReport::new(
                self.problem,
                purchases(self.problem, &answer.formula, &offer.materials, self.batch_grams),
            )
        });
        Candidate {
            materials: self.names(&offer.materials),
            status: offer.status.word(),
            gain,
            most_gain: most.zip(gain).map(|(most, gain)| most.max(gain)),
            within_doubt: gain.zip(self.buy.doubt_percent).map(|(gain, doubt)| gain < doubt),
            formula: Offered(FormulaReport { bound: offer.bound, ..formula }),
            purchase,
        }
    }

    /// The best with any of several candidates: what fewer do counts too.
    pub fn limit(&self, offer: &Offer) -> Limit {
        let fewer = self.buy.singles.iter().chain(&self.buy.pair).filter_map(|offer| offer.answer.as_ref());
        let known = fewer.chain(&self.buy.base.answer).chain(&offer.answer);
        let fidelity = known.map(|answer| answer.evaluation.fidelity_percent).reduce(f64::max);
        Limit {
            status: offer.status.word(),
            materials: self.names(&offer.materials),
            formula: offer.answer.as_ref().map(|answer| FormulaParts::new(self.problem, &answer.formula)),
            fidelity,
            gain: fidelity.zip(self.base_fidelity()).map(|(with, without)| with - without),
            bound_fidelity: offer.bound.map(|bound| self.problem.fidelity_percent(bound)),
        }
    }
}
