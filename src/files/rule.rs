//! Checks that several tables share.

use super::walk::Table;
use crate::place::Placed;
use crate::units::Ppt;

/// Complains where a table's lower bound lies above its upper one.
pub(super) fn ordered(table: &Table<'_>, low: &'static str, high: &'static str, min: Option<f64>, max: Option<f64>) {
    if let (Some(min), Some(max)) = (min, max)
        && min > max
        && let Some(field) = table.get(low)
    {
        let line = table.get(high).map_or(0, |field| field.place().line);
        field.report(format!("`{low}` is above `{high}`: {min} > {max}"), format!("`{high}` is on line {line}"));
    }
}

/// The same for doses.
pub(super) fn ordered_doses(
    table: &Table<'_>,
    low: &'static str,
    high: &'static str,
    min: &Option<Placed<Ppt>>,
    max: &Option<Placed<Ppt>>,
) {
    let number = |dose: &Option<Placed<Ppt>>| dose.as_ref().map(|dose| dose.value.as_f64());
    ordered(table, low, high, number(min), number(max));
}

/// The same for numbers.
pub(super) fn ordered_numbers(
    table: &Table<'_>,
    low: &'static str,
    high: &'static str,
    min: &Option<Placed<f64>>,
    max: &Option<Placed<f64>>,
) {
    let number = |placed: &Option<Placed<f64>>| placed.as_ref().map(|placed| placed.value);
    ordered(table, low, high, number(min), number(max));
}
