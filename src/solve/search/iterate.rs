//! Iterations of the bounded dual simplex method: which variable leaves, which
//! enters (the long-step ratio test), and what to do when numbers go wrong.

use super::lp::BoxedLp;
use super::simplex::{Ended, Scratch, State, VariableStatus, dot};
use crate::tolerance::simplex::{DISAGREES, NEGLIGIBLE, PERTURBATION, PIVOT, PRIMAL, RISEN, TIED_RATIO};

/// The inverse is computed afresh after so many updates.
const REFACTOR_AFTER: u32 = 100;
/// After so many steps in a row that did not move the objective, costs are
/// perturbed to leave a possible cycle.
const STALL: u32 = 60;

impl State {
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
                    if by > RISEN {
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
        for &j in self.live.iter() {
            let j = j as usize;
            if self.lower[j] < self.upper[j] {
                let by =
                    PERTURBATION * (1.0 + ((j as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40) as f64 / 16_777_216.0);
                match self.status[j] {
                    VariableStatus::AtLower => self.reduced[j] += by,
                    VariableStatus::AtUpper => self.reduced[j] -= by,
                    VariableStatus::Basic(_) => {}
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
                self.status[j] = if self.status[j] == VariableStatus::AtLower {
                    VariableStatus::AtUpper
                } else {
                    VariableStatus::AtLower
                };
                let by = self.bound_value(j) - before;
                flipped = true;
                lp.column(j).for_each(|(k, a)| scratch.shift[k] -= a * by);
            }
        }
        if flipped {
            for i in 0..m {
                let inverse = &self.inverse[i * m..(i + 1) * m];
                self.values[i] += dot(inverse, &scratch.shift);
            }
        }

        let mut column = std::mem::take(&mut scratch.column);
        self.column_into(lp, entering, &mut column);
        let pivot = column[row];
        let expected = scratch.pivot_row[entering];
        if (pivot - expected).abs() > DISAGREES * (1.0 + pivot.abs()) || pivot.abs() < PIVOT {
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

        self.status[leaving] = if sign > 0.0 { VariableStatus::AtLower } else { VariableStatus::AtUpper };
        self.status[entering] = VariableStatus::Basic(row as u32);
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
        for &j in self.live.iter() {
            let at = j;
            let j = j as usize;
            if self.lower[j] < self.upper[j] && !matches!(self.status[j], VariableStatus::Basic(_)) {
                let a = lp.dot(&scratch.row, j);
                scratch.pivot_row[j] = a;
                if a.abs() > NEGLIGIBLE {
                    scratch.touched.push(at);
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
            let blocks = match self.status[j as usize] {
                VariableStatus::AtLower => a < 0.0,
                VariableStatus::AtUpper => a > 0.0,
                VariableStatus::Basic(_) => false,
            };
            if blocks {
                breakpoints.push(((self.reduced[j as usize] / a).abs(), j));
            }
        }
        let mut sorted = sort_more(breakpoints, 0);
        let size = |j: u32| scratch.pivot_row[j as usize].abs();
        let (mut slope, mut gain, mut at) = (violation, 0.0, 0.0);
        // (index into breakpoints, where its group starts, gain up to it)
        let mut chosen: Option<(usize, usize, f64)> = None;
        let mut start = 0;
        while start < breakpoints.len() {
            let ratio = breakpoints[start].0;
            let mut end = start + 1;
            loop {
                if end == sorted {
                    sorted = sort_more(breakpoints, sorted);
                }
                if end == breakpoints.len() || breakpoints[end].0 > ratio + TIED_RATIO {
                    break;
                }
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
        if slope > PRIMAL {
            // Even with every column at its other bound the row stays
            // violated. A slope of 0, but for rounding, is a row that just
            // holds there: the last breakpoint is taken.
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

/// Sorts the next few breakpoints after the first `sorted` ones, which are in
/// order; the test seldom gets far. Returns how many are in order then.
fn sort_more(breakpoints: &mut [(f64, u32)], sorted: usize) -> usize {
    const AT_ONCE: usize = 16;
    let order = |x: &(f64, u32), y: &(f64, u32)| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1));
    let rest = &mut breakpoints[sorted..];
    let next = rest.len().min(AT_ONCE);
    if next < rest.len() {
        rest.select_nth_unstable_by(next, order);
    }
    rest[..next].sort_unstable_by(order);
    sorted + next
}
