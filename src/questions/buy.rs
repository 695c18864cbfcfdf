//! Which materials are worth buying for a brief.

use super::{FOR_CLOCKS, Outcome, Refusal, Resolved};
use crate::analysis::buy;
use crate::analysis::repair::Reasons;
use crate::analysis::shelf::open;
use crate::control::Control;
use crate::results::buy::BuyReport;
use crate::solve::{Method, Status};

/// What is said where nothing that could be bought helps.
const NO_BLEND: &str = "no blend can meet this brief, whatever is bought (proven)";

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The wishlist as it is named, where there is one; its materials are among
    /// those of the palette.
    pub wishlist: Option<String>,
    /// Grams of neat accord of a first batch.
    pub batch_grams: f64,
    /// Which method answers.
    pub method: Method,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked { wishlist: None, batch_grams: 10.0, method: Method::Auto }
    }
}

/// The ranking.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it.
    pub report: BuyReport,
    /// Proven that nothing on the shelf or the lists meets the brief.
    is_hopeless: bool,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        match (self.report.has_formula(), self.is_hopeless) {
            (true, _) => Outcome::Answered,
            (false, true) => Outcome::Impossible(NO_BLEND),
            (false, false) => Outcome::Stopped,
        }
    }
}

/// Ranks what could be bought; the reasons, where nothing helps, in what is left
/// of the time.
///
/// # Errors
/// A solver failed, or a result failed its own check.
pub fn ask(of: &Resolved, asked: &Asked, control: &Control) -> Result<Answer, Refusal> {
    of.linear("buy")?;
    let control = &control.untold();
    let of = of.settled(asked.method, &control.with_share(FOR_CLOCKS))?;
    let Resolved { problem, brief, .. } = of;
    let found = buy::buy(problem, asked.method, control, &|done, of| control.count("searches", done, of))?;
    let is_hopeless = found.all.status == Status::Infeasible && found.base.status == Status::Infeasible;
    let reasons = if is_hopeless { Reasons::of(&open(problem), control) } else { Reasons::default() };
    let offers = found.singles.iter().chain(&found.pair).chain([&found.all]);
    let answers = found.base.answer.iter().chain(offers.filter_map(|offer| offer.answer.as_ref()));
    let by_one_film = of.by_one_film(answers.map(|answer| &answer.formula));
    let wishlist = asked.wishlist.clone();
    let warnings = of.warnings.iter().cloned().chain(by_one_film).collect();
    let report = BuyReport::new(problem, brief, &found, &reasons, wishlist, asked.batch_grams, warnings);
    Ok(Answer { report, is_hopeless })
}
