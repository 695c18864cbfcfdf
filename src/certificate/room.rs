//! The room of a row for what doubles take from decimals.

use super::exact::Exact;
use crate::model::{Blend, BlendRow};
use crate::units::Ppt;

/// The bound of a row, 1e9 times as large, with room for what doubles take from
/// the decimals of a rule: 2^-46 of its size, with what took itself away in its
/// numbers. Without it a formula that keeps a rule to the last part, and passes
/// its row by a last binary digit, could be proven away: of 469 - 470.55 = -1.55
/// a double is off by a part of 470, not of 1.55.
pub(super) fn bound(blend: &Blend, row: &BlendRow) -> Option<Exact> {
    let mut sizes = vec![Exact::zero(); blend.columns.len()];
    for &(k, a) in row.coefficients.iter().chain(&row.cancelled) {
        sizes[k].add(Exact::of(a)?.abs());
    }
    let (mut largest, mut filled) = (Exact::zero(), Exact::zero());
    for (size, column) in sizes.into_iter().zip(&blend.columns) {
        filled.add(size.times(&Exact::whole(column.most.units())));
        largest = largest.max(size);
    }
    let upper = Exact::of(row.upper)?.times(&Exact::whole(Ppt::UNITS));
    let mut size = largest.times(&Exact::whole(Ppt::WHOLE.units())).min(filled);
    size.add(upper.clone().abs());
    size.add(Exact::of(row.upper_cancelled)?.abs().times(&Exact::whole(Ppt::UNITS)));
    let mut bound = upper;
    bound.add(size.shifted(-46));
    Some(bound)
}
