//! Where each row of the relaxation stands.

use std::ops::Range;

use crate::model::{Blend, LossCap};

/// The rows of a relaxation, in their order: what D is, the sum of 1000, then a
/// row a target, a rule, a count and a remainder, and where the blend has a cap,
/// one for each of its targets and one for the sum of their gaps.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rows {
    /// One a target: its gap.
    pub targets: Range<usize>,
    /// One a linear rule.
    pub rules: Range<usize>,
    /// One a count rule.
    pub counts: Range<usize>,
    /// One a remainder: its sum.
    pub remainders: Range<usize>,
    /// One a target of the cap: its gap; none without a cap.
    pub cap_targets: Range<usize>,
    /// Whether the sum of the cap's gaps has a row, the last one.
    has_cap: bool,
}

impl Rows {
    /// The row that says what D is.
    pub const D: usize = 0;
    /// The row of the sum of 1000.
    pub const SUM: usize = 1;

    /// The rows of a blend with some remainders and, where it has one that says
    /// anything, its cap.
    pub fn new(blend: &Blend, remainders: usize, cap: Option<&LossCap>) -> Rows {
        let mut end = Rows::SUM + 1;
        let mut next = |number: usize| {
            let rows = end..end + number;
            end = rows.end;
            rows
        };
        Rows {
            targets: next(blend.targets.len()),
            rules: next(blend.rows.len()),
            counts: next(blend.counts.len()),
            remainders: next(remainders),
            cap_targets: next(cap.map_or(0, |cap| cap.targets.len())),
            has_cap: cap.is_some(),
        }
    }

    /// How many there are.
    pub fn total(&self) -> usize {
        self.cap_targets.end + usize::from(self.has_cap)
    }

    /// The row of a target.
    pub fn target(&self, index: usize) -> usize {
        self.targets.start + index
    }

    /// The row of a linear rule, by its index among the blend's rows.
    pub fn rule(&self, index: usize) -> usize {
        self.rules.start + index
    }

    /// The row of a count rule.
    pub fn count(&self, index: usize) -> usize {
        self.counts.start + index
    }

    /// The row of a remainder.
    pub fn remainder(&self, index: usize) -> usize {
        self.remainders.start + index
    }

    /// The row of a target of the cap.
    pub fn cap_target(&self, index: usize) -> usize {
        self.cap_targets.start + index
    }

    /// The row of the sum of the cap's gaps, where there is a cap.
    pub fn cap_sum(&self) -> usize {
        self.cap_targets.end
    }

    /// The rows whose multipliers have one sign: rules and counts.
    pub fn one_way(&self) -> Range<usize> {
        self.rules.start..self.counts.end
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{BlendCount, BlendRow};

    /// Every row has one place, and no place is left over.
    #[test]
    fn the_rows_follow_each_other_without_a_gap() {
        let target = crate::problem::Target { descriptor: 0, score: 1.0, weight: 1.0, excess: 1.0 };
        let blend = Blend {
            columns: Vec::new(),
            targets: vec![target; 3],
            rows: vec![BlendRow::default(); 4],
            counts: vec![BlendCount { columns: Vec::new(), most: 1 }; 2],
            ladder: None,
            cap: None,
            materials: 0,
            contradiction: None,
        };
        let cap = LossCap { targets: vec![target; 2], columns: Vec::new(), most: 1.0 };
        let rows = Rows::new(&blend, 1, Some(&cap));
        let mut all = vec![Rows::D, Rows::SUM];
        all.extend((0..3).map(|index| rows.target(index)));
        all.extend((0..4).map(|index| rows.rule(index)));
        all.extend((0..2).map(|index| rows.count(index)));
        all.push(rows.remainder(0));
        all.extend((0..2).map(|index| rows.cap_target(index)));
        all.push(rows.cap_sum());
        assert_eq!(all, (0..rows.total()).collect::<Vec<_>>());
        assert_eq!(Rows::new(&blend, 1, None).total(), rows.total() - 3);
        assert_eq!(rows.one_way(), rows.rule(0)..rows.remainder(0));
    }
}
