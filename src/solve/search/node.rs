//! A node of the tree: the subproblem that is left when something is decided
//! about each material, and the relaxation's state under those decisions.

use std::sync::Arc;

use super::grid::Grid;
use super::relaxation::Relaxation;
use super::simplex::{Scratch, State};
use crate::model::Blend;
use crate::tolerance::search::WIDER;
use crate::units::Ppt;

/// What is decided about the use of a material: the state of its binary variable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UseStatus {
    /// May still be left out.
    Undecided,
    /// Its dose lies between its bounds; those of a material without a least
    /// dose and outside any count start at 0.
    In,
    /// Left out.
    Out,
}

/// A change of one material's use or dose bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// Leave it out.
    Out,
    /// Use it, at least at this dose (at least its least dose).
    In(Ppt),
    /// If used, at most at this dose.
    AtMost(Ppt),
}

/// A node of the search tree.
#[derive(Clone)]
pub struct Node {
    /// The relaxation's state.
    pub state: State,
    /// What is decided about the use of each material.
    pub use_status: Vec<UseStatus>,
    /// Least dose of each material when used.
    pub least: Vec<Ppt>,
    /// Greatest dose of each material.
    pub most: Vec<Ppt>,
    /// For each count rule, how many of its materials are in.
    pub used: Vec<usize>,
    /// The count rules of each material.
    counts_of: Arc<[Vec<usize>]>,
    /// `N - lambda D` is at least this inside the node, in scaled units, for
    /// the `lambda` it was computed at.
    pub floor: (f64, f64),
    /// Least and greatest D inside the node, in units of its column.
    pub span: (f64, f64),
    /// Least and greatest sum of each of the relaxation's remainders.
    pub remainders: Vec<(Ppt, Ppt)>,
    /// Boxes that changed since the state last saw them.
    pending: Vec<usize>,
}

impl Node {
    /// The root: nothing decided but what the rules say outright. `None`
    /// when the relaxation's first basis fails.
    pub fn root(blend: &Blend, relaxation: &Relaxation) -> Option<Node> {
        let n = relaxation.n;
        let mut node = Node {
            state: relaxation.start()?,
            use_status: vec![UseStatus::Undecided; n],
            least: blend.columns.iter().map(|column| column.least).collect(),
            most: blend.columns.iter().map(|column| column.most).collect(),
            used: vec![0; relaxation.counts.len()],
            counts_of: Arc::clone(&relaxation.counts_of),
            floor: (f64::NEG_INFINITY, f64::INFINITY),
            span: (relaxation.lower[relaxation.d], relaxation.upper[relaxation.d]),
            remainders: relaxation
                .remainders
                .iter()
                .map(|kept| (kept.remainder.up(Ppt::ZERO), kept.remainder.down(kept.remainder.most)))
                .collect(),
            pending: (0..n).collect(),
        };
        for (k, column) in blend.columns.iter().enumerate() {
            if column.most < column.least {
                node.use_status[k] = UseStatus::Out;
            } else if column.must {
                node.use_status[k] = UseStatus::In;
                relaxation.counts_of[k].iter().for_each(|&count| node.used[count] += 1);
            } else if relaxation.counts_of[k].is_empty() && column.least <= column.step.max(Ppt::LEAST) {
                // Nothing tells using it from not using it: 0 is on its grid.
                node.use_status[k] = UseStatus::In;
                node.least[k] = Ppt::ZERO;
            }
        }
        Some(node)
    }

    /// Whether the material may take more than one dose.
    pub fn is_open(&self, k: usize) -> bool {
        match self.use_status[k] {
            UseStatus::Undecided => true,
            UseStatus::In => self.least[k] < self.most[k],
            UseStatus::Out => false,
        }
    }

    /// Applies a decision. False when it leaves the material no dose.
    pub fn decide(&mut self, k: usize, decision: Decision, grid: &Grid) -> bool {
        match decision {
            Decision::Out => {
                if self.use_status[k] == UseStatus::In && self.least[k] > Ppt::ZERO {
                    return false;
                }
                self.use_status[k] = UseStatus::Out;
            }
            Decision::In(least) => {
                let least = grid.up(k, least.max(self.least[k]));
                if self.use_status[k] == UseStatus::Out || least > self.most[k] {
                    return false;
                }
                if self.use_status[k] == UseStatus::Undecided {
                    self.use_status[k] = UseStatus::In;
                    self.counts_of[k].iter().for_each(|&count| self.used[count] += 1);
                }
                self.least[k] = least;
            }
            Decision::AtMost(most) => {
                let most = grid.down(k, most.min(self.most[k]));
                if most < self.least[k] {
                    if self.use_status[k] == UseStatus::In {
                        return false;
                    }
                    self.use_status[k] = UseStatus::Out;
                } else {
                    self.most[k] = most;
                }
            }
        }
        self.pending.push(k);
        true
    }

    /// Leaves out the undecided materials of every count that is full. False
    /// when more are in than may be.
    pub fn close_count(&mut self, relaxation: &Relaxation) -> bool {
        for (count, &used) in relaxation.counts.iter().zip(&self.used) {
            if used > count.most {
                return false;
            }
            if used == count.most {
                for &k in &count.members {
                    if self.use_status[k] == UseStatus::Undecided {
                        self.use_status[k] = UseStatus::Out;
                        self.pending.push(k);
                    }
                }
            }
        }
        true
    }

    /// Tells the relaxation's state what was decided since the last time.
    pub fn settle(&mut self, relaxation: &Relaxation, scratch: &mut Scratch) {
        if self.pending.is_empty() {
            return;
        }
        self.pending.sort_unstable();
        self.pending.dedup();
        let n = relaxation.n;
        let mut changes = Vec::with_capacity(2 * self.pending.len() + 2);
        let mut set = |state: &State, j: usize, lower: f64, upper: f64| {
            if state.lower[j] != lower || state.upper[j] != upper {
                changes.push((j, lower, upper));
            }
        };
        for &k in &self.pending {
            let scaled = |ppt: Ppt| (ppt.as_f64() / relaxation.scale_ppt[k]).min(self.within_span(k, relaxation));
            let (undecided, within) = match self.use_status[k] {
                UseStatus::Undecided => ((0.0, scaled(self.most[k])), (0.0, 0.0)),
                UseStatus::In => ((0.0, 0.0), (scaled(self.least[k]), scaled(self.most[k]))),
                UseStatus::Out => ((0.0, 0.0), (0.0, 0.0)),
            };
            set(&self.state, k, undecided.0, undecided.1);
            set(&self.state, n + k, within.0, within.1);
        }
        set(&self.state, relaxation.d, self.span.0, self.span.1);
        let narrowed = self.span.1 / relaxation.upper[relaxation.d];
        if narrowed < 1.0 {
            relaxation.gaps.clone().for_each(|j| set(&self.state, j, 0.0, relaxation.upper[j] * narrowed));
        }
        for (kept, (least, most)) in relaxation.remainders.iter().zip(&self.remainders) {
            set(&self.state, kept.column, least.as_f64() / kept.unit_ppt, most.as_f64() / kept.unit_ppt);
        }
        for (count, &used) in relaxation.counts.iter().zip(&self.used) {
            let used = used as f64;
            set(&self.state, count.used, used, used);
            set(&self.state, count.slack, 0.0, (count.most as f64 - used).max(0.0));
        }
        self.pending.clear();
        self.state.change_bounds(&relaxation.lp, &changes, scratch);
    }

    /// Takes the columns of materials that are out, and those of the way of
    /// being used that a material has left, from the ones that the state looks
    /// at: below this node they stay at 0. To be called once it is settled.
    pub fn forget_what_is_out(&mut self, relaxation: &Relaxation) {
        let n = relaxation.n;
        let alive = |j: usize| match self.use_status.get(j % n).filter(|_| j < 2 * n) {
            None => true,
            Some(UseStatus::Out) => false,
            Some(UseStatus::In) => j >= n,
            Some(UseStatus::Undecided) => true,
        };
        let others = relaxation.lp.columns() - 2 * n;
        let kept: usize = self
            .use_status
            .iter()
            .map(|status| match status {
                UseStatus::Undecided => 2,
                UseStatus::In => 1,
                UseStatus::Out => 0,
            })
            .sum();
        // A new list costs about as much as one look at the old one.
        if (kept + others) * 8 <= self.state.live.len() * 7 {
            self.state.live = self.state.live.iter().copied().filter(|&j| alive(j as usize)).collect();
        }
    }

    /// Dose of a material in ppt at the state's point.
    pub fn dose_ppt(&self, k: usize, relaxation: &Relaxation) -> f64 {
        let column = match self.use_status[k] {
            UseStatus::Undecided => k,
            UseStatus::In => relaxation.n + k,
            UseStatus::Out => return 0.0,
        };
        self.state.value(column) * relaxation.scale_ppt[k]
    }
}

impl Node {
    /// Sets the dose bounds of a material that is used, both on its grid.
    pub fn set_bounds(&mut self, k: usize, least: Ppt, most: Ppt) {
        if self.least[k] != least || self.most[k] != most {
            self.least[k] = least;
            self.most[k] = most;
            self.pending.push(k);
        }
    }

    /// Narrows the sum of a remainder. False when no sum is left.
    pub fn bound_remainder(&mut self, index: usize, least: Ppt, most: Ppt) -> bool {
        let bounds = &mut self.remainders[index];
        *bounds = (bounds.0.max(least), bounds.1.min(most));
        self.pending.push(0);
        self.remainders[index].0 <= self.remainders[index].1
    }

    /// Narrows D to what lies inside `span`.
    pub fn narrow(&mut self, span: (f64, f64)) {
        self.span = span;
        self.pending.extend(0..self.use_status.len());
    }

    /// The most of a material that a narrowed D leaves room for, in units of
    /// its columns.
    fn within_span(&self, k: usize, relaxation: &Relaxation) -> f64 {
        let narrowed = self.span.1 < relaxation.upper[relaxation.d] && relaxation.share[k] > 0.0;
        if narrowed { self.span.1 / relaxation.share[k] * (1.0 + WIDER) } else { f64::INFINITY }
    }

    /// Leaves a material out. False when it must be in.
    pub fn leave_out(&mut self, k: usize) -> bool {
        if self.use_status[k] == UseStatus::In && self.least[k] > Ppt::ZERO {
            return false;
        }
        self.use_status[k] = UseStatus::Out;
        self.pending.push(k);
        true
    }
}

impl Node {
    /// Starts the relaxation's state afresh under the present decisions. False
    /// when its first basis fails.
    pub fn restart(&mut self, relaxation: &Relaxation, scratch: &mut Scratch) -> bool {
        let Some(state) = relaxation.start() else { return false };
        self.state = state;
        self.pending = (0..relaxation.n).collect();
        self.settle(relaxation, scratch);
        true
    }
}
