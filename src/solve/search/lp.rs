//! A linear programme whose variables are all boxed, and what can be proven
//! of it from multipliers alone, in plain arithmetic.

use crate::tolerance::simplex::{DOUBT_WIDER, ROUNDING};

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

/// The boxes of a programme's columns.
#[derive(Clone, Copy, Debug)]
pub struct Boxes<'a> {
    /// Lower bound of each column.
    pub lower: &'a [f64],
    /// Upper bound of each column.
    pub upper: &'a [f64],
    /// The columns to look at; all others are held at 0.
    pub live: &'a [u32],
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
        self.push_all(cost, entries.into_iter().filter(|(_, value)| *value != 0.0))
    }

    /// Adds a column with all its entries, for [`BoxedLp::set`], and returns its index.
    pub fn push_all(&mut self, cost: f64, entries: impl IntoIterator<Item = (usize, f64)>) -> usize {
        self.cost.push(cost);
        for (row, value) in entries {
            self.row_indices.push(row as u32);
            self.values.push(value);
        }
        self.starts.push(self.values.len());
        self.columns() - 1
    }

    /// Gives an entry that a column has another value. Inverses of bases that hold the
    /// column have to follow.
    pub fn set(&mut self, row: usize, j: usize, value: f64) {
        let range = self.starts[j]..self.starts[j + 1];
        if let Some(at) = self.row_indices[range.clone()].iter().position(|&own| own as usize == row) {
            self.values[range.start + at] = value;
        }
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
    pub fn safe_bound(&self, multipliers: &[f64], boxes: Boxes, into: &mut SafeBound) {
        let mut sum = Sum::default();
        multipliers.iter().zip(&self.rhs).for_each(|(pi, b)| sum.add(pi * b, 0.0));
        into.reduced.clear();
        into.reduced.resize(self.columns(), 0.0);
        for &j in boxes.live {
            let j = j as usize;
            let (l, u) = (boxes.lower[j], boxes.upper[j]);
            if l == 0.0 && u == 0.0 {
                continue;
            }
            let (d, doubt) = self.reduced(multipliers, j);
            // The end of the box that counts, where the sign of d is certain.
            let (at, reach) = if d > doubt {
                (d * l, l.abs())
            } else if d < -doubt {
                (d * u, u.abs())
            } else {
                ((d * l).min(d * u), l.abs().max(u.abs()))
            };
            sum.add(at, doubt * reach);
            into.reduced[j] = d;
        }
        into.value = sum.value - sum.doubt();
    }

    /// `cost - multipliers · A_j`, and how far rounding may have put it off.
    fn reduced(&self, multipliers: &[f64], j: usize) -> (f64, f64) {
        let (mut d, mut terms, mut operations) = (self.cost[j], self.cost[j].abs(), 1.0);
        let mut exact = true;
        for (row, value) in self.column(j) {
            let product = multipliers[row] * value;
            exact &= value.abs() == 1.0;
            d -= product;
            terms += product.abs();
            operations += 1.0;
        }
        // A single difference of numbers that are themselves exact, as in every
        // slack, is off by its own rounding alone.
        let terms = if exact && operations <= 2.0 { d.abs() } else { terms * operations };
        (d, ROUNDING * terms)
    }

    /// Whether the combination `multipliers · A x = multipliers · rhs` cannot
    /// hold inside the boxes (Farkas): then no point does.
    pub fn proves_infeasible(&self, multipliers: &[f64], boxes: Boxes) -> bool {
        let (wanted, least, most) = self.combined(multipliers, boxes);
        wanted.value - wanted.doubt() > most.value + most.doubt()
            || wanted.value + wanted.doubt() < least.value - least.doubt()
    }

    /// The same from one side: `multipliers · A x` never gets as far as
    /// `multipliers · rhs`.
    pub fn falls_short(&self, multipliers: &[f64], boxes: Boxes) -> bool {
        let (wanted, _, most) = self.combined(multipliers, boxes);
        wanted.value - wanted.doubt() > most.value + most.doubt()
    }

    /// `multipliers · rhs`, and the least and the greatest `multipliers · A x`
    /// inside the boxes.
    fn combined(&self, multipliers: &[f64], boxes: Boxes) -> (Sum, Sum, Sum) {
        let (mut wanted, mut least, mut most) = (Sum::default(), Sum::default(), Sum::default());
        multipliers.iter().zip(&self.rhs).for_each(|(pi, b)| wanted.add(pi * b, 0.0));
        for &j in boxes.live {
            let j = j as usize;
            let (l, u) = (boxes.lower[j], boxes.upper[j]);
            if l == 0.0 && u == 0.0 {
                continue;
            }
            let (mut a, mut terms, mut operations) = (0.0, 0.0, 1.0);
            for (row, value) in self.column(j) {
                let product = multipliers[row] * value;
                a += product;
                terms += product.abs();
                operations += 1.0;
            }
            let doubt = ROUNDING * terms * operations * l.abs().max(u.abs());
            least.add((a * l).min(a * u), doubt);
            most.add((a * l).max(a * u), doubt);
        }
        (wanted, least, most)
    }
}

/// A sum that knows how far rounding may have put it off.
#[derive(Default)]
struct Sum {
    value: f64,
    /// What the rounding of each addition may have taken, without the factor.
    rounded: f64,
    /// How far the terms themselves may be off.
    inherited: f64,
}

impl Sum {
    fn add(&mut self, term: f64, doubt: f64) {
        if term != 0.0 {
            self.value += term;
            // The term's own product, and the sum so far.
            self.rounded += term.abs() + self.value.abs();
        }
        self.inherited += doubt;
    }

    fn doubt(&self) -> f64 {
        // Twice, for the rounding of the estimate itself.
        2.0 * ROUNDING * self.rounded + self.inherited * (1.0 + DOUBT_WIDER)
    }
}

#[cfg(test)]
mod tests;
