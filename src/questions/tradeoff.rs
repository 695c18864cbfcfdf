//! What money, strength, a number of materials or a material's dose buys.

use std::time::Duration;

use super::{FOR_CLOCKS, Outcome, Refusal, Resolved};
pub use crate::analysis::axis::Axis;
use crate::analysis::axis::NoRange;
use crate::analysis::repair::Reasons;
use crate::analysis::tradeoff::{self, Tradeoff};
use crate::control::Control;
use crate::escape::escaped;
use crate::results::tradeoff::TradeoffReport;
use crate::solve::{Method, Solution};

/// How long the upper limit may take before the first picture of a curve that is
/// watched.
const BEFORE_THE_FIRST_PICTURE: Duration = Duration::from_millis(500);

/// What is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// What is traded.
    pub axis: Axis,
    /// How many limits are looked at between the ends of the curve.
    pub formulas: usize,
    /// Whether it is shown what could be had over any doses.
    pub upper_limit: bool,
    /// The best formula of the brief as it stands, where it is known.
    pub best: Option<&'a Solution>,
    /// Which method answers.
    pub method: Method,
}

impl Asked<'_> {
    /// Limits between the ends of the curve unless said.
    pub const FORMULAS: u16 = 24;
}

impl Default for Asked<'_> {
    fn default() -> Self {
        let formulas = usize::from(Asked::FORMULAS);
        Asked { axis: Axis::Price, formulas, upper_limit: false, best: None, method: Method::Auto }
    }
}

/// The curve.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it; why there is none where no formula keeps the other rules.
    pub report: TradeoffReport,
}

impl Answer {
    /// How it ended.
    pub fn outcome(&self) -> Outcome {
        Outcome::of(self.report.status, "no formula keeps the other rules (proven)")
    }
}

/// Works the curve out.
///
/// # Errors
/// A material without a price where the curve is one of money; or a solver
/// failed.
pub fn ask(of: &Resolved, asked: &Asked<'_>, control: &Control) -> Result<Answer, Refusal> {
    of.linear("tradeoff")?;
    priced(of, asked.axis)?;
    let control = &control.untold();
    let of = of.settled(asked.method, &control.with_share(FOR_CLOCKS))?;
    let found = tradeoff::tradeoff(&of.problem, wanted(asked), control, &|done, of| {
        control.count("formulas", done, of);
    })?;
    Ok(answer(of, asked, &found, control))
}

/// The same, shown as it gets finer: the first picture comes at once.
///
/// # Errors
/// As [`ask`].
pub fn watched(
    of: &Resolved,
    asked: &Asked<'_>,
    control: &Control,
    shown: &mut dyn FnMut(&TradeoffReport),
) -> Result<Answer, Refusal> {
    priced(of, asked.axis)?;
    let of = of.settled(asked.method, &control.with_share(FOR_CLOCKS))?;
    let upper = Some(BEFORE_THE_FIRST_PICTURE);
    let mut show = |found: &Tradeoff| shown(&report(of, asked, found, &Reasons::default()));
    let found = tradeoff::tradeoff_watched(&of.problem, wanted(asked), upper, control, &|_, _| (), &mut show)?;
    Ok(answer(of, asked, &found, control))
}

/// Whether every material that counts has a price, where the curve is one of
/// money.
///
/// # Errors
/// Those that have none, in a sentence.
pub fn priced(of: &Resolved, axis: Axis) -> Result<(), Refusal> {
    let unpriced = axis.without_price(&of.problem);
    if unpriced.is_empty() {
        return Ok(());
    }
    let name = |&material: &usize| format!("\"{}\"", escaped(&of.problem.material(material).name));
    let names: Vec<String> = unpriced.iter().map(name).collect();
    let (has, it) = if names.len() == 1 { ("has", "it") } else { ("have", "them") };
    Err(Refusal::Wrong(format!(
        "{} {has} no price, and the curve is one of money: give a price, or keep {it} out with use = \"never\" in [doses]",
        names.join(", ")
    )))
}

fn wanted<'a>(asked: &Asked<'a>) -> tradeoff::Asked<'a> {
    let Asked { axis, formulas, method, best, .. } = *asked;
    tradeoff::Asked { axis, formulas, method, known: best }
}

fn answer(of: &Resolved, asked: &Asked<'_>, found: &Tradeoff, control: &Control) -> Answer {
    let reasons = match found.none {
        Some(NoRange::Impossible) => Reasons::of(&asked.axis.without(&of.problem), control),
        Some(NoRange::Unknown) | None => Reasons::default(),
    };
    Answer { report: report(of, asked, found, &reasons) }
}

fn report(of: &Resolved, asked: &Asked<'_>, found: &Tradeoff, reasons: &Reasons) -> TradeoffReport {
    let let_in = match asked.axis {
        Axis::Dose(material) => of.problem.sentence_of_set_aside(material),
        Axis::Price | Axis::Effect | Axis::Strength | Axis::Count => None,
    };
    let by_one_film = of.by_one_film(found.points.iter().map(|point| &point.answer.formula));
    let warnings = of.warnings.iter().cloned().chain(by_one_film).collect();
    let report = TradeoffReport::new(&of.problem, &of.brief, found, reasons, let_in, warnings);
    TradeoffReport { shows_upper_limit: asked.upper_limit, ..report }
}
