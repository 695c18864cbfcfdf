//! What coarse steps leave to the fine ones. Doses on a grid of M, 2 M, 3 M ...
//! add up to a multiple of M, so all the others together must make up
//! 1000 less such a multiple. That sum is a column of the relaxation, and a
//! node can be split on it: without it a search tries many coarse doses one
//! after the other, none of which the fine ones can complete.

use crate::model::Blend;
use crate::units::Ppt;

/// The fine remainder beside a grid.
#[derive(Clone, Debug)]
pub struct Remainder {
    /// The coarse step M.
    pub step: Ppt,
    /// Columns whose doses need not be multiples of M.
    pub fine: Vec<usize>,
    /// Greatest sum of their doses.
    pub most: Ppt,
}

/// More remainders than this are not worth a row each.
const MOST: usize = 4;

impl Remainder {
    /// The remainders of a blend, the coarsest first: one for each step that
    /// some columns keep and others do not.
    pub fn all(blend: &Blend) -> Vec<Remainder> {
        let mut steps: Vec<Ppt> =
            blend.columns.iter().map(|column| column.step).filter(|step| *step > Ppt::ZERO).collect();
        steps.sort();
        steps.dedup();
        let of = |step: Ppt| {
            let keeps = |column: &crate::model::BlendColumn| {
                let on = |dose: Ppt| dose.units() % step.units() == 0;
                on(column.least)
                    && on(column.most)
                    && (column.least == column.most || !column.step.is_zero() && on(column.step))
            };
            let fine: Vec<usize> = (0..blend.columns.len()).filter(|&k| !keeps(&blend.columns[k])).collect();
            let most: Ppt = fine.iter().map(|&k| blend.columns[k].most).sum();
            let some = !fine.is_empty() && fine.len() < blend.columns.len();
            // A continuous dose completes whatever the others leave.
            let continuous = |k: &usize| blend.columns[*k].step.is_zero() && !blend.columns[*k].on_grid();
            (some && !fine.iter().any(continuous)).then_some(Remainder { step, fine, most: most.min(Ppt::WHOLE) })
        };
        let mut all: Vec<Remainder> = steps.into_iter().rev().filter_map(of).collect();
        all.dedup_by(|a, b| a.fine == b.fine);
        all.truncate(MOST);
        all
    }

    /// The greatest sum, not above the given one, that the coarse doses can
    /// complete to 1000.
    pub fn down(&self, sum: Ppt) -> Ppt {
        let (step, whole) = (self.step.units(), Ppt::WHOLE.units());
        let over = (sum.units() - whole).rem_euclid(step);
        Ppt::from_units(sum.units() - over)
    }

    /// The least sum, not below the given one, that the coarse doses can
    /// complete to 1000.
    pub fn up(&self, sum: Ppt) -> Ppt {
        let below = self.down(sum);
        if below == sum { sum } else { below + self.step }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_remainder_completes_to_a_whole() {
        let remainder = Remainder { step: Ppt::from_ppt(3.0), fine: vec![0], most: Ppt::WHOLE };
        // 1000 = 3 * 333 + 1.
        for (sum, down, up) in [(5.7, 4.0, 7.0), (4.0, 4.0, 4.0), (0.5, -2.0, 1.0)] {
            assert_eq!(remainder.down(Ppt::from_ppt(sum)), Ppt::from_ppt(down), "{sum}");
            assert_eq!(remainder.up(Ppt::from_ppt(sum)), Ppt::from_ppt(up), "{sum}");
        }
    }
}
