//! The usual doses of a line of a formula.

use serde::Serialize;

use crate::formula::Formula;
use crate::problem::{Problem, UsualDoses};
use crate::sentences;
use crate::units::Ppt;

/// The usual doses of a material, and whether its dose is one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UsualLine {
    /// The least and the greatest usual dose, neat in ppt as the palette has
    /// them; null where it names none of this material.
    pub usual: Option<[Ppt; 2]>,
    /// Whether the dose is one of them; null likewise.
    pub is_usual: Option<bool>,
    /// Whether the dose is above all of them, where it is none of them.
    #[serde(skip)]
    pub is_above: bool,
}

impl UsualLine {
    /// The line of a material in a formula; `None` where the palette names no
    /// usual doses at all.
    pub fn new(problem: &Problem, formula: &Formula, material: usize) -> Option<UsualLine> {
        problem.knows_usual_doses().then(|| {
            let doses = UsualDoses::of(problem.material(material), formula.basis);
            UsualLine {
                usual: problem.material(material).usual.map(|usual| [usual.least, usual.most]),
                is_usual: problem.is_usual(formula, material),
                is_above: doses.is_some_and(|doses| formula.dose(material) > doses.most),
            }
        })
    }

    /// How the dose is marked; `None` where it is usual, or nothing is known.
    pub fn mark(&self) -> Option<String> {
        let missed = self.usual.filter(|_| self.is_usual == Some(false))?;
        Some(sentences::usual::mark(missed, self.is_above))
    }
}
