//! A formula under trial moves: its sums kept up to date, so that a move of
//! some dose from one material to another is judged without starting over.

use crate::model::{Blend, CapColumn};
use crate::problem::Target;
use crate::units::Ppt;

/// Doses of a blend's columns with every sum that the loss and the rules ask
/// for.
#[derive(Clone)]
pub struct Tally<'a> {
    blend: &'a Blend,
    /// Dose of each column.
    pub doses: Vec<Ppt>,
    d: f64,
    odours: Vec<f64>,
    activities: Vec<f64>,
    /// Size of each row: |upper| or the sum of |terms| at the start.
    sizes: Vec<f64>,
    /// (row, coefficient) of each column.
    by_column: &'a [Vec<(usize, f64)>],
    /// How far a row may be passed, as a share of its size.
    tolerance: f64,
    /// The sums of each of the blend's caps.
    capped: Vec<Sums>,
    /// The same of its further views.
    views: Vec<Sums>,
}

/// The sums of another ratio.
#[derive(Clone)]
struct Sums {
    d: f64,
    odours: Vec<f64>,
}

/// How good a formula is: what it breaks first, then its loss.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Merit {
    /// Sum over the rows of how far each is passed, as a share of its size.
    pub broken: f64,
    /// Loss in score points; infinite without an odour.
    pub loss: f64,
}

/// (row, coefficient) of each column of a blend.
pub fn rows_by_column(blend: &Blend) -> Vec<Vec<(usize, f64)>> {
    let mut by_column = vec![Vec::new(); blend.columns.len()];
    for (index, row) in blend.rows.iter().enumerate() {
        for &(column, a) in &row.coefficients {
            by_column[column].push((index, a));
        }
    }
    by_column
}

impl<'a> Tally<'a> {
    /// The sums of some doses. `by_column` is [`rows_by_column`] of the blend;
    /// rows may be passed by `tolerance`, a share of their size.
    pub fn new(blend: &'a Blend, by_column: &'a [Vec<(usize, f64)>], doses: Vec<Ppt>, tolerance: f64) -> Tally<'a> {
        let mut tally = Tally {
            blend,
            d: 0.0,
            odours: vec![0.0; blend.targets.len()],
            activities: vec![0.0; blend.rows.len()],
            sizes: blend.rows.iter().map(|row| row.upper.abs()).collect(),
            by_column,
            tolerance,
            capped: blend.caps.iter().map(|cap| Sums::new(&cap.targets)).collect(),
            views: blend.views.iter().map(|view| Sums::new(&view.targets)).collect(),
            doses,
        };
        for (k, rows) in by_column.iter().enumerate() {
            let ppt = tally.doses[k].as_f64();
            if ppt != 0.0 {
                tally.add(k, ppt);
                for &(row, a) in rows {
                    tally.sizes[row] = tally.sizes[row].max((a * ppt).abs());
                }
            }
        }
        tally
    }

    fn add(&mut self, k: usize, ppt: f64) {
        let column = &self.blend.columns[k];
        self.d += column.weight * ppt;
        column.odours.iter().for_each(|&(target, odour)| self.odours[target] += odour * ppt);
        self.by_column[k].iter().for_each(|&(row, a)| self.activities[row] += a * ppt);
        for (sums, cap) in self.capped.iter_mut().zip(&self.blend.caps) {
            sums.add(&cap.columns[k], ppt);
        }
        for (sums, view) in self.views.iter_mut().zip(&self.blend.views) {
            sums.add(&view.columns[k], ppt);
        }
    }

    /// Adds to the dose of one column; negative amounts take away.
    pub fn shift(&mut self, k: usize, by: Ppt) {
        self.doses[k] = self.doses[k] + by;
        self.add(k, by.as_f64());
    }

    /// How good the formula is as it stands. Rows passed by rounding alone
    /// are not broken.
    pub fn merit(&self) -> Merit {
        let mut broken = 0.0;
        for ((row, activity), size) in self.blend.rows.iter().zip(&self.activities).zip(&self.sizes) {
            let over = (activity - row.upper) / size.max(f64::MIN_POSITIVE);
            if over > self.tolerance {
                broken += over;
            }
        }
        for (capped, cap) in self.capped.iter().zip(&self.blend.caps) {
            let over = (loss(&cap.targets, &capped.odours, capped.d) - cap.most) / cap.most.max(1.0);
            if over > self.tolerance {
                broken += over;
            }
        }
        let further = self.views.iter().zip(&self.blend.views);
        let further = further.map(|(sums, view)| loss(&view.targets, &sums.odours, sums.d));
        Merit { broken, loss: further.fold(loss(&self.blend.targets, &self.odours, self.d), f64::max) }
    }

    /// Price per kg; `None` where a used column has none.
    pub fn price(&self) -> Option<f64> {
        let used = self.blend.columns.iter().zip(&self.doses).filter(|(_, dose)| !dose.is_zero());
        used.map(|(column, dose)| column.price.map(|price| price * dose.as_f64())).sum()
    }
}

impl Sums {
    fn new(targets: &[Target]) -> Sums {
        Sums { d: 0.0, odours: vec![0.0; targets.len()] }
    }

    fn add(&mut self, column: &CapColumn, ppt: f64) {
        self.d += column.weight * ppt;
        column.odours.iter().for_each(|&(target, odour)| self.odours[target] += odour * ppt);
    }
}

/// The weighted gaps of some sums; infinite without a `d`.
fn loss(targets: &[Target], odours: &[f64], d: f64) -> f64 {
    if d <= 0.0 {
        return f64::INFINITY;
    }
    let gap = |(target, odour): (&Target, &f64)| {
        let gap = odour / d - target.score;
        target.slope(gap > 0.0) * gap
    };
    targets.iter().zip(odours).map(gap).sum()
}
