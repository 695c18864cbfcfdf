//! Among the formulas that are as near as the best, the cheapest.
//!
//! Most often there is none but the best one. So the first question is whether
//! any formula is as near and costs less: the search for the loss once more, with
//! a budget just below the present price and a ceiling just above the present
//! loss, which closes as fast as the proof did. Only where there is one, a search
//! with the price for an objective and the loss under a cap finds the cheapest.

use super::search::{self, Aim, Found, Judged, Known};
use super::verify::Verifier;
use super::{Failure, PROVEN, Solution, Status};
use crate::control::Control;
use crate::model::{Blend, BlendRow, CapColumn};
use crate::problem::Target;
use crate::tolerance::loss::{CUTOFF_MARGIN, TIE};
use crate::units::Ppt;

/// The part of the tie inside which the second search looks, so that rounding
/// stays within it.
const WITHIN: f64 = 0.9;
/// Nodes beyond those of the first search that the second may take: a count, not
/// a time, so that every run gives the same answer.
const NODES: u64 = 2000;
/// The part of the time that is left which the second search may take.
const SHARE: f64 = 0.3;

/// A proven solution with the cheapest formula of those that tie with the best
/// one, as far as that is found: a loss within 1e-7 max(1, best). Nothing
/// changes where a material that could be used has no price.
///
/// # Errors
/// Where a result failed its check.
pub(super) fn cheapest(
    blend: &Blend,
    verifier: &Verifier,
    solution: Solution,
    control: &Control,
) -> Result<Solution, Failure> {
    let Some(best) = solution.answer.as_ref().filter(|_| solution.status == Status::Optimal) else {
        return Ok(solution);
    };
    let prices: Option<Vec<f64>> = blend.columns.iter().map(|column| column.price).collect();
    let (Some(prices), Some(doses)) = (prices, blend.column_doses(&best.formula)) else { return Ok(solution) };
    let Some(present) = best.evaluation.price_per_kg else { return Ok(solution) };
    // What was proven is a bound: the least loss is known to within a proof.
    let loss = best.evaluation.loss;
    let tie = TIE * loss.max(1.0);
    let nodes = solution.nodes + NODES;
    let control = Control {
        node_limit: Some(control.node_limit.map_or(nodes, |most| most.min(nodes))),
        progress: None,
        ..control.with_share(SHARE)
    };
    let ask = Ask { blend, verifier, prices: &prices, loss, tie, control: &control };
    let doses = match ask.for_less_than(present) {
        Asked::None => return Ok(Solution { is_cheapest: true, ..solution }),
        Asked::NotKnown => return Ok(solution),
        Asked::Cheaper(cheaper) => vec![cheaper, doses],
    };
    // The price is a ratio to the sum of the doses, which is 1000.
    let price = Target { descriptor: 0, score: 0.0, weight: 1.0, excess: 1.0 };
    let among = blend.among_the_best(loss + WITHIN * tie, vec![price], |index, _| {
        let odours = if prices[index] > 0.0 { vec![(0, prices[index])] } else { Vec::new() };
        CapColumn { weight: 1e-3, odours }
    });
    let judge = |doses: &[Ppt]| {
        let judged = verifier.judge(doses).filter(|judged| judged.loss <= loss + tie)?;
        Some(Judged { loss: judged.price_per_kg?, price_per_kg: None })
    };
    let known = Known { formulas: doses, ..Known::default() };
    // A search that fails has found out nothing about the price.
    let Ok(outcome) = search::search(&among, &judge, verifier.tolerance(), Aim::Best, &known, &control) else {
        return Ok(solution);
    };
    let found = match outcome.found {
        Some(found) if found.judged.loss < present => Some(verifier.answer(&found.doses)?),
        _ => None,
    };
    let price = found.as_ref().and_then(|answer| answer.evaluation.price_per_kg).unwrap_or(present);
    // A bound above a price that is there would be a failure of numbers.
    let is_cheapest = (price - outcome.bound).abs() <= PROVEN * price.max(1.0);
    // Nearer by less than the proof tells apart, or further by less than a tie.
    Ok(Solution { answer: found.or(solution.answer), is_cheapest, ..solution })
}

/// What became of the question whether anything is as near and cheaper.
enum Asked {
    /// Proven: nothing is.
    None,
    /// Not found out.
    NotKnown,
    /// These doses of the blend's columns.
    Cheaper(Vec<Ppt>),
}

/// The question.
struct Ask<'a> {
    blend: &'a Blend,
    verifier: &'a Verifier<'a>,
    /// Price per kg of one ppt of each column.
    prices: &'a [f64],
    /// The least loss, and how much more still ties with it.
    loss: f64,
    tie: f64,
    control: &'a Control,
}

impl Ask<'_> {
    fn for_less_than(&self, present: f64) -> Asked {
        let priced = self.prices.iter().copied().enumerate().filter(|(_, price)| *price > 0.0);
        let below = present - PROVEN * present.max(1.0);
        let mut blend = self.blend.clone();
        // No rule of the brief: what the row rules out is asked of no rule.
        let coefficients = priced.collect();
        blend.rows.push(BlendRow { rule: usize::MAX, coefficients, upper: below, ..BlendRow::default() });
        let judge = |doses: &[Ppt]| {
            let judged = self.verifier.judge(doses)?;
            let is_asked = judged.loss <= self.loss + self.tie && judged.price_per_kg? < present;
            is_asked.then_some(judged)
        };
        // The search looks for what beats a ceiling by a margin of its own, and is
        // content where a bound lies no more than half as much again below it.
        let ceiling = self.loss + self.tie + 2.0 * CUTOFF_MARGIN * (self.loss + self.tie).max(1.0);
        let known = Known { ceiling: Some(ceiling), ..Known::default() };
        let outcome = search::search(&blend, &judge, self.verifier.tolerance(), Aim::Any, &known, self.control);
        match outcome {
            Ok(outcome) => match outcome.found {
                Some(Found { doses, .. }) => Asked::Cheaper(doses),
                None if outcome.bound >= self.loss + WITHIN * self.tie => Asked::None,
                None => Asked::NotKnown,
            },
            Err(_) => Asked::NotKnown,
        }
    }
}
