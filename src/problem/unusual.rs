//! Doses outside their usual range. They are marked wherever a formula is shown,
//! and a brief may count them.

use std::sync::Arc;

use super::usual::{OfColumns, UsualDoses};
use super::{Problem, RuleKind};
use crate::formula::Formula;

impl Problem {
    /// Whether the palette names usual doses of any material: otherwise nothing
    /// is said of them.
    pub fn knows_usual_doses(&self) -> bool {
        self.palette.materials.iter().any(|material| material.usual.is_some())
    }

    /// Whether the dose of a material in a formula is a usual one; `None` where
    /// its palette names none.
    pub fn is_usual(&self, formula: &Formula, material: usize) -> Option<bool> {
        let usual = UsualDoses::of(self.material(material), formula.basis)?;
        Some(usual.holds(formula.dose(material)))
    }

    /// The materials of a formula whose dose is outside their usual one, in the
    /// order of its parts.
    pub fn unusual(&self, formula: &Formula) -> Vec<usize> {
        let parts = formula.parts.iter().map(|(material, _)| *material);
        parts.filter(|&material| self.is_usual(formula, material) == Some(false)).collect()
    }

    /// The usual doses of every column that has some, in ppt of the basis.
    pub fn usual_doses(&self) -> OfColumns {
        let of = |column: usize| Some((column, UsualDoses::of(self.material(column), self.basis)?));
        (0..self.columns.len()).filter_map(of).collect()
    }

    /// The usual doses that a rule counts with, and how many materials it lets
    /// be outside them; the strictest where several rules do.
    pub fn counted_usual_doses(&self) -> Option<(OfColumns, usize)> {
        let counts = self.rules.iter().filter_map(|rule| match &rule.kind {
            RuleKind::MaxUnusual(usual) => Some((Arc::clone(usual), rule.at.max(0.0) as usize)),
            _ => None,
        });
        counts.min_by_key(|(_, most)| *most)
    }
}
