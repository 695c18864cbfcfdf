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
        let boxes = Boxes { lower: &[0.0; 3], upper: &[2.0, 2.0, 3.0], live: &[0, 1, 2] };
        // The optimum is -5 at x = 1, y = 2, and -1 is the best multiplier.
        for (pi, expected) in [(-1.0, -5.0), (0.0, -6.0), (-2.0, -6.0), (1.0, -10.0)] {
            lp.safe_bound(&[pi], boxes, &mut bound);
            assert!(bound.value <= expected && bound.value > expected - 1e-9, "{pi}: {}", bound.value);
        }
    }

    #[test]
    fn infeasibility_needs_a_combination_that_cannot_hold() {
        let lp = small();
        let proves = |multiplier: f64, lower: [f64; 3], upper: [f64; 3]| {
            lp.proves_infeasible(&[multiplier], Boxes { lower: &lower, upper: &upper, live: &[0, 1, 2] })
        };
        assert!(!proves(1.0, [0.0; 3], [2.0, 2.0, 3.0]));
        assert!(proves(1.0, [0.0; 3], [1.0, 1.0, 0.5]));
        assert!(proves(-1.0, [2.0, 2.0, 0.0], [2.0, 2.0, 3.0]));
    }

    /// What is proven is proven of the numbers as they are: no bound lies above
    /// the one that exact arithmetic gives for the same multipliers. Without the
    /// rounding deducted, one in many does.
    #[test]
    fn no_bound_lies_above_the_exact_one() {
        use num_rational::BigRational;
        use num_traits::Zero;
        let exact = |value: f64| BigRational::from_float(value).expect("finite");
        let mut random = crate::chance::Chance::new(9, 0);
        let (mut bound, mut rounded_up) = (SafeBound::default(), 0);
        for _ in 0..2000 {
            let (rows, columns) = (3, 6);
            let mut lp = BoxedLp::new(rows);
            lp.rhs.iter_mut().for_each(|rhs| *rhs = random.between(-1.0, 1.0));
            for _ in 0..columns {
                let entries: Vec<(usize, f64)> = (0..rows).map(|row| (row, random.between(-1.0, 1.0))).collect();
                lp.push(random.between(-1.0, 1.0), entries);
            }
            let lower: Vec<f64> = (0..columns).map(|_| random.between(0.0, 1.0)).collect();
            let upper: Vec<f64> = lower.iter().map(|lower| lower + random.between(0.0, 1.0)).collect();
            let pi: Vec<f64> = (0..rows).map(|_| random.between(-3.0, 3.0)).collect();
            let live: Vec<u32> = (0..columns as u32).collect();
            lp.safe_bound(&pi, Boxes { lower: &lower, upper: &upper, live: &live }, &mut bound);

            let mut whole = BigRational::zero();
            let mut plain = 0.0;
            for (row, pi) in pi.iter().enumerate() {
                whole += exact(*pi) * exact(lp.rhs[row]);
                plain += pi * lp.rhs[row];
            }
            for j in 0..columns {
                let reduced = lp.column(j).fold(exact(lp.cost[j]), |d, (row, a)| d - exact(pi[row]) * exact(a));
                whole += (&reduced * exact(lower[j])).min(&reduced * exact(upper[j]));
                let reduced = lp.cost[j] - lp.dot(&pi, j);
                plain += (reduced * lower[j]).min(reduced * upper[j]);
            }
            assert!(exact(bound.value) <= whole, "{} above {whole}", bound.value);
            assert!(bound.value > plain - 1e-12, "{} far below {plain}", bound.value);
            rounded_up += usize::from(exact(plain) > whole);
        }
        assert!(rounded_up > 200, "{rounded_up} would lie above");
    }

    /// 0.1 x + 0.2 y = 0.3 holds at x = y = 1, though not in doubles.
    #[test]
    fn rounding_alone_rules_out_no_point() {
        let mut lp = BoxedLp::new(1);
        lp.rhs[0] = 0.3;
        lp.push(0.0, [(0, 0.1)]);
        lp.push(0.0, [(0, 0.2)]);
        let ones = [1.0; 2];
        let boxes = Boxes { lower: &ones, upper: &ones, live: &[0, 1] };
        assert_ne!(0.1 + 0.2, 0.3);
        for multiplier in [1.0, -1.0, 1e6, -1e-6] {
            assert!(!lp.proves_infeasible(&[multiplier], boxes), "{multiplier}");
            assert!(!lp.falls_short(&[multiplier], boxes), "{multiplier}");
        }
        // A billionth short is short.
        lp.rhs[0] = 0.3 + 1e-9;
        assert!(lp.proves_infeasible(&[1.0], boxes) && lp.proves_infeasible(&[-1.0], boxes));
        assert!(lp.falls_short(&[1.0], boxes) && !lp.falls_short(&[-1.0], boxes));
    }

    /// The exact value of a double.
    fn exact(value: f64) -> num_rational::BigRational {
        num_rational::BigRational::from_float(value).expect("finite")
    }

    /// Decimals that take each other away leave a reduced cost that is nothing but
    /// rounding, of one sign or the other, and boxes reach far on both sides: the bound is
    /// not above the exact one, and no further below than rounding is.
    #[test]
    fn what_is_left_of_decimals_has_no_sign() {
        let mut random = crate::chance::Chance::new(4, 0);
        let (mut bound, mut plain_above) = (SafeBound::default(), 0);
        for case in 0..1200 {
            let decimal = |random: &mut crate::chance::Chance| (random.between(1.0, 1000.0)).round() / 100.0;
            // One entry or several, of ones or of anything.
            let rows = 1 + case % 4;
            let (is_ones, scale) = (case % 8 < 4, if case % 3 == 0 { 1e6 } else { 1.0 });
            let mut lp = BoxedLp::new(rows);
            let entries: Vec<f64> = (0..rows).map(|_| if is_ones { 1.0 } else { decimal(&mut random) }).collect();
            let pi: Vec<f64> = (0..rows).map(|_| decimal(&mut random) * scale).collect();
            let cost = (entries.iter().zip(&pi).map(|(a, pi)| a * pi).sum::<f64>() * 1e4).round() / 1e4;
            lp.push(cost, entries.iter().copied().enumerate());
            lp.push(1.0, []);
            let ends = [(-1000.0, 1.0), (-1.0, 1000.0), (0.0, 1000.0)][case % 3];
            // The second column is held at 0, and its cost counts nothing.
            let boxes = Boxes { lower: &[ends.0, 0.0], upper: &[ends.1, 0.0], live: &[0, 1] };
            lp.safe_bound(&pi, boxes, &mut bound);
            assert_eq!(bound.reduced[1], 0.0);
            let d = entries.iter().zip(&pi).fold(exact(cost), |d, (a, pi)| d - exact(*a) * exact(*pi));
            let whole = (&d * exact(ends.0)).min(&d * exact(ends.1));
            assert!(exact(bound.value) <= whole, "{case}: {} above {whole}", bound.value);
            // A slack alone is off by its own rounding, whatever it is the difference of.
            let size = if rows == 1 && is_ones { 1.0 } else { 1e4 * scale };
            let least = 1e-15 * size * 1000.0 * 4.0;
            assert!(exact(bound.value + least) >= whole, "{case}: {} far below {whole}", bound.value);
            let rounded = cost - lp.dot(&pi, 0);
            plain_above += usize::from(exact((rounded * ends.0).min(rounded * ends.1)) > whole);
        }
        assert!(plain_above > 100, "{plain_above} would lie above");
    }

    /// A point that meets the rows exactly is ruled out by no multipliers, whatever is lost
    /// of them in doubles; a millionth beside it is.
    #[test]
    fn no_point_that_meets_the_rows_is_ruled_out() {
        let mut random = crate::chance::Chance::new(6, 0);
        let mut plain_rules_out = 0;
        for case in 0..800 {
            let (rows, columns) = (1 + case % 4, 1 + case % 5);
            let mut lp = BoxedLp::new(rows);
            let point: Vec<f64> = (0..columns).map(|_| random.between(-50.0, 50.0).round()).collect();
            for x in &point {
                // Of a few binary digits, so that rows times whole numbers are exact.
                let entries: Vec<f64> =
                    (0..rows).map(|_| (random.between(-1.0, 1.0) * 1024.0).round() / 1024.0).collect();
                entries.iter().zip(&mut lp.rhs).for_each(|(a, rhs)| *rhs += a * x);
                lp.push(0.0, entries.into_iter().enumerate());
            }
            let pi: Vec<f64> = (0..rows).map(|_| random.between(-1e3, 1e3)).collect();
            let live: Vec<u32> = (0..columns as u32).collect();
            let boxes = Boxes { lower: &point, upper: &point, live: &live };
            assert!(!lp.proves_infeasible(&pi, boxes) && !lp.falls_short(&pi, boxes), "{case}");
            let sum: f64 = (0..columns).map(|j| lp.dot(&pi, j) * point[j]).sum();
            plain_rules_out += usize::from(sum != pi.iter().zip(&lp.rhs).map(|(pi, b)| pi * b).sum::<f64>());
            // More is wanted than there is, and less.
            for (more, falls_short) in [(1e-6, true), (-1e-6, false)] {
                let mut other = lp.clone();
                other.rhs[0] += more * pi[0].signum();
                if pi[0].abs() > 1.0 {
                    assert!(other.proves_infeasible(&pi, boxes), "{case}");
                    assert_eq!(other.falls_short(&pi, boxes), falls_short, "{case}");
                }
            }
        }
        assert!(plain_rules_out > 100, "{plain_rules_out} would be ruled out");
    }
}
