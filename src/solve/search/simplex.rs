//! A bounded dual simplex method for programmes whose variables are all
//! boxed.
//!
//! Because every variable has two finite bounds, any basis is made dual
//! feasible by moving nonbasic variables to the bound that their reduced cost
//! asks for. So there is no first phase, and after any change of bounds or
//! costs the method goes on from the basis at hand. The basis inverse is kept
//! explicitly, which suits the 20 to 200 rows of a blend: exact dual steepest
//! edge weights come for free with it (Forrest & Goldfarb 1992), and a node of
//! a search copies it. The ratio test is the long-step rule (Maros 2003, ch.
//! 10): it passes breakpoints as long as the objective still rises.

use std::sync::Arc;

use super::lp::{BoxedLp, Boxes};
use crate::tolerance::simplex::{NEGLIGIBLE, SINGULAR};

/// How a run of the simplex method ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The basis is optimal, within tolerances.
    Optimal,
    /// Row `0` of the inverse (given by its index) suggests that no point
    /// exists; the caller verifies it with [`BoxedLp::proves_infeasible`].
    Infeasible(usize),
    /// The objective passed the cut-off.
    Cutoff,
    /// The iteration limit was reached; multipliers are still valid.
    Iterations,
    /// Numbers went wrong beyond repair.
    Trouble,
}

/// Where a variable is: in the basis, by its row, or at a bound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum VariableStatus {
    Basic(u32),
    AtLower,
    AtUpper,
}

/// A basis with everything that belongs to it.
#[derive(Clone, Debug)]
pub struct State {
    /// Lower bound of each column.
    pub lower: Vec<f64>,
    /// Upper bound of each column.
    pub upper: Vec<f64>,
    /// Multipliers of the rows.
    pub multipliers: Vec<f64>,
    pub(super) basis: Vec<u32>,
    pub(super) status: Vec<VariableStatus>,
    /// Row-major inverse of the basis matrix.
    pub(super) inverse: Vec<f64>,
    /// Squared norm of each row of the inverse.
    pub(super) norms: Vec<f64>,
    /// Values of the basic variables, by row.
    pub(super) values: Vec<f64>,
    /// Reduced costs of the nonbasic columns whose box is not a point.
    pub(super) reduced: Vec<f64>,
    pub(super) updates: u32,
    /// The loss that the inverse belongs to, where the programme's rows hold it.
    pub(super) lambda: f64,
    /// The columns whose box may still be more than the point 0.
    pub(super) live: Arc<[u32]>,
}

/// Buffers that runs reuse.
#[derive(Default)]
pub struct Scratch {
    pub(super) pivot_row: Vec<f64>,
    pub(super) touched: Vec<u32>,
    pub(super) breakpoints: Vec<(f64, u32)>,
    pub(super) column: Vec<f64>,
    pub(super) shift: Vec<f64>,
    pub(super) row: Vec<f64>,
    /// Iterations done so far, in all runs.
    pub iterations: u64,
}

/// Which columns are basic and where the others stand, without the numbers that follow.
#[derive(Clone, Debug)]
pub struct Basis {
    basis: Vec<u32>,
    status: Vec<VariableStatus>,
}

impl State {
    /// The basis alone.
    pub fn basis(&self) -> Basis {
        Basis { basis: self.basis.clone(), status: self.status.clone() }
    }

    /// The state of a programme that has the rows and columns of another, from that one's
    /// basis; `None` where it has not, or where the basis is singular in it.
    pub fn from_basis(lp: &BoxedLp, lower: Vec<f64>, upper: Vec<f64>, basis: &Basis) -> Option<State> {
        if basis.basis.len() != lp.rows || basis.status.len() != lp.columns() {
            return None;
        }
        let mut state = State {
            status: basis.status.clone(),
            reduced: vec![0.0; lower.len()],
            lower,
            upper,
            multipliers: vec![0.0; lp.rows],
            basis: basis.basis.clone(),
            inverse: vec![0.0; lp.rows * lp.rows],
            norms: vec![1.0; lp.rows],
            values: vec![0.0; lp.rows],
            updates: 0,
            lambda: 0.0,
            live: (0..lp.columns() as u32).collect(),
        };
        state.refactor(lp, &mut Scratch::default()).then_some(state)
    }

    /// A state whose basis are the given columns, one a row; each must be a
    /// unit column (a single entry) of its row.
    pub fn new(lp: &BoxedLp, lower: Vec<f64>, upper: Vec<f64>, basis: &[usize]) -> Option<State> {
        let basis = Basis {
            basis: basis.iter().map(|&j| j as u32).collect(),
            status: vec![VariableStatus::AtLower; lower.len()],
        };
        State::from_basis(lp, lower, upper, &basis)
    }

    /// Takes in columns that the programme has gained, held at 0, and looks from now on
    /// at the columns `live` alone. What is basic stays so.
    pub fn extend(&mut self, lp: &BoxedLp, live: Arc<[u32]>) {
        let columns = lp.columns();
        self.lower.resize(columns, 0.0);
        self.upper.resize(columns, 0.0);
        self.reduced.resize(columns, 0.0);
        self.status.resize(columns, VariableStatus::AtLower);
        self.live = live;
    }

    /// The columns that are looked at.
    pub fn live(&self) -> &Arc<[u32]> {
        &self.live
    }

    /// Computes all that follows from the basis afresh, after entries of the programme
    /// changed. False where the basis is singular now.
    pub fn renew(&mut self, lp: &BoxedLp, scratch: &mut Scratch) -> bool {
        self.refactor(lp, scratch)
    }

    /// The boxes of the columns.
    pub fn boxes(&self) -> Boxes<'_> {
        Boxes { lower: &self.lower, upper: &self.upper, live: &self.live }
    }

    /// Where a nonbasic column stands.
    pub(super) fn bound_value(&self, j: usize) -> f64 {
        if self.status[j] == VariableStatus::AtUpper { self.upper[j] } else { self.lower[j] }
    }

    /// The value of a column.
    pub fn value(&self, j: usize) -> f64 {
        match self.status[j] {
            VariableStatus::Basic(row) => self.values[row as usize],
            VariableStatus::AtLower => self.lower[j],
            VariableStatus::AtUpper => self.upper[j],
        }
    }

    /// The row of the inverse that [`Ended::Infeasible`] names.
    pub fn inverse_row(&self, row: usize) -> &[f64] {
        let m = self.basis.len();
        &self.inverse[row * m..(row + 1) * m]
    }

    /// The objective at the present values. For a dual feasible basis this
    /// is the dual objective, a lower bound but for rounding.
    pub fn objective(&self, lp: &BoxedLp) -> f64 {
        let live = self.live.iter().map(|&j| j as usize);
        live.filter(|&j| lp.cost[j] != 0.0).map(|j| lp.cost[j] * self.value(j)).sum()
    }

    /// Computes the inverse and all that follows from it afresh. False when
    /// the basis is singular.
    pub(super) fn refactor(&mut self, lp: &BoxedLp, scratch: &mut Scratch) -> bool {
        let m = lp.rows;
        self.inverse.fill(0.0);
        for row in 0..m {
            self.inverse[row * m + row] = 1.0;
        }
        // Unit columns first: they leave the inverse as sparse as it is.
        let mut columns = std::mem::take(&mut self.basis);
        columns.sort_by_key(|&j| (lp.column(j as usize).count(), j));
        self.basis = vec![u32::MAX; m];
        for &j in &columns {
            self.column_into(lp, j as usize, &mut scratch.column);
            let free = (0..m).filter(|&row| self.basis[row] == u32::MAX);
            let Some(row) =
                free.max_by(|&a, &b| scratch.column[a].abs().total_cmp(&scratch.column[b].abs()).then(b.cmp(&a)))
            else {
                return false;
            };
            if scratch.column[row].abs() < NEGLIGIBLE {
                self.basis = columns;
                return false;
            }
            self.update_inverse(row, &scratch.column);
            self.basis[row] = j;
            self.status[j as usize] = VariableStatus::Basic(row as u32);
        }
        for row in 0..m {
            let inverse = self.inverse_row(row);
            self.norms[row] = dot(inverse, inverse);
        }
        self.updates = 0;
        self.price(lp, scratch);
        true
    }

    /// Multipliers and reduced costs from the costs, nonbasic columns moved to
    /// the bound that their reduced cost asks for, and values from those.
    /// Called after costs changed.
    pub fn price(&mut self, lp: &BoxedLp, scratch: &mut Scratch) {
        let m = lp.rows;
        self.multipliers.fill(0.0);
        for row in 0..m {
            let cost = lp.cost[self.basis[row] as usize];
            if cost != 0.0 {
                let inverse = &self.inverse[row * m..(row + 1) * m];
                self.multipliers.iter_mut().zip(inverse).for_each(|(pi, v)| *pi += cost * v);
            }
        }
        for &j in self.live.iter() {
            let j = j as usize;
            if let VariableStatus::Basic(_) = self.status[j] {
                self.reduced[j] = 0.0;
            } else if self.lower[j] < self.upper[j] {
                let d = lp.cost[j] - lp.dot(&self.multipliers, j);
                self.reduced[j] = d;
                if d < 0.0 && self.status[j] == VariableStatus::AtLower {
                    self.status[j] = VariableStatus::AtUpper;
                } else if d > 0.0 && self.status[j] == VariableStatus::AtUpper {
                    self.status[j] = VariableStatus::AtLower;
                }
            }
        }
        self.compute_values(lp, scratch);
    }

    /// Values of the basic variables from those of the nonbasic ones.
    fn compute_values(&mut self, lp: &BoxedLp, scratch: &mut Scratch) {
        let m = lp.rows;
        scratch.shift.clear();
        scratch.shift.extend_from_slice(&lp.rhs);
        for &j in self.live.iter() {
            let j = j as usize;
            if !matches!(self.status[j], VariableStatus::Basic(_)) {
                let value = self.bound_value(j);
                if value != 0.0 {
                    lp.column(j).for_each(|(row, a)| scratch.shift[row] -= a * value);
                }
            }
        }
        for row in 0..m {
            let inverse = &self.inverse[row * m..(row + 1) * m];
            self.values[row] = dot(inverse, &scratch.shift);
        }
    }

    /// Sets new boxes for some columns and moves on from the present basis.
    pub fn change_bounds(&mut self, lp: &BoxedLp, changes: &[(usize, f64, f64)], scratch: &mut Scratch) {
        let m = lp.rows;
        scratch.shift.clear();
        scratch.shift.resize(m, 0.0);
        let mut moved = false;
        for &(j, lower, upper) in changes {
            if matches!(self.status[j], VariableStatus::Basic(_)) {
                (self.lower[j], self.upper[j]) = (lower, upper);
                continue;
            }
            let before = self.bound_value(j);
            if self.lower[j] == self.upper[j] && lower < upper {
                // The reduced cost of a fixed column is not kept up.
                self.reduced[j] = lp.cost[j] - lp.dot(&self.multipliers, j);
            }
            (self.lower[j], self.upper[j]) = (lower, upper);
            self.status[j] = if self.reduced[j] < 0.0 { VariableStatus::AtUpper } else { VariableStatus::AtLower };
            let by = self.bound_value(j) - before;
            if by != 0.0 {
                moved = true;
                lp.column(j).for_each(|(row, a)| scratch.shift[row] -= a * by);
            }
        }
        if moved {
            for row in 0..m {
                let inverse = &self.inverse[row * m..(row + 1) * m];
                self.values[row] += dot(inverse, &scratch.shift);
            }
        }
    }

    /// `inverse · A_j`.
    pub(super) fn column_into(&self, lp: &BoxedLp, j: usize, into: &mut Vec<f64>) {
        let m = lp.rows;
        into.clear();
        into.resize(m, 0.0);
        for (k, a) in lp.column(j) {
            for (row, sum) in into.iter_mut().enumerate() {
                *sum += self.inverse[row * m + k] * a;
            }
        }
    }

    /// Lets the inverse follow where entries of a column changed: (row, by how much).
    /// False where that makes the basis singular, or nearly so. The rest has to be
    /// [`State::price`]d afresh.
    pub(super) fn column_changed(&mut self, j: usize, changes: &[(usize, f64)], scratch: &mut Scratch) -> bool {
        let VariableStatus::Basic(at) = self.status[j] else { return true };
        let (m, at) = (self.basis.len(), at as usize);
        // Sherman and Morrison: the basis gains `change` times the unit row of `at`.
        let change = &mut scratch.column;
        change.clear();
        change.resize(m, 0.0);
        for &(k, by) in changes {
            for (row, sum) in change.iter_mut().enumerate() {
                *sum += self.inverse[row * m + k] * by;
            }
        }
        let pivot = 1.0 + change[at];
        if pivot.abs() < SINGULAR {
            return false;
        }
        scratch.row.clear();
        scratch.row.extend(self.inverse_row(at).iter().map(|value| value / pivot));
        for (row, chunk) in self.inverse.chunks_exact_mut(m).enumerate() {
            let factor = scratch.column[row];
            if factor != 0.0 {
                self.norms[row] = subtract(chunk, factor, &scratch.row);
            }
        }
        self.updates += 1;
        true
    }

    /// Replaces the basic column of `row` by one whose `inverse · A_j` is
    /// `column`, in the inverse alone.
    pub(super) fn update_inverse(&mut self, row: usize, column: &[f64]) {
        let m = column.len();
        let (before, rest) = self.inverse.split_at_mut(row * m);
        let (pivot_row, after) = rest.split_at_mut(m);
        let pivot = column[row];
        pivot_row.iter_mut().for_each(|v| *v /= pivot);
        self.norms[row] = dot(pivot_row, pivot_row);
        let others = before.chunks_exact_mut(m).enumerate();
        let others = others.chain(after.chunks_exact_mut(m).enumerate().map(|(i, chunk)| (row + 1 + i, chunk)));
        for (i, chunk) in others {
            let factor = column[i];
            if factor != 0.0 {
                self.norms[i] = subtract(chunk, factor, pivot_row);
            }
        }
    }
}

/// Lanes that sums are added up in: a chain of additions, each waiting for the
/// one before, would take several times as long. The order is fixed, so the
/// result is the same on every machine.
const LANES: usize = 8;

fn folded(lanes: [f64; LANES]) -> f64 {
    let [a, b, c, d, e, f, g, h] = lanes;
    ((a + e) + (c + g)) + ((b + f) + (d + h))
}

/// The sum of products.
pub(super) fn dot(left: &[f64], right: &[f64]) -> f64 {
    let (mut lanes, split) = ([0.0; LANES], left.len() / LANES * LANES);
    let (left, left_rest) = left.split_at(split);
    let (right, right_rest) = right.split_at(split.min(right.len()));
    for (a, b) in left.chunks_exact(LANES).zip(right.chunks_exact(LANES)) {
        for i in 0..LANES {
            lanes[i] += a[i] * b[i];
        }
    }
    let rest: f64 = left_rest.iter().zip(right_rest).map(|(a, b)| a * b).sum();
    folded(lanes) + rest
}

/// Takes `factor` times `by` from a row, and returns its squared norm.
fn subtract(row: &mut [f64], factor: f64, by: &[f64]) -> f64 {
    let mut lanes = [0.0; LANES];
    let (mut row, mut by) = (row.chunks_exact_mut(LANES), by.chunks_exact(LANES));
    for (a, b) in row.by_ref().zip(by.by_ref()) {
        for i in 0..LANES {
            a[i] -= factor * b[i];
            lanes[i] += a[i] * a[i];
        }
    }
    let mut rest = 0.0;
    for (a, b) in row.into_remainder().iter_mut().zip(by.remainder()) {
        *a -= factor * b;
        rest += *a * *a;
    }
    folded(lanes) + rest
}
