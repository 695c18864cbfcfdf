//! Dilution matches: which dilutions of two materials smelled equally strong,
//! or which of the two was the stronger.

use std::sync::Arc;

use crate::place::Place;
use crate::portable::Portable;

/// One standard deviation of a match where nothing says how sure it is, as a
/// factor of what is smelled: about half a step of a series in which each
/// dilution is twice the next, and a little more for the nose's own wandering.
pub const GIVE_OR_TAKE_FACTOR: f64 = 1.5;

/// Matches of one shelf, already validated: every material is in the palette
/// and smells, every number is in range.
#[derive(Clone, Debug)]
pub struct Matches {
    /// The file they were read from.
    pub file: Arc<str>,
    /// The material that keeps its strength (index into the palette).
    pub reference: usize,
    /// Intensity goes with (strength x percent) to this power (S. S. Stevens'
    /// power law), above 0.
    pub exponent: f64,
    /// One standard deviation of a match, as a factor of dilution, where a
    /// pair says nothing else; above 1.
    pub give_or_take_factor: Option<f64>,
    /// The pairs, in the order of the file; at least one.
    pub pairs: Vec<Pair>,
    /// Free text.
    pub remarks: Option<String>,
}

/// How two dilutions compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// They smelled equally strong.
    Equal,
    /// The first smelled stronger.
    Stronger,
}

/// One comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// How they compared.
    pub verdict: Verdict,
    /// The first; the stronger one where they are not equal.
    pub a: Dilution,
    /// The second, another material.
    pub b: Dilution,
    /// One standard deviation of the dilution at which they match, as a
    /// factor, above 1.
    pub give_or_take_factor: Option<f64>,
    /// Where it was written.
    pub place: Place,
}

/// A material as it was smelled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dilution {
    /// Index into the palette.
    pub material: usize,
    /// Percent by mass of neat material, above 0, at most 100.
    pub percent: f64,
}

impl Pair {
    /// The logarithm of the first percentage over the second.
    pub fn shift(&self) -> f64 {
        (self.a.percent / self.b.percent).logarithm()
    }
}

impl Matches {
    /// One standard deviation of a pair, in the logarithm of the dilution.
    ///
    /// What the files say is a factor of dilution. Where they say nothing, the
    /// factor is one of intensity, since noses tell intensities apart about
    /// equally well whatever the odour (R. Teghtsoonian, Psychological Review
    /// 78, 1971); at an exponent of 0.5 it takes the square of it in dilution.
    pub fn error_of(&self, pair: &Pair) -> f64 {
        match pair.give_or_take_factor.or(self.give_or_take_factor) {
            Some(factor) => factor.logarithm(),
            None => GIVE_OR_TAKE_FACTOR.logarithm() / self.exponent,
        }
    }

    /// How much weaker a dilution to a tenth smells: a factor.
    pub fn tenfold(&self) -> f64 {
        10f64.power(self.exponent)
    }
}
