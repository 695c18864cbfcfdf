//! A formula under trial moves: its sums kept up to date, so that a change of two
//! doses is judged without starting over.

use super::curve::power;
use super::model::Model;
use crate::brief::Law;
use crate::units::Ppt;

/// Doses with every sum that the views and the rules ask for.
#[derive(Clone)]
pub(super) struct Weighed<'m, 'a> {
    model: &'m Model<'a>,
    /// Dose of each column.
    pub doses: Vec<Ppt>,
    /// Their powers.
    powers: Vec<f64>,
    /// `D` and each `P` of each view.
    views: Vec<(f64, Vec<f64>)>,
    /// The sum of each row.
    rows: Vec<f64>,
    /// `D` and each `P` of each cap.
    caps: Vec<(f64, Vec<f64>)>,
    /// How many columns of each count are used.
    used: Vec<usize>,
    /// How far a row may be passed, as a share of its size.
    tolerance: f64,
}

/// How good a formula is: what it breaks first, then its loss.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub(super) struct Merit {
    /// Sum over the rules of how far each is passed, as a share of its size.
    pub broken: f64,
    /// Loss of the worst view in compared points.
    pub loss: f64,
}

impl Merit {
    /// Whether it is better than another by more than a hair.
    pub fn beats(self, other: Merit, by: f64) -> bool {
        if (self.broken - other.broken).abs() > by { self.broken < other.broken } else { self.loss < other.loss - by }
    }
}

impl<'m, 'a> Weighed<'m, 'a> {
    /// The sums of some doses.
    pub fn new(model: &'m Model<'a>, doses: &[Ppt], tolerance: f64) -> Weighed<'m, 'a> {
        let mut weighed = Weighed {
            model,
            doses: vec![Ppt::ZERO; doses.len()],
            powers: vec![0.0; doses.len()],
            views: model.views.iter().map(|view| (0.0, vec![0.0; view.targets.len()])).collect(),
            rows: vec![0.0; model.blend.rows.len()],
            caps: model.blend.caps.iter().map(|cap| (0.0, vec![0.0; cap.targets.len()])).collect(),
            used: vec![0; model.blend.counts.len()],
            tolerance,
        };
        for (k, &dose) in doses.iter().enumerate() {
            weighed.set(k, dose);
        }
        weighed
    }

    /// Gives a column another dose.
    pub fn set(&mut self, k: usize, dose: Ppt) {
        let before = std::mem::replace(&mut self.doses[k], dose);
        if before == dose {
            return;
        }
        let (old, new) = (before.as_f64(), dose.as_f64());
        let power = power(new);
        let bent = power - std::mem::replace(&mut self.powers[k], power);
        for (view, (d, odours)) in self.model.views.iter().zip(&mut self.views) {
            let by = if view.law == Law::Linear { new - old } else { bent };
            let adds = &view.columns[k];
            *d += adds.weight * by;
            adds.odours.iter().for_each(|&(target, odour)| odours[target] += odour * by);
        }
        let by = new - old;
        self.model.rows_of[k].iter().for_each(|&(row, a)| self.rows[row] += a * by);
        for (cap, (d, odours)) in self.model.blend.caps.iter().zip(&mut self.caps) {
            let adds = &cap.columns[k];
            *d += adds.weight * by;
            adds.odours.iter().for_each(|&(target, odour)| odours[target] += odour * by);
        }
        if before.is_zero() != dose.is_zero() {
            for &count in &self.model.counts_of[k] {
                self.used[count] = if dose.is_zero() { self.used[count] - 1 } else { self.used[count] + 1 };
            }
        }
    }

    /// The merit of the formula with two doses changed; the sums are as before
    /// afterwards, but for rounding.
    pub fn trial(&mut self, changes: &[(usize, Ppt)]) -> Merit {
        let mut before = [(0, Ppt::ZERO); 3];
        for (kept, &(k, dose)) in before.iter_mut().zip(changes) {
            *kept = (k, self.doses[k]);
            self.set(k, dose);
        }
        let merit = self.merit();
        for &(k, dose) in before[..changes.len()].iter().rev() {
            self.set(k, dose);
        }
        merit
    }

    /// How good the formula is as it stands, whatever its sum.
    pub fn merit(&self) -> Merit {
        let mut broken = 0.0;
        let mut pass = |over: f64, size: f64| {
            let by = over / size.max(f64::MIN_POSITIVE);
            if by > self.tolerance {
                broken += by;
            }
        };
        for (row, sum) in self.model.blend.rows.iter().zip(&self.rows) {
            let largest = row.coefficients.iter().map(|&(k, a)| (a * self.doses[k].as_f64()).abs()).fold(0.0, f64::max);
            pass(sum - row.upper, row.upper.abs().max(largest));
        }
        for (cap, (d, odours)) in self.model.blend.caps.iter().zip(&self.caps) {
            let gaps = cap.targets.iter().zip(odours).map(|(target, odour)| target.gap(odour / d));
            let ratio = if *d > 0.0 { gaps.sum() } else { 0.0 };
            pass(ratio - cap.most, cap.most.max(1.0));
        }
        for (count, used) in self.model.blend.counts.iter().zip(&self.used) {
            broken += used.saturating_sub(count.most) as f64;
        }
        let sums = self.views.iter().map(|(d, odours)| (*d, odours.as_slice()));
        Merit { broken, loss: self.model.worst(sums) }
    }

    /// The same formula with its sums computed afresh.
    pub fn fresh(&self) -> Weighed<'m, 'a> {
        Weighed::new(self.model, &self.doses, self.tolerance)
    }

    /// Whether one more column may be used.
    pub fn has_place_for(&self, k: usize) -> bool {
        let counts = &self.model.counts_of[k];
        counts.iter().all(|&count| self.used[count] < self.model.blend.counts[count].most)
    }
}
