//! Traces that a continuous answer holds for nothing: doses that no balance
//! tells from none, and without which the formula is as near.

use super::Answer;
use super::verify::Verifier;
use crate::model::Blend;
use crate::problem::Problem;
use crate::tolerance::doses::TRACE_OF_STEP;
use crate::tolerance::loss::TIE;
use crate::units::Ppt;

/// The step that is thought of where the shelf names none, in ppt.
const STEP: f64 = 1.0;

/// The answer without its traces, as far as the rules allow and its loss stays
/// within 1e-7 max(1, loss); the largest dose that may take one takes it.
pub(super) fn cleared(problem: &Problem, blend: &Blend, verifier: &Verifier, answer: Answer) -> Answer {
    let Some(mut doses) = blend.column_doses(&answer.formula) else { return answer };
    let step = problem.palette.materials.iter().filter_map(|material| material.step.as_ref());
    let step = step.map(|step| step.value.as_f64()).fold(STEP, f64::min);
    let trace = Ppt::from_ppt(TRACE_OF_STEP * step);
    let is_trace = |k: &usize| !doses[*k].is_zero() && doses[*k] < trace && !blend.columns[*k].must;
    let traces: Vec<usize> = (0..doses.len()).filter(is_trace).collect();
    let (loss, mut clear) = (answer.evaluation.loss, answer);
    for k in traces {
        let takes = |&other: &usize| {
            let column = &blend.columns[other];
            other != k && column.step.is_zero() && doses[other] >= trace && doses[other] + doses[k] <= column.most
        };
        let mut takers: Vec<usize> = (0..doses.len()).filter(takes).collect();
        takers.sort_by_key(|&other| std::cmp::Reverse(doses[other]));
        let without = takers.into_iter().find_map(|taker| {
            let mut without = doses.clone();
            without[taker] = without[taker] + std::mem::take(&mut without[k]);
            let judged = verifier.judge(&without)?;
            let answer = verifier.answer(&without).ok()?;
            (judged.loss <= loss + TIE * loss.max(1.0)).then_some((without, answer))
        });
        if let Some(without) = without {
            (doses, clear) = without;
        }
    }
    clear
}
