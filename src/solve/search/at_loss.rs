//! Whether a continuous model has a point below a loss, for many models that are alike: each
//! a part of the same whole, and solved from the basis of one before. One programme tells,
//! where the best point of each would take several.

use super::lp::SafeBound;
use super::relaxation::{Relaxation, Spans, greatest_loss};
use super::simplex::{Basis, Ended, Scratch, State};
use crate::model::Blend;

/// Steps of Dinkelbach's method where the best point is asked for.
const STEPS: usize = 20;
/// The best point is known when the loss falls by less, as a share of max(1, loss).
const SETTLED: f64 = 1e-10;

/// Models that are parts of one.
pub struct Alike {
    /// What is known of each D in all of them.
    spans: Spans,
    /// No point of any of them loses more.
    greatest: f64,
}

/// What a programme for a loss tells of a model.
pub enum AtLoss {
    /// No point loses less, proven.
    Closed,
    /// This may.
    Open {
        /// ppt of each column.
        ppt: Vec<f64>,
        /// From which a model alike goes on.
        basis: Basis,
    },
    /// Rounding has taken over.
    Trouble,
}

impl Alike {
    /// The parts of a model; `None` where it certainly has no point.
    pub fn new(whole: &Blend) -> Option<Alike> {
        let spans = Relaxation::spans(whole, &mut Scratch::default()).ok()?;
        Some(Alike { spans, greatest: greatest_loss(whole) })
    }

    /// A loss that no point of any of them passes.
    pub fn greatest(&self) -> f64 {
        self.greatest
    }

    /// Whether a part has a point that loses less.
    pub fn at_loss(&self, part: &Blend, loss: f64, from: Option<&Basis>) -> AtLoss {
        let Ok(mut relaxation) = Relaxation::of_spans(part, &self.spans) else { return AtLoss::Closed };
        // No point loses more than that, and slacks reach no further.
        relaxation.set_lambda(loss.min(relaxation.reach.lambda));
        let mut scratch = Scratch::default();
        let from_basis = from.and_then(|basis| relaxation.start_from(part, basis));
        let Some(state) = from_basis.or_else(|| cold(&relaxation, part, &mut scratch)) else { return AtLoss::Trouble };
        match run(&relaxation, state, &mut scratch) {
            AtLoss::Trouble if from.is_some() => match cold(&relaxation, part, &mut scratch) {
                Some(state) => run(&relaxation, state, &mut scratch),
                None => AtLoss::Trouble,
            },
            told => told,
        }
    }

    /// The point of a part that loses least, if one loses less than so much: ppt of each
    /// column.
    pub fn below(&self, part: &Blend, loss: f64) -> Option<Vec<f64>> {
        let mut relaxation = Relaxation::of_spans(part, &self.spans).ok()?;
        let mut scratch = Scratch::default();
        relaxation.set_lambda(loss.min(relaxation.reach.lambda));
        let mut state = cold(&relaxation, part, &mut scratch)?;
        let mut best = None;
        for _ in 0..STEPS {
            let ended = state.run(&relaxation.lp, f64::INFINITY, iterations(&relaxation), &mut scratch);
            let (at, ratio) = (relaxation.lambda(), relaxation.ratio(&state));
            if ended != Ended::Optimal || ratio >= at {
                break;
            }
            best = Some(ppt(&relaxation, &state));
            if at - ratio <= SETTLED * at.max(1.0) {
                break;
            }
            relaxation.set_lambda(ratio);
            relaxation.follow(&mut state, &mut scratch);
            state.price(&relaxation.lp, &mut scratch);
        }
        best
    }
}

fn iterations(relaxation: &Relaxation) -> usize {
    2000 + 20 * relaxation.lp.rows
}

/// From the slacks.
fn cold(relaxation: &Relaxation, part: &Blend, scratch: &mut Scratch) -> Option<State> {
    let mut state = relaxation.start()?;
    state.price(&relaxation.lp, scratch);
    state.change_bounds(&relaxation.lp, &relaxation.continuous_boxes(part), scratch);
    Some(state)
}

fn run(relaxation: &Relaxation, mut state: State, scratch: &mut Scratch) -> AtLoss {
    let mut bound = SafeBound::default();
    let mut cutoff = 0.0;
    loop {
        match state.run(&relaxation.lp, cutoff, iterations(relaxation), scratch) {
            Ended::Infeasible(row) if relaxation.lp.proves_infeasible(state.inverse_row(row), state.boxes()) => {
                return AtLoss::Closed;
            }
            Ended::Optimal | Ended::Cutoff => {}
            _ => return AtLoss::Trouble,
        }
        relaxation.lp.safe_bound(&state.multipliers, state.boxes(), &mut bound);
        if bound.value >= 0.0 {
            return AtLoss::Closed;
        }
        if cutoff.is_infinite() || state.objective(&relaxation.lp) <= cutoff {
            return AtLoss::Open { ppt: ppt(relaxation, &state), basis: state.basis() };
        }
        // So near to 0 that rounding decides: as far as it goes.
        cutoff = f64::INFINITY;
    }
}

/// ppt of each column of the blend at a state's point.
fn ppt(relaxation: &Relaxation, state: &State) -> Vec<f64> {
    let dose = |k: usize| (state.value(k) + state.value(relaxation.n + k)) * relaxation.scale_ppt[k];
    (0..relaxation.n).map(|k| dose(k).max(0.0)).collect()
}
