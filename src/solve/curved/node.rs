//! A part of the tree: which materials are used, at which doses, and the basis from
//! which the simplex method goes on.

use std::sync::Arc;

use super::super::search::simplex::{Scratch, State};
use super::curve::{Span, dose_of, power};
use super::model::Model;
use super::relaxation::Relaxation;
use crate::units::Ppt;

/// Whether a material is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Use {
    /// Not decided.
    Open,
    /// It is, at a dose of its span.
    In,
    /// It is not.
    Out,
}

/// A part of the tree.
#[derive(Clone)]
pub(super) struct Node {
    pub uses: Vec<Use>,
    pub spans: Vec<Span>,
    pub state: State,
    /// How many splits lie above it.
    pub depth: usize,
    /// What `state` knows of: the loss to beat, and the boxes.
    lambda: f64,
    told_uses: Vec<Use>,
    told_spans: Vec<Span>,
}

/// A dose of a formula is on one side of a split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// The material is not used.
    Out,
    /// It is.
    In,
    /// It is used at this dose at most, or not at all.
    AtMost(Ppt),
    /// It is used, at this dose at least.
    AtLeast(Ppt),
    /// It is used, at this dose at most.
    InAtMost(Ppt),
    /// It is not used, or at this dose at least.
    AtLeastIfUsed(Ppt),
}

impl Node {
    /// The whole of a model; `None` where a material that has to be used cannot be.
    pub fn root(model: &Model, relaxation: &mut Relaxation) -> Option<Node> {
        let n = model.columns();
        let mut uses = Vec::with_capacity(n);
        let mut spans = model.spans.clone();
        for (k, span) in spans.iter_mut().enumerate() {
            let (must, is_empty) = (model.blend.columns[k].must, span.least > span.most);
            uses.push(match (must, is_empty) {
                (true, true) => return None,
                (false, true) => Use::Out,
                (true, false) => Use::In,
                (false, false) if model.has_switch[k] => Use::Open,
                (false, false) => {
                    // Left out is a dose of nothing.
                    span.least = Ppt::ZERO;
                    Use::In
                }
            });
        }
        let state = State::new(&relaxation.lp, relaxation.lower.clone(), relaxation.upper.clone(), &relaxation.start)?;
        let node = Node {
            told_uses: vec![Use::Open; n],
            told_spans: spans.clone(),
            uses,
            spans,
            state,
            lambda: relaxation.lambda,
            depth: 0,
        };
        // Nothing is a column yet: each material begins with a few doses.
        for k in 0..n {
            if node.uses[k] != Use::Out {
                let Span { least, most, .. } = node.spans[k];
                let (low, high) = (least.as_f64().max(1e-3), most.as_f64());
                for part in 1..FIRST_DOSES {
                    let ppt = low * libm::pow(high / low, f64::from(part) / f64::from(FIRST_DOSES));
                    let dose = node.spans[k].below(ppt);
                    if !dose.is_zero() {
                        relaxation.point(k, dose);
                    }
                }
                relaxation.point(k, most);
                if !least.is_zero() {
                    relaxation.point(k, least);
                }
            }
        }
        Some(node)
    }

    /// Whether nothing is open about a material.
    pub fn is_settled(&self, k: usize) -> bool {
        match self.uses[k] {
            Use::Out => true,
            Use::In => self.spans[k].is_point(),
            Use::Open => false,
        }
    }

    /// How many doses are open to a material.
    pub fn width(&self, k: usize) -> usize {
        let Span { least, most, step } = self.spans[k];
        if self.uses[k] == Use::Out { 0 } else { ((most - least).units() / step.units()) as usize + 1 }
    }

    /// The dose in ppt at some part of a material's span, as its power goes.
    pub fn within(&self, k: usize, part: f64) -> f64 {
        let (low, high) = (power(self.spans[k].least.as_f64()), power(self.spans[k].most.as_f64()));
        dose_of(low + part * (high - low))
    }

    /// Takes one side of a split. False where nothing is left of it.
    pub fn take(&mut self, k: usize, side: Side) -> bool {
        let span = &mut self.spans[k];
        match side {
            Side::Out => self.uses[k] = Use::Out,
            Side::In => self.uses[k] = Use::In,
            Side::AtMost(dose) => span.most = span.most.min(dose),
            Side::AtLeast(dose) => {
                self.uses[k] = Use::In;
                span.least = span.least.max(dose);
            }
            Side::InAtMost(dose) => {
                self.uses[k] = Use::In;
                span.most = span.most.min(dose);
            }
            Side::AtLeastIfUsed(dose) => span.least = span.least.max(dose),
        }
        if span.least > span.most && self.uses[k] == Use::Open {
            self.uses[k] = Use::Out;
        }
        self.uses[k] == Use::Out || self.spans[k].least <= self.spans[k].most
    }

    /// Brings the simplex state up to what the node and the relaxation are now. False
    /// where its numbers failed.
    pub fn settle(&mut self, relaxation: &mut Relaxation, scratch: &mut Scratch) -> bool {
        let n = self.uses.len();
        let grown = relaxation.lp.columns() > self.state.lower.len();
        let mut changes = Vec::new();
        let mut is_changed = vec![false; n];
        for (k, is_changed) in is_changed.iter_mut().enumerate() {
            *is_changed = self.uses[k] != self.told_uses[k] || self.spans[k] != self.told_spans[k];
            if *is_changed && self.uses[k] != Use::Out {
                let Span { least, most, .. } = self.spans[k];
                [least, most].into_iter().filter(|dose| !dose.is_zero()).for_each(|dose| {
                    relaxation.point(k, dose);
                });
            }
            if *is_changed {
                let is_optional = self.uses[k] != Use::In || self.spans[k].least.is_zero();
                changes.push((relaxation.unused(k), 0.0, if is_optional { 1.0 } else { 0.0 }));
            }
        }
        let has_new = grown || relaxation.lp.columns() > self.state.lower.len();
        if !changes.is_empty() || has_new {
            let mut live: Vec<u32> = (0..relaxation.first_point as u32).collect();
            let known = self.state.lower.len();
            for (index, point) in relaxation.points.iter().enumerate() {
                let j = relaxation.first_point + index;
                let Span { least, most, .. } = self.spans[point.k];
                let is_open = self.uses[point.k] != Use::Out && point.dose >= least && point.dose <= most;
                if is_open {
                    live.push(j as u32);
                }
                let upper = if is_open { 1.0 / point.unit } else { 0.0 };
                if j >= known && is_open || j < known && self.state.upper[j] != upper {
                    changes.push((j, 0.0, upper));
                }
            }
            let live: Arc<[u32]> = live.into();
            // Columns that leave are moved to 0 while they are still looked at.
            self.state.extend(&relaxation.lp, live);
            self.state.change_bounds(&relaxation.lp, &changes, scratch);
            self.told_uses.clone_from(&self.uses);
            self.told_spans.clone_from(&self.spans);
        }
        if self.lambda != relaxation.lambda {
            self.lambda = relaxation.lambda;
            if !self.state.renew(&relaxation.lp, scratch) {
                return self.restart(relaxation, scratch);
            }
        }
        true
    }

    /// Begins again from the slacks, where the numbers of a basis went wrong.
    pub fn restart(&mut self, relaxation: &Relaxation, scratch: &mut Scratch) -> bool {
        let live = Arc::clone(self.state.live());
        let (lower, upper) = (self.state.lower.clone(), self.state.upper.clone());
        let Some(state) = State::new(&relaxation.lp, lower, upper, &relaxation.start) else { return false };
        self.state = state;
        self.state.extend(&relaxation.lp, live);
        self.state.price(&relaxation.lp, scratch);
        self.lambda = relaxation.lambda;
        true
    }
}

/// Doses that a material has at first, in equal proportions from the least to the
/// greatest.
const FIRST_DOSES: u32 = 5;
