//! How little and how much of each material the blends have that are near
//! enough to the target: linear programmes over continuous doses, each end
//! verified as a blend.

use std::sync::Arc;

use super::borrowed::to_grid;
use super::verify::Verifier;
use super::{Answer, PROVEN, quiet, search};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;
use crate::tolerance::doses::END_PROVEN;
use crate::tolerance::loss::BELOW_CEILING;
use crate::tolerance::loss::WITHIN_CEILING;

/// A continuous problem under a ceiling of the loss.
pub struct Extent<'a> {
    problem: &'a Problem,
    blend: Blend,
    /// One programme; of a rule on idle weight one for each rung that has blends
    /// within the ceiling.
    within: Vec<search::Extent>,
    ceiling: f64,
}

/// The blend at the end of a direction.
#[derive(Clone, Debug)]
pub struct End {
    /// A blend that reaches it, verified: its loss is within the ceiling. Shared, since one
    /// blend may be the end of many directions.
    pub answer: Arc<Answer>,
    /// Whether it is certain that no blend within the ceiling goes further, to
    /// 1e-6 of what is added up.
    pub proven: bool,
}

impl<'a> Extent<'a> {
    /// The blends of a continuous problem (see [`Problem::relaxed`]) with a
    /// loss of at most `ceiling` score points; `None` where there is none or
    /// the problem is not continuous.
    pub fn new(relaxed: &'a Problem, ceiling: f64) -> Option<Extent<'a>> {
        let blend = Blend::new(relaxed);
        if !blend.is_continuous() || blend.contradiction.is_some() {
            return None;
        }
        let mut within = Vec::new();
        let rungs = blend.ladder.as_ref().map_or((0, 0), |ladder| (0, ladder.top()));
        add_rungs(&blend, rungs, ceiling * (1.0 - BELOW_CEILING), &mut within)?;
        if within.is_empty() {
            return None;
        }
        Some(Extent { problem: relaxed, blend, within, ceiling })
    }

    /// The blend with least of `sum cost[material] x[material]`, doses in ppt
    /// of the basis; `None` where the numbers did not hold.
    pub fn least(&self, cost: &[f64]) -> Option<End> {
        let of_columns: Vec<f64> = self.blend.columns.iter().map(|column| cost[column.material]).collect();
        let mut reached: Option<search::Reached> = None;
        let mut bound = f64::INFINITY;
        for within in &self.within {
            let own = quiet::catch(|| within.least(&of_columns)).ok()??;
            bound = bound.min(own.bound);
            if reached.as_ref().is_none_or(|best| own.value(&of_columns) < best.value(&of_columns)) {
                reached = Some(own);
            }
        }
        let reached = reached?;
        let doses = to_grid(&self.blend, &reached.ppt)?;
        let answer = Verifier::new(self.problem, &self.blend).answer(&doses).ok()?;
        let beyond = WITHIN_CEILING * self.ceiling.max(1.0);
        if answer.evaluation.loss > self.ceiling + beyond {
            return None;
        }
        let value: f64 = of_columns.iter().zip(&doses).map(|(cost, dose)| cost * dose.as_f64()).sum();
        let most = of_columns.iter().fold(0.0, |most: f64, cost| most.max(cost.abs()));
        Some(End { answer: Arc::new(answer), proven: value - bound <= END_PROVEN * 1000.0 * most })
    }

    /// Whether a material may be used, however little of it the rules leave.
    pub fn has(&self, material: usize) -> bool {
        self.blend.columns.iter().any(|column| column.material == material)
    }
}

/// Adds the programmes of some rungs of a blend, those that certainly have no blend
/// within the ceiling left out. `None` where the numbers did not hold.
fn add_rungs(blend: &Blend, (lo, hi): (usize, usize), ceiling: f64, within: &mut Vec<search::Extent>) -> Option<()> {
    let extent = quiet::catch(|| search::Extent::new(&blend.on_rungs((lo, hi)), ceiling)).ok()?;
    match extent {
        Some(_) if lo < hi => {
            let middle = lo.midpoint(hi);
            add_rungs(blend, (lo, middle), ceiling, within)?;
            add_rungs(blend, (middle + 1, hi), ceiling, within)?;
        }
        Some(extent) => within.push(extent),
        // Nothing is there, as far as the search's own multipliers prove it.
        None if blend.ladder.is_some() => {
            let least = search::root_bound(&blend.on_rungs((lo, hi)), &Control::default()).bound;
            return (least >= ceiling - PROVEN * ceiling.max(1.0)).then_some(());
        }
        None => {}
    }
    Some(())
}
