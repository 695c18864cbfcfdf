//! The slip that would explain a trial which does not fit, as reports say it.

use serde::Serialize;

use super::states::SlipKind;
use crate::analysis::learn::{Explained, Slip};
use crate::palette::Palette;

/// A slip that would explain a trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlipLine {
    /// `number`, `bottle`, `dilution` or `missing`.
    pub kind: SlipKind,
    /// The descriptor of a number.
    pub descriptor: Option<String>,
    /// The material that was noted, of all others.
    pub material: Option<String>,
    /// What a wrong bottle would have held.
    pub instead: Option<String>,
    /// So many times as much of it there would have been, of a dilution.
    pub factor: Option<f64>,
    /// How unlike the others the trial would then be.
    pub misfit: f64,
}

/// The line of a slip.
pub(super) fn slip_line(palette: &Palette, found: &Explained) -> SlipLine {
    let named = |material: usize| Some(palette.materials[material].name.clone());
    let none = SlipLine {
        kind: SlipKind::Number,
        descriptor: None,
        material: None,
        instead: None,
        factor: None,
        misfit: found.misfit,
    };
    match found.slip {
        Slip::Number(descriptor) => SlipLine { descriptor: Some(palette.descriptors[descriptor].name.clone()), ..none },
        Slip::Bottle { noted, instead } => {
            SlipLine { kind: SlipKind::Bottle, material: named(noted), instead: named(instead), ..none }
        }
        Slip::Dilution { material, factor } => {
            SlipLine { kind: SlipKind::Dilution, material: named(material), factor: Some(factor), ..none }
        }
        Slip::Missing(material) => SlipLine { kind: SlipKind::Missing, material: named(material), ..none },
    }
}
