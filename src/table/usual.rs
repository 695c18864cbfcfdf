//! The columns of usual doses, there where the palette names some.

use super::{Cell, cells};
use crate::results::{FormulaReport, PartLine};

/// The titles; none where nothing is known of usual doses.
pub(super) fn usual_head(formula: &FormulaReport) -> Vec<&'static str> {
    if formula.unusual.is_some() { vec!["usual_least", "usual_most", "is_usual"] } else { Vec::new() }
}

/// The cells of a part, likewise.
pub(super) fn usual_cells(part: &PartLine) -> Vec<Cell> {
    let Some(line) = &part.usual else { return Vec::new() };
    let [least, most] = line.usual.map_or([None, None], |ends| ends.map(Some));
    cells![least, most, line.is_usual]
}
