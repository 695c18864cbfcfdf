//! The part of all formulas that a line of the tree speaks of.

use super::{Change, Remainder, Said};
use crate::model::{Blend, BlendColumn};
use crate::units::{Ppt, gcd};

/// Which doses a column may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Doses {
    /// Whether it may be 0.
    pub may_be_out: bool,
    /// Whether it may be used at all.
    pub may_be_in: bool,
    /// Least dose when used.
    pub least: Ppt,
    /// Greatest dose when used.
    pub most: Ppt,
}

impl Doses {
    fn of(column: &BlendColumn, is_counted: bool) -> Doses {
        let may_be_in = column.least <= column.most;
        if may_be_in && !column.must && !is_counted && column.least <= column.step.max(Ppt::LEAST) {
            // Nothing tells using it from not using it: 0 is on its grid.
            return Doses { may_be_out: false, may_be_in, least: Ppt::ZERO, most: column.most };
        }
        Doses { may_be_out: !column.must, may_be_in, least: column.least, most: column.most }
    }

    fn is_empty(&self) -> bool {
        !self.may_be_out && !self.may_be_in
    }

    pub(super) fn is_settled(&self) -> bool {
        !self.may_be_in || !self.may_be_out && self.least == self.most
    }

    /// What is left of them.
    pub(super) fn after(mut self, said: Said, step: Ppt) -> Doses {
        match said {
            Said::Out => self.may_be_in = false,
            Said::In(least) => {
                self.may_be_out = false;
                self.least = self.least.max(least.ceil_to(step));
            }
            Said::AtLeast(least) => self.least = self.least.max(least.ceil_to(step)),
            Said::AtMost(most) => self.most = self.most.min(most.floor_to(step)),
        }
        self.may_be_in &= self.least <= self.most;
        self
    }

    /// What something that is said leaves out; `None` where that is nothing.
    pub(super) fn left_out(mut self, said: Said, step: Ppt) -> Option<Doses> {
        match said {
            Said::Out => self.may_be_out = false,
            Said::In(least) if least <= self.least => self.may_be_in = false,
            Said::In(least) => self.most = self.most.min(below(least, step)),
            Said::AtLeast(least) => {
                self.may_be_out = false;
                self.most = self.most.min(below(least, step));
            }
            Said::AtMost(most) => {
                self.may_be_out = false;
                self.least = self.least.max(above(most, step));
            }
        }
        self.may_be_in &= self.least <= self.most;
        (!self.is_empty()).then_some(self)
    }
}

/// A D that no 1000 parts pass.
pub fn greatest_d(blend: &Blend) -> f64 {
    1000.0 * (1.0 + 1e-9) * blend.columns.iter().map(|column| column.weight).fold(0.0, f64::max)
}

/// The greatest dose of a grid below a dose; the dose itself where doses are
/// continuous, since the least unit is no step to speak of.
fn below(dose: Ppt, step: Ppt) -> Ppt {
    if step.units() == 1 { dose } else { (dose - Ppt::from_units(1)).floor_to(step) }
}

/// The least dose of a grid above a dose, likewise.
pub(super) fn above(dose: Ppt, step: Ppt) -> Ppt {
    if step.units() == 1 { dose } else { (dose + Ppt::from_units(1)).ceil_to(step) }
}

/// The step of a column; the least unit where doses are continuous.
pub(super) fn step_of(column: &BlendColumn) -> Ppt {
    Ppt::from_units(column.step.units().max(1))
}

/// A part of all formulas.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// Doses of each column.
    pub doses: Vec<Doses>,
    /// Least and greatest sum of each remainder.
    pub remainders: Vec<(Ppt, Ppt)>,
    /// Least and greatest D.
    pub d: (f64, f64),
}

impl Part {
    /// All formulas.
    pub(super) fn whole(blend: &Blend, remainders: &[Remainder]) -> Part {
        let is_counted = |k: usize| blend.counts.iter().any(|count| count.columns.contains(&k));
        let doses: Vec<Doses> =
            blend.columns.iter().enumerate().map(|(k, column)| Doses::of(column, is_counted(k))).collect();
        let range = |Remainder { step, columns }: &Remainder| {
            let most: Ppt = columns.iter().map(|&k| blend.columns[k].most).sum();
            // The sums that a multiple of the step completes to 1000.
            let least = (-Ppt::WHOLE).ceil_to(*step) + Ppt::WHOLE;
            (least, (most.min(Ppt::WHOLE) - Ppt::WHOLE).floor_to(*step) + Ppt::WHOLE)
        };
        Part { remainders: remainders.iter().map(range).collect(), d: (0.0, greatest_d(blend)), doses }
    }

    /// Takes over what is said of a column.
    pub(super) fn apply(&mut self, blend: &Blend, (k, said): Change) {
        self.doses[k] = self.doses[k].after(said, step_of(&blend.columns[k]));
    }

    /// Leaves out what a full count has no room for. False where nothing is
    /// left.
    pub(super) fn close_counts(&mut self, blend: &Blend) -> bool {
        for count in &blend.counts {
            let is_in = |k: &&usize| !self.doses[**k].may_be_out;
            let used = count.columns.iter().filter(is_in).count();
            if used > count.most {
                return false;
            }
            if used == count.most {
                for &k in &count.columns {
                    if self.doses[k].may_be_out {
                        self.doses[k].may_be_in = false;
                    }
                }
            }
        }
        !self.doses.iter().any(Doses::is_empty)
            && self.remainders.iter().all(|(least, most)| least <= most)
            && self.d.0 <= self.d.1
    }

    /// The greatest common step of the columns that are not settled, one left
    /// out, and what the settled ones leave of 1000, in units; 0 where all are
    /// settled.
    pub(super) fn rest(&self, blend: &Blend, but: Option<usize>) -> (i64, i64) {
        let (mut step, mut rest) = (0, Ppt::WHOLE.units());
        for (k, doses) in self.doses.iter().enumerate() {
            if Some(k) == but {
                continue;
            }
            if !doses.is_settled() {
                step = gcd(step, step_of(&blend.columns[k]).units());
            } else if doses.may_be_in {
                rest -= doses.least.units();
            }
        }
        (step, rest)
    }

    /// Whether a formula may have an odour that counts, as it has to: D > 0.
    pub(super) fn may_smell(&self, blend: &Blend) -> bool {
        let smells = |(doses, column): (&Doses, &BlendColumn)| doses.may_be_in && column.weight > 0.0;
        blend.contradiction.is_none() && self.doses.iter().zip(&blend.columns).any(smells)
    }

    /// Whether no doses on their steps complete a sum of 1000.
    pub(super) fn has_no_sum(&self, blend: &Blend) -> bool {
        let cannot = |(step, rest): (i64, i64)| if step == 0 { rest != 0 } else { rest % step != 0 };
        let none_of = |k: usize| {
            let (step, rest) = self.rest(blend, Some(k));
            self.takes_none(blend, k, self.doses[k], step, rest) && !self.doses[k].is_settled()
        };
        cannot(self.rest(blend, None)) || (0..self.doses.len()).any(none_of)
    }

    /// Whether none of these doses of a column completes what the others, with
    /// their common step, leave.
    pub(super) fn takes_none(&self, blend: &Blend, k: usize, doses: Doses, step: i64, rest: i64) -> bool {
        let fits = |dose: i64| if step == 0 { dose == rest } else { (rest - dose).rem_euclid(step) == 0 };
        if doses.may_be_out && fits(0) {
            return false;
        }
        if !doses.may_be_in {
            return true;
        }
        let own = step_of(&blend.columns[k]).units();
        let first = doses.least.ceil_to(Ppt::from_units(own)).units();
        let last = doses.most.units();
        if step == 0 {
            return !(rest >= first && rest <= last && rest % own == 0);
        }
        // One period of its own steps meets every remainder that it can.
        let period = step / gcd(step, own);
        (0..period).map(|i| first + i * own).take_while(|dose| *dose <= last).all(|dose| !fits(dose))
    }
}
