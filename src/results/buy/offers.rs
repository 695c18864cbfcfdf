//! The lines of the report of `buy`, made from what was found.

use super::keys::{BestWith, Candidate, LeftOut};
use crate::analysis::buy::{Buy, Offer};
use crate::analysis::doubt::told::{Pair, Told};
use crate::analysis::packs::purchases;
use crate::problem::{Absence, Problem};
use crate::results::{FormulaParts, FormulaReport, Offered, PurchaseReport};
use crate::sentences;
use crate::solve::Answer;

/// Makes lines of the report from what was found.
pub struct Maker<'a> {
    /// The problem, open to everything that could be bought.
    pub problem: &'a Problem,
    /// What was found.
    pub buy: &'a Buy,
    /// Grams of neat accord of a first batch.
    pub batch_grams: f64,
    /// How sure the shelf's formula is, and then that of each offer.
    pub told: &'a [Option<Told>],
}

impl Maker<'_> {
    pub fn formula(&self, answer: Option<&Answer>) -> FormulaReport {
        answer.map_or_else(FormulaReport::default, |answer| {
            FormulaReport::new(self.problem, &answer.formula, Some(&answer.evaluation))
        })
    }

    /// The best offer; a pair only where it is told apart from the best single
    /// one.
    pub fn shown(&self, offers: &[&Offer]) -> Option<usize> {
        offers.first()?.answer.as_ref()?;
        let is_pair = offers[0].materials.len() > 1;
        let is_doubtful = self.beside(1, 2).is_some_and(|pair| !pair.is_told_apart());
        Some(usize::from(is_pair && is_doubtful))
    }

    /// One of the formulas beside another: 0 is the shelf's, then the offers'.
    fn beside(&self, one: usize, other: usize) -> Option<Pair> {
        Some(self.told.get(one)?.as_ref()?.beside(self.told.get(other)?.as_ref()?))
    }

    fn base_fidelity(&self) -> Option<f64> {
        Some(self.buy.base.answer.as_ref()?.evaluation.fidelity_percent)
    }

    fn names(&self, materials: &[usize]) -> Vec<String> {
        materials.iter().map(|&material| self.problem.material(material).name.clone()).collect()
    }

    /// The line of an offer, by its place among the offers.
    pub fn candidate(&self, at: usize, offer: &Offer) -> Candidate {
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
        let pair = self.beside(1 + at, 0);
        let purchase = offer.answer.as_ref().map(|answer| {
            PurchaseReport::new(
                self.problem,
                purchases(self.problem, &answer.formula, &offer.materials, self.batch_grams),
            )
        });
        Candidate {
            materials: self.names(&offer.materials),
            status: offer.status,
            gain,
            most_gain: most.zip(gain).map(|(most, gain)| most.max(gain)),
            nearer_in_percent: pair.map(|pair| pair.nearer_percent()),
            nearer_than_single_in_percent: (offer.materials.len() > 1)
                .then(|| self.beside(1 + at, 2 + at))
                .flatten()
                .map(|pair| pair.nearer_percent()),
            within_doubt: gain.map(|_| pair.is_none_or(|pair| !pair.is_told_apart())),
            formula: Offered(FormulaReport { bound: offer.bound, ..formula }),
            purchase,
        }
    }

    /// The best with any of several candidates: what fewer do counts too.
    pub fn limit(&self, offer: &Offer) -> BestWith {
        let fewer = self.buy.singles.iter().chain(&self.buy.pair).filter_map(|offer| offer.answer.as_ref());
        let known = fewer.chain(&self.buy.base.answer).chain(&offer.answer);
        let fidelity = known.map(|answer| answer.evaluation.fidelity_percent).reduce(f64::max);
        BestWith {
            status: offer.status,
            materials: self.names(&offer.materials),
            formula: offer.answer.as_ref().map(|answer| FormulaParts::new(self.problem, &answer.formula)),
            fidelity,
            gain: fidelity.zip(self.base_fidelity()).map(|(with, without)| with - without),
            bound_fidelity: offer.bound.map(|bound| self.problem.fidelity_percent(bound)),
        }
    }
}

/// A material that is of no use to the brief, and why.
pub fn left_out(problem: &Problem, material: usize, why: Option<Absence>) -> LeftOut {
    LeftOut { material: problem.material(material).name.clone(), why: sentences::left_out::left_out(problem, why) }
}
