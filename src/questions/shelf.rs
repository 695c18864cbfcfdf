//! What a shelf holds, lacks and has twice.

use super::Refusal;
use crate::analysis::palette::map::map;
use crate::analysis::palette::ranking::ranking;
use crate::analysis::palette::twins::twins;
use crate::control::Control;
use crate::escape::escaped;
use crate::palette::{Note, Palette};
use crate::results::shelf::{Looked, ShelfReport, Sort};

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The order of the materials.
    pub sort: Sort,
    /// The note whose materials alone are listed or ranked.
    pub note: Option<Note>,
    /// The least that twins have in common, in percent.
    pub twins_from_percent: f64,
    /// Descriptors by which the materials are ranked; none: they are listed.
    pub wanted: Vec<usize>,
    /// Descriptors that they should not have.
    pub unwanted: Vec<usize>,
}

impl Default for Asked {
    fn default() -> Asked {
        Asked { sort: Sort::Strength, note: None, twins_from_percent: 85.0, wanted: Vec::new(), unwanted: Vec::new() }
    }
}

/// Looks at a palette.
///
/// # Errors
/// A descriptor is wanted and not wanted.
pub fn ask(palette: &Palette, asked: &Asked, control: &Control) -> Result<ShelfReport, Refusal> {
    let Asked { wanted, unwanted, .. } = asked;
    if let Some(both) = wanted.iter().find(|word| unwanted.contains(word)) {
        let word = escaped(&palette.descriptors[*both].name);
        return Err(Refusal::Wrong(format!("\"{word}\" is wanted and not wanted")));
    }
    let looked = Looked {
        sort: asked.sort,
        note: asked.note,
        twins_from_percent: asked.twins_from_percent,
        twins: twins(palette, asked.twins_from_percent, control),
        map: map(palette),
        find: (!wanted.is_empty()).then(|| {
            let found = ranking(palette, wanted, unwanted);
            (wanted.clone(), unwanted.clone(), found)
        }),
    };
    Ok(ShelfReport::new(palette, &looked))
}
