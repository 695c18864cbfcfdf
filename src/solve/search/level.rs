//! The best blend of a continuous model and its proof, by the relaxation of
//! the search alone: Dinkelbach's method, each step from the basis of the one
//! before.

use super::lp::SafeBound;
use super::relaxation::Relaxation;
use super::simplex::{Ended, Scratch};
use crate::model::Blend;

/// Steps of Dinkelbach's method; it converges faster than linearly.
const STEPS: usize = 40;
/// A step that lowers the loss by less than this part of it is the last.
const SETTLED: f64 = 1e-13;

/// The best point of a continuous model.
#[derive(Clone, Debug)]
pub struct Level {
    /// ppt of each column of the blend; empty where there is no blend at all.
    pub ppt: Vec<f64>,
    /// No blend has a loss below this, proven; infinite where there is none.
    pub bound: f64,
}

/// The best point, from a loss that need not be reached; `None` where rounding
/// has taken over.
pub fn level(blend: &Blend, from: f64) -> Option<Level> {
    let mut scratch = Scratch::default();
    let none = Level { ppt: Vec::new(), bound: f64::INFINITY };
    let Ok(mut relaxation) = Relaxation::new(blend, &mut scratch) else { return Some(none) };
    let boxes = relaxation.continuous_boxes(blend);
    let mut state = relaxation.start()?;
    relaxation.set_lambda(from);
    state.price(&relaxation.lp, &mut scratch);
    state.change_bounds(&relaxation.lp, &boxes, &mut scratch);
    let iterations = 2000 + 20 * relaxation.lp.rows;
    for _ in 0..STEPS {
        match state.run(&relaxation.lp, f64::INFINITY, iterations, &mut scratch) {
            Ended::Optimal => {}
            Ended::Infeasible(row) if relaxation.lp.proves_infeasible(state.inverse_row(row), state.boxes()) => {
                return Some(none);
            }
            _ => return None,
        }
        let (lambda, ratio) = (relaxation.lambda(), relaxation.ratio(&state));
        if (lambda - ratio).abs() <= SETTLED * lambda.max(1.0) {
            break;
        }
        relaxation.set_lambda(ratio);
        state.price(&relaxation.lp, &mut scratch);
    }
    let mut least = SafeBound::default();
    relaxation.lp.safe_bound(&state.multipliers, state.boxes(), &mut least);
    // N - lambda D >= F for every blend: above F / D below lambda.
    let d = if least.value < 0.0 { relaxation.lower[relaxation.d] } else { relaxation.upper[relaxation.d] };
    let n = relaxation.n;
    let ppt = (0..n).map(|k| ((state.value(k) + state.value(n + k)) * relaxation.scale_ppt[k]).max(0.0)).collect();
    Some(Level { ppt, bound: (relaxation.lambda() + least.value / d).max(0.0) })
}
