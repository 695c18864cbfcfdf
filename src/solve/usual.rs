//! Among the formulas that are as near as a best one, one with fewer doses
//! outside their usual range: the search once more under a count of such doses,
//! with a ceiling just above the loss, which closes as fast as the proof did.

use super::Answer;
use super::search::{self, Aim, Known};
use super::verify::Verifier;
use crate::control::Control;
use crate::model::Blend;
use crate::problem::{Problem, RuleId, RuleKind};
use crate::tolerance::loss::{CUTOFF_MARGIN, TIE};
use crate::units::Ppt;

/// Nodes that one step may take: a count, not a time, so that every run gives
/// the same answer.
const NODES: u64 = 2000;
/// The part of the time that is left which one step may take.
const SHARE: f64 = 0.1;

/// The answer itself, or one that ties with it (a loss within 1e-7 max(1, loss))
/// and has fewer unusual doses: the fewest, as far as the searches find them.
/// The answer keeps the rules of the problem and is proven best.
pub fn most_usual(problem: &Problem, answer: Answer, control: &Control) -> Answer {
    let most = answer.evaluation.loss + TIE * answer.evaluation.loss.max(1.0);
    let mut best = answer;
    loop {
        let unusual = problem.unusual(&best.formula).len();
        if unusual == 0 || control.should_stop() {
            return best;
        }
        let limited = Control {
            node_limit: Some(control.node_limit.map_or(NODES, |limit| limit.min(NODES))),
            ..control.with_share(SHARE).untold()
        };
        match with_fewer(problem, most, unusual - 1, &limited) {
            Some(fewer) => best = fewer,
            None => return best,
        }
    }
}

/// A formula with a loss of at most `most_loss` and at most so many unusual
/// doses; `None` where none is found.
fn with_fewer(problem: &Problem, most_loss: f64, unusual: usize, control: &Control) -> Option<Answer> {
    let kind = RuleKind::MaxUnusual(problem.usual_doses());
    let stricter = problem.with_rule_at(RuleId::MaxUnusual, kind, unusual as f64);
    let blend = Blend::new(&stricter);
    let verifier = Verifier::new(&stricter, &blend);
    let judge = |doses: &[Ppt]| verifier.judge(doses).filter(|judged| judged.loss <= most_loss);
    // The search looks for what beats a ceiling by a margin of its own.
    let ceiling = Some(most_loss + 2.0 * CUTOFF_MARGIN * most_loss.max(1.0));
    let known = Known { ceiling, ..Known::default() };
    // A search that fails has found nothing.
    let outcome = search::search(&blend, &judge, verifier.tolerance(), Aim::Any, &known, control).ok()?;
    verifier.answer(&outcome.found?.doses).ok()
}
