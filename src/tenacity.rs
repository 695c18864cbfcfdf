//! How long each material of a shelf lasts on a blotter, and what that rests on: what the
//! palette says, else its vapour pressure, else the materials of the same note.

use crate::film::{FILM_WEIGHT, MOLAR_MASS, film_weight, hours_by_pressure};
use crate::palette::{Material, Note, Palette};
use crate::stage::Dip;

/// One standard deviation of a tenacity, as a factor, where the palette names none: a
/// convention of this program. Tenacities noted by several people differ by more.
pub const LASTING_FACTOR: f64 = 2.0;
/// The same of a tenacity that was taken from other materials.
pub const ASSUMED_FACTOR: f64 = 3.0;
/// How an accord comes on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blotter {
    /// Percent of the accord in what the blotter is dipped in, above 0, at most 100.
    pub percent: f64,
    /// The same of what it was dipped in when tenacities were noted.
    pub lasting_percent: f64,
    /// g/m2 of the film, for tenacities from vapour pressures; `None` asks the shelf.
    pub film_weight: Option<f64>,
}

/// What a tenacity rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// The palette says it.
    Written,
    /// The palette has a vapour pressure.
    Pressure,
    /// The median of the shelf's materials of the same note.
    Note(Note),
    /// The median of the shelf.
    Shelf,
}

/// How long a material lasts alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tenacity {
    /// Hours until it is gone.
    pub hours: f64,
    /// What that rests on.
    pub source: Source,
    /// One standard deviation, as a factor.
    pub factor: f64,
    /// g/mol.
    pub molar_mass: f64,
    /// Whether the molar mass is written.
    pub is_molar_mass_known: bool,
}

impl Blotter {
    /// How an accord comes on paper by a brief and its palette.
    pub fn of(dip: &Dip, palette: &Palette) -> Blotter {
        let lasting_percent = palette.lasting_percent;
        let percent = dip.percent.unwrap_or(lasting_percent);
        Blotter { percent, lasting_percent, film_weight: dip.film_weight }
    }

    /// How long each material of a palette lasts, in its order; `None` for those of which
    /// nothing on the shelf tells.
    pub fn tenacities(&self, palette: &Palette) -> Vec<Option<Tenacity>> {
        let weight = self.film_weight(palette);
        (0..palette.materials.len()).map(|at| tenacity(&palette.materials, at, weight)).collect()
    }

    /// g/m2 of the film, for tenacities from vapour pressures.
    pub fn film_weight(&self, palette: &Palette) -> f64 {
        self.film_weight.or_else(|| film_weight_of(&palette.materials)).unwrap_or(FILM_WEIGHT)
    }

    /// How much is dipped, by how much of that tenacities were noted at.
    pub fn stretch(&self) -> f64 {
        self.percent / self.lasting_percent
    }
}

impl Tenacity {
    /// Whether it was taken from other materials.
    pub fn is_assumed(&self) -> bool {
        matches!(self.source, Source::Note(_) | Source::Shelf)
    }
}

/// How long a material lasts; `None` where nothing on the shelf tells.
fn tenacity(shelf: &[Material], index: usize, film_weight: f64) -> Option<Tenacity> {
    let material = &shelf[index];
    let known = |material: &Material| known_hours(material, film_weight);
    let (hours, source) = match known(material) {
        Some(found) => found,
        None => {
            let of = |wanted: Option<Note>| {
                let others = shelf.iter().filter(|it| !it.is_carrier());
                let alike = others.filter(|it| wanted.is_none() || it.note == wanted);
                median(alike.filter_map(|it| Some(known(it)?.0)).collect())
            };
            let by_note = material.note.and_then(|note| Some((of(Some(note))?, Source::Note(note))));
            by_note.or_else(|| Some((of(None)?, Source::Shelf)))?
        }
    };
    let is_assumed = matches!(source, Source::Note(_) | Source::Shelf);
    let factor = if is_assumed { ASSUMED_FACTOR } else { material.lasting_factor.unwrap_or(LASTING_FACTOR) };
    let molar_mass = material.molar_mass.unwrap_or(MOLAR_MASS);
    Some(Tenacity { hours, source, factor, molar_mass, is_molar_mass_known: material.molar_mass.is_some() })
}

/// g/m2 of the film at which the shelf's tenacities were noted: the median over the
/// materials that have a vapour pressure beside one.
fn film_weight_of(shelf: &[Material]) -> Option<f64> {
    let of = |material: &Material| {
        let (hours, pressure) = (material.lasting_hours?, material.vapour_pressure?);
        Some(film_weight(hours, pressure, material.molar_mass.unwrap_or(MOLAR_MASS)))
    };
    median(shelf.iter().filter_map(of).collect())
}

/// What the palette itself says of how long a material lasts.
fn known_hours(material: &Material, film_weight: f64) -> Option<(f64, Source)> {
    let by_pressure = |pressure| hours_by_pressure(film_weight, pressure, material.molar_mass.unwrap_or(MOLAR_MASS));
    let written = material.lasting_hours.map(|hours| (hours, Source::Written));
    written.or_else(|| material.vapour_pressure.map(|pressure| (by_pressure(pressure), Source::Pressure)))
}

/// The middle of some numbers, the mean of two where they are even in number.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let middle = values.len() / 2;
    let above = *values.get(middle)?;
    Some(if values.len().is_multiple_of(2) { (values[middle - 1] + above) / 2.0 } else { above })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_some_numbers() {
        assert_eq!(
            (median(vec![3.0, 1.0, 2.0]), median(vec![4.0, 1.0]), median(Vec::new())),
            (Some(2.0), Some(2.5), None)
        );
    }
}
