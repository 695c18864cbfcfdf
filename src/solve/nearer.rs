//! Among the formulas that lose little match against the best, the one nearest
//! to a known formula: a second search with the distance for an objective and
//! the loss under a cap.

use super::search::{self, Aim, Found, Judged, Known};
use super::verify::Verifier;
use super::{Answer, Failure, PROVEN};
use crate::control::Control;
use crate::formula::Formula;
use crate::model::Blend;
use crate::problem::{Problem, Skeleton};
use crate::tolerance::loss::TIE;
use crate::units::Ppt;

/// The part of a tie inside which the search looks, so that rounding stays
/// within it.
const WITHIN: f64 = 0.9;
/// The part of the time that is left which the search may take.
const SHARE: f64 = 0.5;

/// The nearest formula that was found.
#[derive(Clone, Debug)]
pub struct Nearer {
    /// The formula, judged by the problem's own target.
    pub answer: Answer,
    /// How far it is from the known one, in percent.
    pub moved_percent: f64,
    /// None that loses as little match is nearer than this, in percent.
    pub bound_percent: f64,
}

impl Nearer {
    /// Whether it is proven that none is nearer, to a millionth of a percent.
    pub fn is_proven(&self) -> bool {
        self.moved_percent - self.bound_percent <= PROVEN * self.moved_percent.max(1.0)
    }
}

/// The formula inside the rules nearest to a skeleton among those whose match is
/// at most `give` percentage points below that of `best`, which may be the
/// nearest itself; with `give` 0 among those that tie with it. `None` where its
/// distance is not known.
///
/// # Errors
/// Where a result failed its check.
pub fn nearer(
    problem: &Problem,
    skeleton: &Skeleton,
    give: f64,
    best: &Answer,
    control: &Control,
) -> Result<Option<Nearer>, Failure> {
    let Some(present) = skeleton.moved_percent(problem, &best.formula) else { return Ok(None) };
    let blend = Blend::new(problem);
    let verifier = Verifier::new(problem, &blend);
    let loss = best.evaluation.loss;
    let tie = TIE * loss.max(1.0);
    let most = loss + give / 100.0 * problem.worst_loss();
    let among = blend.nearest_to(problem, skeleton, most + WITHIN * tie);
    let judge = |doses: &[Ppt]| {
        let judged = verifier.judge(doses).filter(|judged| judged.loss <= most + tie)?;
        let candidate = Formula::from_doses(problem.basis, &blend.palette_doses(doses));
        Some(Judged { loss: skeleton.moved_percent(problem, &candidate)?, ..judged })
    };
    let known = Known { formulas: blend.column_doses(&best.formula).into_iter().collect(), ..Known::default() };
    let control = Control { progress: None, ..control.with_share(SHARE) };
    let outcome =
        search::search(&among, &judge, verifier.tolerance(), Aim::Best, &known, &control).map_err(Failure::Internal)?;
    let bound = outcome.bound.max(0.0);
    let none = || Nearer { answer: best.clone(), moved_percent: present, bound_percent: bound.min(present) };
    let Some(Found { doses, judged }) = outcome.found else { return Ok(Some(none())) };
    if judged.loss >= present {
        return Ok(Some(none()));
    }
    let bound_percent = bound.min(judged.loss);
    Ok(Some(Nearer { answer: verifier.answer(&doses)?, moved_percent: judged.loss, bound_percent }))
}
