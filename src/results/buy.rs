//! The report of `buy`.

use serde::Serialize;

use super::offers::{Maker, left_out, most_neat};
use super::purchase::PurchaseReport;
use super::{Care, FormulaParts, FormulaReport, Head, Offered, ReasonsReport};
use crate::analysis::buy::{Buy, Offer};
use crate::analysis::doubt::told::told_some;
use crate::analysis::repair::Reasons;
use crate::analysis::shelf::open;
use crate::brief::Brief;
use crate::problem::Problem;
use crate::solve::Status;

/// What is worth buying.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BuyReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// The second palette whose materials could be bought.
    pub wishlist: Option<String>,
    /// The best formula with what is on the shelf.
    pub base: Base,
    /// Standard deviation of its fidelity over the draws of scores and strengths,
    /// in points; null where there is no such formula.
    pub doubt: Option<f64>,
    /// Grams of neat accord of a first batch.
    pub batch: f64,
    /// What could be bought, one material or the best two, ranked by what it
    /// adds.
    pub candidates: Vec<Candidate>,
    /// The best two; null where there are no two candidates.
    pub pair: Option<Limit>,
    /// Everything that could be bought, all at once.
    pub everything: Limit,
    /// What is not on the shelf and could not be used if it were.
    pub left_out: Vec<LeftOut>,
    /// What was checked of all these formulas and what was not; null where
    /// there is none.
    pub care: Option<Care>,
    /// The candidate whose formula is worth a page, with what was checked of
    /// that one alone.
    #[serde(skip)]
    pub shown: Option<(usize, Care)>,
    /// Why there is no formula, whatever is bought.
    #[serde(flatten)]
    pub reasons: ReasonsReport,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The best formula with what is on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Base {
    /// `optimal`, `feasible`, `infeasible` or `unknown`.
    pub status: &'static str,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// Fidelity in percent that no formula from the shelf can pass.
    pub bound_fidelity: Option<f64>,
}

/// What one or two materials would bring if they stood on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Candidate {
    /// The material, or the two of the best pair.
    pub materials: Vec<String>,
    /// `optimal`: the best formula that can be had with it, proven; `feasible`:
    /// the best found in time; `infeasible`: there is still no formula;
    /// `unknown`: nothing better was found in time.
    pub status: &'static str,
    /// Fidelity in percent less that of the shelf alone; null where there is
    /// no formula to compare.
    pub gain: Option<f64>,
    /// The most that it could be; null where there is no formula to compare.
    pub most_gain: Option<f64>,
    /// Percent of the draws of scores and strengths in which its formula is nearer
    /// the target than that of the shelf; null where that one stands.
    pub nearer_in_percent: Option<f64>,
    /// Of the best two, the same beside the best formula with one more material.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nearer_than_single_in_percent: Option<f64>,
    /// Whether neither is nearer in enough of them to speak of it.
    pub within_doubt: Option<bool>,
    /// The formula, null where it is that of the shelf; its numbers.
    #[serde(flatten)]
    pub formula: Offered,
    /// What a first batch needs of it.
    pub purchase: Option<PurchaseReport>,
}

/// What several candidates at once could bring at the most.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// `optimal`, `feasible`, `infeasible` or `unknown`, as of a candidate.
    pub status: &'static str,
    /// Those that the best formula uses; empty where fewer do as well.
    pub materials: Vec<String>,
    /// That formula; null where fewer do as well.
    pub formula: Option<FormulaParts>,
    /// The best fidelity that was found with any of them, in percent.
    pub fidelity: Option<f64>,
    /// The same less that of the shelf alone.
    pub gain: Option<f64>,
    /// Fidelity in percent that no formula with them can pass.
    pub bound_fidelity: Option<f64>,
}

/// A material that would be of no use to this brief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// The material.
    pub material: String,
    /// Why, without a full stop.
    pub why: String,
}

impl BuyReport {
    /// The report of what buying brings, for a first batch of so many grams of
    /// neat accord.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        buy: &Buy,
        reasons: &Reasons,
        wishlist: Option<String>,
        batch_grams: f64,
        warnings: Vec<String>,
    ) -> BuyReport {
        let problem = &open(problem);
        let answer = buy.base.answer.as_ref();
        let mut offers: Vec<&Offer> = buy.singles.iter().collect();
        // A pair is worth a line where it beats every single one of them.
        if let Some(pair) = buy.pair.as_ref().filter(|pair| pair.answer.is_some()) {
            offers.insert(0, pair);
        }
        let mut all = vec![answer.map(|answer| &answer.formula)];
        all.extend(offers.iter().map(|offer| offer.answer.as_ref().map(|answer| &answer.formula)));
        let told = told_some(problem, &all);
        let maker = Maker { problem, buy, batch_grams, told: &told };
        let shown = maker.shown(&offers).map(|at| {
            let neat_ppt = most_neat(problem, offers[at].answer.iter()).unwrap_or_default();
            (at, Care::new(problem, &neat_ppt))
        });
        let answers = offers.iter().filter_map(|offer| offer.answer.as_ref()).chain(&buy.all.answer);
        let answers = answer.into_iter().chain(answers);
        BuyReport {
            head: Head::new("buy", problem, brief),
            wishlist,
            base: Base {
                status: buy.base.status.word(),
                formula: FormulaReport { bound: buy.base.bound, ..maker.formula(answer).with_range(told[0].as_ref()) },
                bound_fidelity: buy.base.bound.map(|bound| problem.fidelity_percent(bound)),
            },
            doubt: told[0].as_ref().map(|told| told.fidelity.sd),
            batch: batch_grams,
            candidates: offers.iter().enumerate().map(|(at, offer)| maker.candidate(at, offer)).collect(),
            pair: buy.pair.as_ref().map(|pair| maker.limit(pair)),
            everything: maker.limit(&buy.all),
            left_out: buy.left_out.iter().map(|&(material, why)| left_out(problem, material, why)).collect(),
            shown,
            care: most_neat(problem, answers).map(|neat_ppt| Care::new(problem, &neat_ppt)),
            reasons: ReasonsReport::new(problem, reasons),
            warnings,
        }
    }

    /// Whether there is a formula, from the shelf or with what could be bought.
    pub fn has_formula(&self) -> bool {
        let found = self.candidates.iter().map(|it| &it.formula.formula).chain([&self.everything.formula]);
        self.base.formula.formula.is_some() || found.flatten().next().is_some()
    }
}

impl Candidate {
    /// Whether it is a pair.
    pub fn is_pair(&self) -> bool {
        self.materials.len() > 1
    }

    /// Whether a formula with it beats the shelf alone, or is the first there
    /// is.
    pub fn adds(&self) -> bool {
        self.formula.formula.is_some()
    }

    /// Whether no more can be had with it than was found.
    pub fn is_proven(&self) -> bool {
        self.status == Status::Optimal.word()
    }
}
