//! The report of `buy`.

mod keys;
mod offers;

use serde::Serialize;

pub use keys::{BestWith, Candidate, LeftOut, ShelfAlone};

use self::offers::{Maker, left_out};
use super::most::most_neat;
use super::{Care, FormulaReport, Head, ReasonsReport};
use crate::analysis::buy::{Buy, Offer};
use crate::analysis::doubt::told::told_some;
use crate::analysis::repair::Reasons;
use crate::analysis::shelf::open;
use crate::brief::Brief;
use crate::problem::Problem;

/// What is worth buying.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BuyReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// The second palette whose materials could be bought.
    pub wishlist: Option<String>,
    /// The best formula with what is on the shelf.
    pub base: ShelfAlone,
    /// Standard deviation of its fidelity over the draws of scores and strengths,
    /// in points; null where there is no such formula.
    pub doubt: Option<f64>,
    /// Grams of neat accord of a first batch.
    pub batch: f64,
    /// What could be bought, one material or the best two, ranked by what it
    /// adds.
    pub candidates: Vec<Candidate>,
    /// The best two; null where there are no two candidates.
    pub pair: Option<BestWith>,
    /// Everything that could be bought, all at once.
    pub everything: BestWith,
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
        let told = told_some(problem, &all, 1);
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
            base: ShelfAlone {
                status: buy.base.status,
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
