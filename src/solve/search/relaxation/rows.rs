//! Where each row of the relaxation stands.

use std::ops::Range;

use crate::model::{Blend, BlendView, LossCap};

/// The rows of a relaxation, in their order: what D is, the sum of 1000, then a
/// row a target, a rule, a count and a remainder, and for each cap of the blend
/// one for each of its targets and one for the sum of their gaps; at the end, for each
/// further view, what its D is, a row a target, and that it is not the worst.
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
    /// For each cap the rows of its targets, each with its gap. The sum of the
    /// gaps comes next.
    pub caps: Vec<Range<usize>>,
    /// Those of each further view.
    pub views: Vec<OfView>,
    /// How many there are.
    total: usize,
}

/// The rows of a further view.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfView {
    /// What its D is.
    pub d: usize,
    /// One a target: its gap.
    pub targets: Range<usize>,
    /// `N - lambda D` is at most the objective.
    pub worst: usize,
}

impl Rows {
    /// The row that says what D is.
    pub const D: usize = 0;
    /// The row of the sum of 1000.
    pub const SUM: usize = 1;

    /// The rows of a blend with some remainders.
    pub fn new(blend: &Blend, remainders: usize) -> Rows {
        let mut end = Rows::SUM + 1;
        let mut next = |number: usize| {
            let rows = end..end + number;
            end = rows.end;
            rows
        };
        let targets = next(blend.targets.len());
        let rules = next(blend.rows.len());
        let counts = next(blend.counts.len());
        let remainders = next(remainders);
        let of_cap = |cap: &LossCap| {
            let rows = next(cap.targets.len() + 1);
            rows.start..rows.end - 1
        };
        let caps = blend.caps.iter().map(of_cap).collect();
        let of_view = |view: &BlendView| {
            let rows = next(view.targets.len() + 2);
            OfView { d: rows.start, targets: rows.start + 1..rows.end - 1, worst: rows.end - 1 }
        };
        let views = blend.views.iter().map(of_view).collect();
        Rows { targets, rules, counts, remainders, caps, views, total: end }
    }

    /// How many there are.
    pub fn total(&self) -> usize {
        self.total
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

    /// The row of a target of a cap.
    pub fn cap_target(&self, cap: usize, index: usize) -> usize {
        self.caps[cap].start + index
    }

    /// The row of the sum of a cap's gaps.
    pub fn cap_sum(&self, cap: usize) -> usize {
        self.caps[cap].end
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
        let mut blend = Blend {
            columns: Vec::new(),
            targets: vec![target; 3],
            rows: vec![BlendRow::default(); 4],
            counts: vec![BlendCount { columns: Vec::new(), most: 1 }; 2],
            ladder: None,
            caps: Vec::new(),
            views: Vec::new(),
            materials: 0,
            contradiction: None,
        };
        let without = Rows::new(&blend, 1);
        let cap = LossCap { rule: None, targets: vec![target; 2], columns: Vec::new(), most: 1.0, room: 0.0 };
        blend.caps = vec![cap.clone(), LossCap { targets: vec![target], ..cap }];
        blend.views = vec![BlendView { targets: vec![target; 2], columns: Vec::new() }; 2];
        let rows = Rows::new(&blend, 1);
        let mut all = vec![Rows::D, Rows::SUM];
        all.extend((0..3).map(|index| rows.target(index)));
        all.extend((0..4).map(|index| rows.rule(index)));
        all.extend((0..2).map(|index| rows.count(index)));
        all.push(rows.remainder(0));
        all.extend((0..2).map(|index| rows.cap_target(0, index)));
        all.extend([rows.cap_sum(0), rows.cap_target(1, 0), rows.cap_sum(1)]);
        for OfView { d, targets, worst } in rows.views.clone() {
            all.push(d);
            all.extend(targets);
            all.push(worst);
        }
        assert_eq!(all, (0..rows.total()).collect::<Vec<_>>());
        assert_eq!(without.total(), rows.total() - 13);
        assert_eq!(rows.one_way(), rows.rule(0)..rows.remainder(0));
    }
}
