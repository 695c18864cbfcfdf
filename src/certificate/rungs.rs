//! The rungs of a part under a rule on idle weight, and the rows that hold there.

use std::rc::Rc;

use super::exact::Exact;
use super::room::bound;
use crate::model::{Blend, BlendRow};

/// How many rows a part of the ladder has at most: the strength at most, the
/// strength at least, the idle weight at most.
pub(super) const KINDS: usize = 3;

/// The rungs of a part.
///
/// Theorem: a formula that stands on rung k keeps, with their room, the rows of
/// every step up to k (its strength at least, its weight at most) and of every
/// step above (its strength at most). So with lo <= k <= hi it keeps those of step
/// lo and of the step after hi.
#[derive(Clone, Debug)]
pub(super) struct Rungs {
    pub lowest: usize,
    pub highest: usize,
    rows: Rc<[Option<Row>; KINDS]>,
}

/// A row in exact numbers.
#[derive(Clone, Debug)]
pub(super) struct Row {
    /// (column, coefficient per ppt).
    pub entries: Vec<(usize, Exact)>,
    /// Its bound with its room, 1e9 times as large.
    pub bound: Exact,
}

impl Rungs {
    /// All rungs of a model, the lowest alone of one without a ladder. `None`
    /// where a number is not finite, or the steps do not rise.
    pub(super) fn all(blend: &Blend) -> Option<Rungs> {
        let Some(ladder) = &blend.ladder else { return Rungs::new(blend, 0, 0) };
        let rise = |pair: &[crate::model::ladder::Step]| {
            let lower =
                |(k, part): &(usize, f64)| pair[1].weight.iter().any(|(other, greater)| other == k && greater >= part);
            pair[0].strength < pair[1].strength && pair[0].weight.iter().all(lower)
        };
        let is_sound = ladder.steps.windows(2).all(rise)
            && ladder.steps.iter().flat_map(|step| &step.weight).all(|(_, part)| *part >= 0.0);
        is_sound.then(|| Rungs::new(blend, 0, ladder.top()))?
    }

    fn new(blend: &Blend, lowest: usize, highest: usize) -> Option<Rungs> {
        let rows = blend.ladder.as_ref().map_or([None, None, None], |ladder| ladder.rows((lowest, highest)));
        let exact = |row: BlendRow| -> Option<Row> {
            let entries: Option<Vec<_>> = row.coefficients.iter().map(|&(k, a)| Some((k, Exact::of(a)?))).collect();
            Some(Row { entries: entries?, bound: bound(blend, &row)? })
        };
        let mut made = [None, None, None];
        for (made, row) in made.iter_mut().zip(rows) {
            if let Some(row) = row {
                *made = Some(exact(row)?);
            }
        }
        Some(Rungs { lowest, highest, rows: Rc::new(made) })
    }

    /// Those of them up to a rung.
    pub(super) fn up_to(&self, blend: &Blend, highest: usize) -> Option<Rungs> {
        Rungs::new(blend, self.lowest, self.highest.min(highest))
    }

    /// Those of them from a rung on.
    pub(super) fn from(&self, blend: &Blend, lowest: usize) -> Option<Rungs> {
        Rungs::new(blend, self.lowest.max(lowest), self.highest)
    }

    pub(super) fn are_none(&self) -> bool {
        self.lowest > self.highest
    }

    /// A row by its kind; `None` where the part has no such row.
    pub(super) fn row(&self, kind: usize) -> Option<&Row> {
        self.rows.get(kind)?.as_ref()
    }
}
