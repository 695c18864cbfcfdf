//! From multipliers of the relaxation's rows to those of the model's, as a
//! certificate has them.

use super::super::simplex::State;
use super::{Capped, Relaxation, Rows};
use crate::certificate::{CapMultipliers, Multipliers};

impl Relaxation {
    /// Multipliers of the rows without what holds only because every column of
    /// the relaxation has an end: of rules and counts with the sign that they
    /// have, of targets as far as the loss goes.
    pub fn one_way(&self, of_rows: &[f64], objective: f64) -> Vec<f64> {
        let mut rows = of_rows.to_vec();
        for (i, value) in rows[self.rows.targets.clone()].iter_mut().enumerate() {
            let [above, below] = [0, 1].map(|side| objective * self.lp.cost[self.gaps.start + 2 * i + side]);
            *value = value.clamp(-above, below);
        }
        rows[self.rows.one_way()].iter_mut().for_each(|value| *value = value.min(0.0));
        for (index, cap) in self.caps.iter().enumerate() {
            let sum = self.rows.cap_sum(index);
            rows[sum] = rows[sum].min(0.0);
            let kappa = -rows[sum];
            for (value, (above, below)) in rows[self.rows.caps[index].clone()].iter_mut().zip(&cap.ends) {
                *value = value.clamp(-kappa * above, kappa * below);
            }
        }
        rows
    }

    /// What shows that no point exists: a row of the inverse, with the sign
    /// with which it does, as far as doubles can tell, and then with the other.
    pub fn farkas(&self, state: &State, row: usize) -> [Multipliers; 2] {
        let [plus, minus] = [1.0, -1.0].map(|sign| {
            let signed: Vec<f64> = state.inverse_row(row).iter().map(|value| sign * value).collect();
            self.one_way(&signed, 0.0)
        });
        let likelier = if self.lp.falls_short(&plus, state.boxes()) { [plus, minus] } else { [minus, plus] };
        likelier.map(|rows| self.multipliers(&rows, 0.0))
    }

    /// Multipliers of the relaxation's rows as multipliers of the model's.
    pub fn multipliers(&self, of_rows: &[f64], objective: f64) -> Multipliers {
        let rows = &self.rows;
        let of_cap = |(cap, at): (usize, &Capped)| CapMultipliers {
            cap,
            most: -of_rows[rows.cap_sum(cap)] / at.typical * self.d_ref,
            targets: rows.caps[cap]
                .clone()
                .enumerate()
                .map(|(i, row)| (i, -of_rows[row] / at.typical * self.d_ref))
                .collect(),
        };
        let some = |of: &std::ops::Range<usize>, value: &dyn Fn(usize) -> f64| -> Vec<(usize, f64)> {
            (0..of.len()).map(|i| (i, value(i))).filter(|(_, value)| *value != 0.0).collect()
        };
        Multipliers {
            objective,
            sum: of_rows[Rows::SUM] * self.d_ref / 1000.0,
            d: objective * self.lp.cost[self.d] - self.lp.dot(of_rows, self.d),
            targets: some(&rows.targets, &|i| -of_rows[rows.target(i)]),
            rules: some(&rows.rules, &|i| -of_rows[rows.rule(i)] / self.row_sizes[i] * self.d_ref),
            counts: some(&rows.counts, &|i| -of_rows[rows.count(i)] * self.d_ref),
            remainders: some(&rows.remainders, &|i| {
                of_rows[rows.remainder(i)] * self.d_ref / self.remainders[i].unit_ppt
            }),
            // Rows of rungs are rows of rules to the relaxation.
            rungs: Vec::new(),
            caps: self.caps.iter().enumerate().map(of_cap).filter(|of| of.most > 0.0).collect(),
        }
    }
}
