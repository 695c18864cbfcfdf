//! A linear programme whose variables are all boxed, and what can be proven
//! of it from multipliers alone, in plain arithmetic.

/// minimise `cost · x` subject to `A x = rhs`; the boxes live in the simplex
/// state, since every node of a search has its own.
#[derive(Clone, Debug, Default)]
pub struct BoxedLp {
    /// Number of rows.
    pub rows: usize,
    /// Objective of each column.
    pub cost: Vec<f64>,
    /// Right-hand side of each row.
    pub rhs: Vec<f64>,
    starts: Vec<usize>,
    row_indices: Vec<u32>,
    values: Vec<f64>,
}

/// A lower bound and the reduced costs it rests on.
#[derive(Clone, Debug, Default)]
pub struct SafeBound {
    /// No point inside the boxes that meets the rows has a lower objective.
    pub value: f64,
    /// `cost - multipliers · A` of every column whose box is not a point;
    /// 0 for the others.
    pub reduced: Vec<f64>,
}

/// What rounding can do to a sum, as a share of the sum of |terms|: the unit
/// roundoff of an f64 times a generous number of operations.
const ROUNDING: f64 = 64.0 * f64::EPSILON;

impl BoxedLp {
    /// An empty programme with `rows` rows of right-hand side 0.
    pub fn new(rows: usize) -> BoxedLp {
        BoxedLp { rows, rhs: vec![0.0; rows], starts: vec![0], ..BoxedLp::default() }
    }

    /// Number of columns.
    pub fn columns(&self) -> usize {
        self.cost.len()
    }

    /// Adds a column and returns its index. Zero entries are left out.
    pub fn push(&mut self, cost: f64, entries: impl IntoIterator<Item = (usize, f64)>) -> usize {
        self.cost.push(cost);
        for (row, value) in entries {
            if value != 0.0 {
                self.row_indices.push(row as u32);
                self.values.push(value);
            }
        }
        self.starts.push(self.values.len());
        self.columns() - 1
    }

    /// The (row, value) entries of a column.
    #[inline]
    pub fn column(&self, j: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let range = self.starts[j]..self.starts[j + 1];
        self.row_indices[range.clone()].iter().map(|&row| row as usize).zip(self.values[range].iter().copied())
    }

    /// `multipliers · A_j`.
    #[inline]
    pub fn dot(&self, multipliers: &[f64], j: usize) -> f64 {
        self.column(j).map(|(row, value)| multipliers[row] * value).sum()
    }

    /// The lower bound that some multipliers prove, whatever they are:
    /// `pi b + sum_j min(d_j l_j, d_j u_j)` with `d = cost - pi A`, less what
    /// rounding may have added.
    pub fn safe_bound(&self, multipliers: &[f64], lower: &[f64], upper: &[f64], into: &mut SafeBound) {
        let (mut sum, mut size) = (0.0, 0.0);
        for (pi, b) in multipliers.iter().zip(&self.rhs) {
            sum += pi * b;
            size += (pi * b).abs();
        }
        into.reduced.clear();
        into.reduced.resize(self.columns(), 0.0);
        for j in 0..self.columns() {
            let (l, u) = (lower[j], upper[j]);
            if l == 0.0 && u == 0.0 {
                continue;
            }
            let (mut d, mut terms) = (self.cost[j], self.cost[j].abs());
            for (row, value) in self.column(j) {
                let product = multipliers[row] * value;
                d -= product;
                terms += product.abs();
            }
            sum += (d * l).min(d * u);
            size += terms * l.abs().max(u.abs());
            into.reduced[j] = d;
        }
        into.value = sum - ROUNDING * size;
    }

    /// Whether the combination `multipliers · A x = multipliers · rhs` cannot
    /// hold inside the boxes (Farkas): then no point does.
    pub fn proves_infeasible(&self, multipliers: &[f64], lower: &[f64], upper: &[f64]) -> bool {
        let (mut wanted, mut size) = (0.0, 0.0);
        for (pi, b) in multipliers.iter().zip(&self.rhs) {
            wanted += pi * b;
            size += (pi * b).abs();
        }
        let (mut least, mut most) = (0.0, 0.0);
        for j in 0..self.columns() {
            let (l, u) = (lower[j], upper[j]);
            if l == 0.0 && u == 0.0 {
                continue;
            }
            let (mut a, mut terms) = (0.0, 0.0);
            for (row, value) in self.column(j) {
                let product = multipliers[row] * value;
                a += product;
                terms += product.abs();
            }
            least += (a * l).min(a * u);
            most += (a * l).max(a * u);
            size += terms * l.abs().max(u.abs());
        }
        let doubt = ROUNDING * size;
        wanted > most + doubt || wanted < least - doubt
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// minimise -x - 2y, x + y + s = 3, 0 <= x, y <= 2, 0 <= s <= 3.
    fn small() -> BoxedLp {
        let mut lp = BoxedLp::new(1);
        lp.rhs[0] = 3.0;
        lp.push(-1.0, [(0, 1.0)]);
        lp.push(-2.0, [(0, 1.0)]);
        lp.push(0.0, [(0, 1.0)]);
        lp
    }

    #[test]
    fn any_multipliers_bound_from_below() {
        let (lp, mut bound) = (small(), SafeBound::default());
        let (lower, upper) = ([0.0; 3], [2.0, 2.0, 3.0]);
        // The optimum is -5 at x = 1, y = 2, and -1 is the best multiplier.
        for (pi, expected) in [(-1.0, -5.0), (0.0, -6.0), (-2.0, -6.0), (1.0, -10.0)] {
            lp.safe_bound(&[pi], &lower, &upper, &mut bound);
            assert!(bound.value <= expected && bound.value > expected - 1e-9, "{pi}: {}", bound.value);
        }
    }

    #[test]
    fn infeasibility_needs_a_combination_that_cannot_hold() {
        let lp = small();
        assert!(!lp.proves_infeasible(&[1.0], &[0.0; 3], &[2.0, 2.0, 3.0]));
        assert!(lp.proves_infeasible(&[1.0], &[0.0; 3], &[1.0, 1.0, 0.5]));
        assert!(lp.proves_infeasible(&[-1.0], &[2.0, 2.0, 0.0], &[2.0, 2.0, 3.0]));
    }
}
