//! What is searched, and for what.

use super::grid::Grid;
use super::outcome::{Aim, Judge};
use super::tally::rows_by_column;
use crate::control::Control;
use crate::model::Blend;

/// A blend to be searched with all that is asked of the search. Nothing of it
/// changes while it is searched, so that whatever was true of a node stays true.
pub(super) struct Instance<'a> {
    pub blend: &'a Blend,
    /// The check that every formula has to pass.
    pub judge: &'a Judge<'a>,
    /// How far a formula may pass a row before the judge is asked, as a share of
    /// the row's size.
    pub tolerance: f64,
    pub control: &'a Control,
    pub aim: Aim,
    /// (row, coefficient) of each column of the blend.
    pub rows_by_column: Vec<Vec<(usize, f64)>>,
    /// The doses that each material can take.
    pub grid: Grid,
}

impl<'a> Instance<'a> {
    /// A blend in which the best formula is sought.
    pub fn new(blend: &'a Blend, judge: &'a Judge<'a>, tolerance: f64, control: &'a Control) -> Instance<'a> {
        let (rows_by_column, grid) = (rows_by_column(blend), Grid::new(blend));
        Instance { blend, judge, tolerance, control, aim: Aim::Best, rows_by_column, grid }
    }

    /// The same under another control.
    pub fn under<'b>(&self, control: &'b Control) -> Instance<'b>
    where
        'a: 'b,
    {
        Instance { aim: self.aim, ..Instance::new(self.blend, self.judge, self.tolerance, control) }
    }
}
