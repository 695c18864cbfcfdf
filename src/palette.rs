//! The shelf: materials with their scores, strengths, prices and bottles.

use std::fmt;
use std::sync::Arc;

use crate::place::{Place, Placed};
use crate::strength::Said;
use crate::tied::Tied;
use crate::units::Ppt;

/// One standard deviation of a score in points where the palette names none.
pub const SCORE_ERROR: f64 = 1.0;

/// A palette, already validated: every name is unique, every number in range.
#[derive(Clone, Debug)]
pub struct Palette {
    /// The file it was read from, as the user reaches it.
    pub file: Arc<str>,
    /// The shelf's own name.
    pub name: Option<String>,
    /// The label of the currency; prices are per kg in it.
    pub currency: String,
    /// Scores run from 0 to this.
    pub scale: f64,
    /// The descriptors, in the order of the file.
    pub descriptors: Vec<Descriptor>,
    /// Percent of a material in what the blotter was dipped in when its tenacity was
    /// noted, above 0, at most 100.
    pub lasting_percent: f64,
    /// Words that a score may be given in, with what they stand for, in points.
    pub score_words: Vec<(String, f64)>,
    /// The materials, in the order of the file.
    pub materials: Vec<Material>,
    /// Free text.
    pub remarks: Option<String>,
    /// Errors that trials have tied together; of every other number the errors are
    /// independent. No file has them.
    pub tied: Option<Arc<Tied>>,
}

impl Palette {
    /// What the usual bottle of a material holds: (material, mass fraction);
    /// a carrier without a name in the palette is left out.
    pub fn usual_content(&self, material: usize) -> Vec<(usize, f64)> {
        let described = &self.materials[material];
        let fraction = described.usual_fraction();
        let mut content = vec![(material, fraction)];
        let carrier = described.bottles.first().and_then(|bottle| bottle.carrier.as_ref());
        let carrier = carrier.and_then(|name| self.materials.iter().position(|other| other.name == *name));
        if let (Some(carrier), true) = (carrier, fraction < 1.0) {
            if carrier == material {
                content[0].1 = 1.0;
            } else {
                content.push((carrier, 1.0 - fraction));
            }
        }
        content
    }
}

/// A word for what something smells of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Descriptor {
    /// The word.
    pub name: String,
    /// What the practitioner means by it.
    pub meaning: String,
}

/// One odour material or carrier.
#[derive(Clone, Debug)]
pub struct Material {
    /// The unique name.
    pub name: String,
    /// Where the material is described.
    pub place: Place,
    /// CAS registry number.
    pub cas: Option<Cas>,
    /// Strength per unit mass of neat material, by dilution; 0 for a carrier.
    pub strength: f64,
    /// One standard deviation of the strength, as a factor (>= 1); what holds,
    /// be it written or follow from what the strength rests on.
    pub strength_factor: Option<f64>,
    /// What the strength rests on.
    pub said: Said,
    /// A score for every descriptor of the palette, 0 where none was written.
    pub scores: Vec<f64>,
    /// Scores that were given in words: the descriptor, and the word among those
    /// of the palette.
    pub score_words: Vec<(usize, usize)>,
    /// One standard deviation of a score, in points.
    pub score_error: Option<f64>,
    /// Price per kg, neat.
    pub price_per_kg: Option<f64>,
    /// Least dose if used at all.
    pub min: Option<Placed<Ppt>>,
    /// Greatest dose of neat material.
    pub max: Option<Placed<Ppt>>,
    /// Greatest share of the concentrate, in percent.
    pub max_in_concentrate_percent: Option<Placed<f64>>,
    /// Greatest share of the finished product, in percent.
    pub max_in_product_percent: Option<Placed<f64>>,
    /// Doses are whole multiples of this.
    pub step: Option<Placed<Ppt>>,
    /// The doses at which it is mostly used.
    pub usual: Option<Usual>,
    /// Free labels; groups may name them.
    pub tags: Vec<String>,
    /// When in the evaporation it is mostly smelled.
    pub note: Option<Note>,
    /// Hours until it is gone from a blotter.
    pub lasting_hours: Option<f64>,
    /// One standard deviation of that, as a factor (>= 1).
    pub lasting_factor: Option<f64>,
    /// Molar mass in g/mol, above 0.
    pub molar_mass: Option<f64>,
    /// Vapour pressure at 25 C in Pa, above 0.
    pub vapour_pressure: Option<f64>,
    /// Whether it is a natural complex substance.
    pub natural: bool,
    /// Substances within it in percent by mass; `None` is unknown, an empty
    /// list is analysed without a find.
    pub constituents: Option<Vec<(Cas, f64)>>,
    /// What stands on the shelf; empty means one bottle of neat material. The
    /// first is the usual one.
    pub bottles: Vec<Bottle>,
    /// What it is sold in, neat.
    pub packs: Vec<Pack>,
    /// Grams of the usual bottle's content on hand.
    pub stock_grams: Option<f64>,
    /// Whether it is on the shelf already.
    pub have: bool,
    /// What to do before or while weighing it.
    pub handling: Option<String>,
    /// Free text.
    pub remarks: Option<String>,
    /// The file of the formula that it is mixed by, relative to the palette's;
    /// `None` for everything but a base.
    pub formula: Option<String>,
    /// What follows from that formula; `None` where it was not read.
    pub base: Option<Arc<Base>>,
}

/// What follows from the formula of a base: an accord that stands on the shelf
/// as a material.
#[derive(Clone, Debug)]
pub struct Base {
    /// What it is mixed from in the end, bases within it unfolded: scores in
    /// the order of the palette that holds the base, doses in ppt of the base
    /// that add up to 1000.
    pub parts: Vec<(Material, Ppt)>,
}

impl Material {
    /// Whether it only carries: an odourless solvent of strength 0.
    pub fn is_carrier(&self) -> bool {
        self.strength == 0.0
    }

    /// Whether it is a natural, or a base that holds one, of which nobody has
    /// said what it contains.
    pub fn is_unknown(&self) -> bool {
        let in_base = || self.base.iter().flat_map(|base| &base.parts).any(|(part, _)| part.is_unknown());
        self.natural && self.constituents.is_none() || in_base()
    }

    /// Mass fraction of neat material in the usual bottle, above 0, at most 1.
    pub fn usual_fraction(&self) -> f64 {
        self.bottles.first().map_or(1.0, |bottle| bottle.percent / 100.0)
    }
}

/// The doses at which a material is mostly used, neat in 1000 parts of an
/// accord; both ends are usual. A dose outside is no fault: it is marked, and a
/// brief may count such doses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Usual {
    /// The lower end, not above the upper one.
    pub least: Ppt,
    /// The upper end.
    pub most: Ppt,
    /// Whether it was written in percent of the concentrate, as suppliers print
    /// it; the concentrate is then taken to be the accord.
    pub in_percent: bool,
}

impl Usual {
    /// Ppt of an accord in one percent of it.
    pub const PPT_PER_PERCENT: i64 = 10;
}

/// A bottle on the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct Bottle {
    /// Percent by mass of neat material, above 0, at most 100.
    pub percent: f64,
    /// What it is diluted in: a material of the palette or any text.
    pub carrier: Option<String>,
}

/// A pack of neat material, as it is sold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pack {
    /// What it holds, above 0.
    pub grams: f64,
    /// Price of the whole pack, above 0.
    pub price: f64,
}

/// Where in the evaporation a material is mostly smelled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Note {
    /// Opening.
    Opening,
    /// Heart.
    Heart,
    /// Drydown.
    Drydown,
}

impl Note {
    /// The word that files and reports have for it.
    pub const fn word(self) -> &'static str {
        match self {
            Note::Opening => "opening",
            Note::Heart => "heart",
            Note::Drydown => "drydown",
        }
    }
}

/// A CAS registry number whose check digit holds.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cas(String);

/// Why a text is not a CAS number.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CasError {
    /// Not of the form digits-2 digits-digit.
    #[error("not a CAS number: two to seven digits, two digits and a check digit, joined by hyphens")]
    Form,
    /// The form is right, the last digit is not.
    #[error("the CAS check digit does not hold: it should be {expected}")]
    CheckDigit {
        /// The digit that the others call for.
        expected: u32,
    },
}

impl Cas {
    /// Reads a CAS number and verifies its check digit: the sum of the other
    /// digits, each multiplied by its position from the right, modulo 10.
    pub fn parse(text: &str) -> Result<Cas, CasError> {
        let parts: Vec<&str> = text.split('-').collect();
        let [first, second, check] = parts[..] else { return Err(CasError::Form) };
        let digits = |s: &str, lengths: std::ops::RangeInclusive<usize>| {
            lengths.contains(&s.len()) && s.bytes().all(|b| b.is_ascii_digit())
        };
        if !(digits(first, 2..=7) && digits(second, 2..=2) && digits(check, 1..=1)) {
            return Err(CasError::Form);
        }
        let sum: u32 = first
            .bytes()
            .chain(second.bytes())
            .rev()
            .zip(1..)
            .map(|(digit, weight)| u32::from(digit - b'0') * weight)
            .sum();
        let expected = sum % 10;
        if check.bytes().next().map(|b| u32::from(b - b'0')) == Some(expected) {
            Ok(Cas(text.to_owned()))
        } else {
            Err(CasError::CheckDigit { expected })
        }
    }

    /// The number as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Cas {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn check_digits() {
        for good in ["60-12-8", "106-24-1", "23726-93-4", "7732-18-5"] {
            assert_eq!(Cas::parse(good).unwrap().as_str(), good);
        }
        assert_eq!(Cas::parse("60-12-9"), Err(CasError::CheckDigit { expected: 8 }));
        for bad in ["", "60-12", "60-1-8", "6-12-8", "60-12-88", "a0-12-8", "60-12-8-1", "12345678-12-1"] {
            assert_eq!(Cas::parse(bad), Err(CasError::Form), "{bad}");
        }
    }
}
