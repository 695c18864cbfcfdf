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

use super::lp::BoxedLp;

/// Primal feasibility: a value may pass a bound by this much times
/// (1 + |bound|).
const PRIMAL: f64 = 1e-9;
/// Pivots smaller than this are not taken.
const PIVOT: f64 = 1e-7;
/// Entries of a pivot row smaller than this are taken as zero.
const NEGLIGIBLE: f64 = 1e-9;
/// Breakpoints this close to each other are tied.
const TIE: f64 = 1e-10;
/// The inverse is computed afresh after so many updates.
const REFACTOR_AFTER: u32 = 100;
/// After so many steps in a row that did not move the objective, costs are
/// perturbed to leave a possible cycle.
const STALL: u32 = 60;

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

/// A nonbasic variable's bound, or a basic variable's row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stand {
    Row(u32),
    Lower,
    Upper,
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
    basis: Vec<u32>,
    stand: Vec<Stand>,
    /// Row-major inverse of the basis matrix.
    inverse: Vec<f64>,
    /// Squared norm of each row of the inverse.
    norms: Vec<f64>,
    /// Values of the basic variables, by row.
    values: Vec<f64>,
    /// Reduced costs of the nonbasic columns whose box is not a point.
    reduced: Vec<f64>,
    updates: u32,
}

/// Buffers that runs reuse.
#[derive(Default)]
pub struct Scratch {
    pivot_row: Vec<f64>,
    touched: Vec<u32>,
    breakpoints: Vec<(f64, u32)>,
    column: Vec<f64>,
    shift: Vec<f64>,
    row: Vec<f64>,
    /// Iterations done so far, in all runs.
    pub iterations: u64,
}

impl State {
    /// A state whose basis are the given columns, one a row; each must be a
    /// unit column (a single entry) of its row.
    pub fn new(lp: &BoxedLp, lower: Vec<f64>, upper: Vec<f64>, basis: &[usize]) -> Option<State> {
        let mut state = State {
            stand: vec![Stand::Lower; lower.len()],
            reduced: vec![0.0; lower.len()],
            lower,
            upper,
            multipliers: vec![0.0; lp.rows],
            basis: basis.iter().map(|&j| j as u32).collect(),
            inverse: vec![0.0; lp.rows * lp.rows],
            norms: vec![1.0; lp.rows],
            values: vec![0.0; lp.rows],
            updates: 0,
        };
        state.refactor(lp, &mut Scratch::default()).then_some(state)
    }

    /// Where a nonbasic column stands.
    fn bound_value(&self, j: usize) -> f64 {
        if self.stand[j] == Stand::Upper { self.upper[j] } else { self.lower[j] }
    }

    /// The value of a column.
    pub fn value(&self, j: usize) -> f64 {
        match self.stand[j] {
            Stand::Row(row) => self.values[row as usize],
            Stand::Lower => self.lower[j],
            Stand::Upper => self.upper[j],
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
        (0..lp.columns()).filter(|&j| lp.cost[j] != 0.0).map(|j| lp.cost[j] * self.value(j)).sum()
    }

    /// Computes the inverse and all that follows from it afresh. False when
    /// the basis is singular.
    fn refactor(&mut self, lp: &BoxedLp, scratch: &mut Scratch) -> bool {
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
            self.stand[j as usize] = Stand::Row(row as u32);
        }
        for row in 0..m {
            self.norms[row] = self.inverse_row(row).iter().map(|v| v * v).sum();
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
        for j in 0..lp.columns() {
            if let Stand::Row(_) = self.stand[j] {
                self.reduced[j] = 0.0;
            } else if self.lower[j] < self.upper[j] {
                let d = lp.cost[j] - lp.dot(&self.multipliers, j);
                self.reduced[j] = d;
                if d < 0.0 && self.stand[j] == Stand::Lower {
                    self.stand[j] = Stand::Upper;
                } else if d > 0.0 && self.stand[j] == Stand::Upper {
                    self.stand[j] = Stand::Lower;
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
        for j in 0..lp.columns() {
            if !matches!(self.stand[j], Stand::Row(_)) {
                let value = self.bound_value(j);
                if value != 0.0 {
                    lp.column(j).for_each(|(row, a)| scratch.shift[row] -= a * value);
                }
            }
        }
        for row in 0..m {
            let inverse = &self.inverse[row * m..(row + 1) * m];
            self.values[row] = inverse.iter().zip(&scratch.shift).map(|(v, b)| v * b).sum();
        }
    }

    /// Sets new boxes for some columns and moves on from the present basis.
    pub fn change_bounds(&mut self, lp: &BoxedLp, changes: &[(usize, f64, f64)], scratch: &mut Scratch) {
        let m = lp.rows;
        scratch.shift.clear();
        scratch.shift.resize(m, 0.0);
        let mut moved = false;
        for &(j, lower, upper) in changes {
            if matches!(self.stand[j], Stand::Row(_)) {
                (self.lower[j], self.upper[j]) = (lower, upper);
                continue;
            }
            let before = self.bound_value(j);
            if self.lower[j] == self.upper[j] && lower < upper {
                // The reduced cost of a fixed column is not kept up.
                self.reduced[j] = lp.cost[j] - lp.dot(&self.multipliers, j);
            }
            (self.lower[j], self.upper[j]) = (lower, upper);
            self.stand[j] = if self.reduced[j] < 0.0 { Stand::Upper } else { Stand::Lower };
            let by = self.bound_value(j) - before;
            if by != 0.0 {
                moved = true;
                lp.column(j).for_each(|(row, a)| scratch.shift[row] -= a * by);
            }
        }
        if moved {
            for row in 0..m {
                let inverse = &self.inverse[row * m..(row + 1) * m];
                self.values[row] += inverse.iter().zip(&scratch.shift).map(|(v, b)| v * b).sum::<f64>();
            }
        }
    }

    /// `inverse · A_j`.
    fn column_into(&self, lp: &BoxedLp, j: usize, into: &mut Vec<f64>) {
        let m = lp.rows;
        into.clear();
        into.resize(m, 0.0);
        for (k, a) in lp.column(j) {
            for (row, sum) in into.iter_mut().enumerate() {
                *sum += self.inverse[row * m + k] * a;
            }
        }
    }

    /// Replaces the basic column of `row` by one whose `inverse · A_j` is
    /// `column`, in the inverse alone.
    fn update_inverse(&mut self, row: usize, column: &[f64]) {
        let m = column.len();
        let (before, rest) = self.inverse.split_at_mut(row * m);
        let (pivot_row, after) = rest.split_at_mut(m);
        let pivot = column[row];
        pivot_row.iter_mut().for_each(|v| *v /= pivot);
        self.norms[row] = pivot_row.iter().map(|v| v * v).sum();
        let others = before.chunks_exact_mut(m).enumerate();
        let others = others.chain(after.chunks_exact_mut(m).enumerate().map(|(i, chunk)| (row + 1 + i, chunk)));
        for (i, chunk) in others {
            let factor = column[i];
            if factor != 0.0 {
                let mut norm = 0.0;
                for (v, p) in chunk.iter_mut().zip(pivot_row.iter()) {
                    *v -= factor * p;
                    norm += *v * *v;
                }
                self.norms[i] = norm;
            }
        }
    }

    /// How far a basic variable lies outside its box: positive below, negative
    /// above, 0 inside within tolerance.
    fn infeasibility(&self, row: usize) -> f64 {
        let j = self.basis[row] as usize;
        let (value, lower, upper) = (self.values[row], self.lower[j], self.upper[j]);
        if value < lower - PRIMAL * (1.0 + lower.abs()) {
            lower - value
        } else if value > upper + PRIMAL * (1.0 + upper.abs()) {
            upper - value
        } else {
            0.0
        }
    }

    /// Runs the dual simplex method until the basis is optimal, infeasible,
    /// past `cutoff`, or `iterations` are used up.
    pub fn run(&mut self, lp: &BoxedLp, cutoff: f64, iterations: usize, scratch: &mut Scratch) -> Ended {
        let mut objective = self.objective(lp);
        let (mut stalled, mut repaired, mut perturbed) = (0u32, 0u32, false);
        let mut left = iterations;
        loop {
            if self.updates >= REFACTOR_AFTER {
                if !self.refactor(lp, scratch) {
                    return Ended::Trouble;
                }
                objective = self.objective(lp);
            }
            if objective > cutoff {
                return Ended::Cutoff;
            }
            let Some(row) = self.leaving_row() else {
                if perturbed {
                    // Back to the true costs; the basis is still primal
                    // feasible or nearly so.
                    perturbed = false;
                    stalled = 0;
                    self.price(lp, scratch);
                    objective = self.objective(lp);
                    continue;
                }
                return Ended::Optimal;
            };
            if left == 0 {
                return Ended::Iterations;
            }
            left -= 1;
            scratch.iterations += 1;
            match self.step(lp, row, scratch) {
                Step::Rose(by) => {
                    objective += by;
                    if by > 1e-13 {
                        stalled = 0;
                    } else {
                        stalled += 1;
                    }
                    if stalled > STALL {
                        if perturbed && stalled > 20 * STALL {
                            return Ended::Trouble;
                        }
                        if !perturbed {
                            self.perturb();
                            perturbed = true;
                        }
                    }
                }
                Step::Unbounded => {
                    if self.updates > 0 && repaired < 3 {
                        repaired += 1;
                        if !self.refactor(lp, scratch) {
                            return Ended::Trouble;
                        }
                        objective = self.objective(lp);
                        continue;
                    }
                    return Ended::Infeasible(row);
                }
                Step::Unstable => {
                    if self.updates == 0 || repaired >= 3 {
                        return Ended::Trouble;
                    }
                    repaired += 1;
                    if !self.refactor(lp, scratch) {
                        return Ended::Trouble;
                    }
                    objective = self.objective(lp);
                }
            }
        }
    }

    /// The row with the largest infeasibility, measured by steepest edge.
    fn leaving_row(&self) -> Option<usize> {
        let mut best = None;
        let mut most = 0.0;
        for row in 0..self.basis.len() {
            let by = self.infeasibility(row);
            if by != 0.0 {
                let merit = by * by / self.norms[row];
                if merit > most {
                    most = merit;
                    best = Some(row);
                }
            }
        }
        best
    }

    /// Moves reduced costs of nonbasic columns a little away from 0, to the
    /// side on which they stay dual feasible. Amounts follow from the index.
    fn perturb(&mut self) {
        for j in 0..self.reduced.len() {
            if self.lower[j] < self.upper[j] {
                let by = 1e-9 * (1.0 + ((j as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40) as f64 / 16_777_216.0);
                match self.stand[j] {
                    Stand::Lower => self.reduced[j] += by,
                    Stand::Upper => self.reduced[j] -= by,
                    Stand::Row(_) => {}
                }
            }
        }
    }
}

/// What one step did.
enum Step {
    /// The dual objective rose by this much.
    Rose(f64),
    /// No column can enter: the dual is unbounded, the primal infeasible.
    Unbounded,
    /// The inverse disagrees with itself.
    Unstable,
}

impl State {
    /// One iteration: the variable of `row` leaves for the bound it violates.
    fn step(&mut self, lp: &BoxedLp, row: usize, scratch: &mut Scratch) -> Step {
        let m = lp.rows;
        let violation = self.infeasibility(row);
        let sign = violation.signum();
        scratch.row.clear();
        scratch.row.extend_from_slice(&self.inverse[row * m..(row + 1) * m]);
        self.pivot_row(lp, scratch);
        let Some((entering, ratio, gain)) = self.ratio_test(violation.abs(), sign, scratch) else {
            return Step::Unbounded;
        };

        // Columns passed on the way move to their other bound.
        scratch.shift.clear();
        scratch.shift.resize(m, 0.0);
        let mut flipped = false;
        for &(at, j) in &scratch.breakpoints {
            let j = j as usize;
            if at < 0.0 && j != entering {
                let before = self.bound_value(j);
                self.stand[j] = if self.stand[j] == Stand::Lower { Stand::Upper } else { Stand::Lower };
                let by = self.bound_value(j) - before;
                flipped = true;
                lp.column(j).for_each(|(k, a)| scratch.shift[k] -= a * by);
            }
        }
        if flipped {
            for i in 0..m {
                let inverse = &self.inverse[i * m..(i + 1) * m];
                self.values[i] += inverse.iter().zip(&scratch.shift).map(|(v, b)| v * b).sum::<f64>();
            }
        }

        let mut column = std::mem::take(&mut scratch.column);
        self.column_into(lp, entering, &mut column);
        let pivot = column[row];
        let expected = scratch.pivot_row[entering];
        if (pivot - expected).abs() > 1e-6 * (1.0 + pivot.abs()) || pivot.abs() < PIVOT {
            scratch.column = column;
            // The flips stand: they keep the basis a valid one.
            return Step::Unstable;
        }
        let leaving = self.basis[row] as usize;
        let bound = if sign > 0.0 { self.lower[leaving] } else { self.upper[leaving] };
        let primal = (self.values[row] - bound) / pivot;
        for (value, a) in self.values.iter_mut().zip(&column) {
            *value -= primal * a;
        }
        self.values[row] = self.bound_value(entering) + primal;

        // d_j moves by ratio * sign * pivot row; the multipliers go along.
        for &j in &scratch.touched {
            self.reduced[j as usize] += ratio * sign * scratch.pivot_row[j as usize];
        }
        self.reduced[entering] = 0.0;
        self.reduced[leaving] = ratio * sign;
        self.multipliers.iter_mut().zip(&scratch.row).for_each(|(pi, v)| *pi -= ratio * sign * v);

        self.stand[leaving] = if sign > 0.0 { Stand::Lower } else { Stand::Upper };
        self.stand[entering] = Stand::Row(row as u32);
        self.basis[row] = entering as u32;
        self.update_inverse(row, &column);
        self.updates += 1;
        scratch.column = column;
        Step::Rose(gain)
    }

    /// `row of the inverse · A_j` for every nonbasic column with a box.
    fn pivot_row(&self, lp: &BoxedLp, scratch: &mut Scratch) {
        scratch.pivot_row.resize(lp.columns(), 0.0);
        scratch.touched.clear();
        for j in 0..lp.columns() {
            if self.lower[j] < self.upper[j] && !matches!(self.stand[j], Stand::Row(_)) {
                let a = lp.dot(&scratch.row, j);
                scratch.pivot_row[j] = a;
                if a.abs() > NEGLIGIBLE {
                    scratch.touched.push(j as u32);
                }
            }
        }
    }

    /// The entering column, the step length in the dual and the rise of the
    /// objective. On return, `breakpoints` with a negative first entry were
    /// passed on the way.
    fn ratio_test(&self, violation: f64, sign: f64, scratch: &mut Scratch) -> Option<(usize, f64, f64)> {
        let breakpoints = &mut scratch.breakpoints;
        breakpoints.clear();
        for &j in &scratch.touched {
            let a = sign * scratch.pivot_row[j as usize];
            let blocks = match self.stand[j as usize] {
                Stand::Lower => a < 0.0,
                Stand::Upper => a > 0.0,
                Stand::Row(_) => false,
            };
            if blocks {
                breakpoints.push(((self.reduced[j as usize] / a).abs(), j));
            }
        }
        breakpoints.sort_unstable_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        let size = |j: u32| scratch.pivot_row[j as usize].abs();
        let (mut slope, mut gain, mut at) = (violation, 0.0, 0.0);
        // (index into breakpoints, where its group starts, gain up to it)
        let mut chosen: Option<(usize, usize, f64)> = None;
        let mut start = 0;
        while start < breakpoints.len() {
            let ratio = breakpoints[start].0;
            let mut end = start + 1;
            while end < breakpoints.len() && breakpoints[end].0 <= ratio + TIE {
                end += 1;
            }
            gain += slope * (ratio - at);
            at = ratio;
            let largest = (start..end)
                .max_by(|&x, &y| size(breakpoints[x].1).total_cmp(&size(breakpoints[y].1)).then(y.cmp(&x)))?;
            // A later breakpoint rises further, but a tiny pivot ruins the
            // inverse: then the last sound one before it is taken.
            if size(breakpoints[largest].1) >= PIVOT {
                chosen = Some((largest, start, gain));
            }
            for &(_, j) in &breakpoints[start..end] {
                slope -= size(j) * (self.upper[j as usize] - self.lower[j as usize]);
            }
            if slope <= 0.0 {
                break;
            }
            start = end;
        }
        if slope > 0.0 {
            // Even with every column at its other bound the row stays
            // violated; a slope of exactly 0 ends on the last breakpoint.
            return None;
        }
        let (index, group, gain) = chosen?;
        let (ratio, entering) = breakpoints[index];
        for breakpoint in &mut breakpoints[..group] {
            breakpoint.0 = -1.0;
        }
        Some((entering as usize, ratio, gain))
    }
}
