//! Strengths that are said without a number: in words, or beside another
//! material. What they stand for, and how sure that is, is this project's own
//! convention; profiles/FILES.md says the same.

use crate::palette::{Cas, Material};

/// A strength in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum StrengthWord {
    /// Less than most.
    Weak,
    /// As most.
    Medium,
    /// More than most.
    Strong,
    /// Smelled at traces.
    VeryStrong,
}

impl StrengthWord {
    /// All of them, the weakest first, as files write them.
    pub const ALL: [(&'static str, StrengthWord); 4] = [
        ("weak", StrengthWord::Weak),
        ("medium", StrengthWord::Medium),
        ("strong", StrengthWord::Strong),
        ("very strong", StrengthWord::VeryStrong),
    ];

    /// The word.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, one)| *one == self).map_or("", |(word, _)| word)
    }

    /// The strength that it stands for, per part, by dilution: each word ten
    /// times the one before, on the scale on which a material that is smelled
    /// neat without effort, such as phenylethyl alcohol, has about 50.
    pub const fn strength(self) -> f64 {
        match self {
            StrengthWord::Weak => 5.0,
            StrengthWord::Medium => 50.0,
            StrengthWord::Strong => 500.0,
            StrengthWord::VeryStrong => 5_000.0,
        }
    }
}

/// One standard deviation of a strength in a number, as a factor, where the
/// palette names none.
pub const STRENGTH_FACTOR: f64 = 1.5;
/// One standard deviation of a word, as a factor: half the way to the next word
/// is a factor of the root of ten.
pub const WORD_FACTOR: f64 = 3.0;
/// The same of "so many times as strong as".
pub const COMPARISON_FACTOR: f64 = 2.0;
/// The same of a comparison by thresholds in air. Eight substances of the table
/// have published thresholds that lie 23 to 1050 times apart.
pub const THRESHOLD_FACTOR: f64 = 50.0;
/// What a strength that follows from others may be, see `keys::MATERIAL_STRENGTH`.
const RANGE: std::ops::RangeInclusive<f64> = 1e-6..=1e6;

/// What the strength of a material rests on.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Said {
    /// A number, or the formula of a base.
    #[default]
    Number,
    /// A word.
    Word {
        /// Which.
        word: StrengthWord,
        /// `strength_factor`, where the file has one.
        factor: Option<f64>,
    },
    /// Another material.
    Of {
        /// Its name.
        of: String,
        /// How many times as strong as it.
        times: Times,
        /// `strength_factor`, where the file has one.
        factor: Option<f64>,
    },
}

/// How many times as strong as another material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Times {
    /// By nose.
    Number(f64),
    /// By the thresholds in air of both, a last resort.
    Thresholds,
}

/// What a file writes for [`Times::Thresholds`].
pub const THRESHOLDS: &str = "thresholds";

impl Said {
    /// Whether it is no number.
    pub fn is_loose(&self) -> bool {
        *self != Said::Number
    }

    /// The `strength_factor` that the file has, given the one that holds.
    pub fn written_factor(&self, holds: Option<f64>) -> Option<f64> {
        match self {
            Said::Number => holds,
            Said::Word { factor, .. } | Said::Of { factor, .. } => *factor,
        }
    }

    /// How sure it is by itself, as a factor; `None` of a number.
    pub fn own_factor(&self) -> Option<f64> {
        match self {
            Said::Number => None,
            Said::Word { factor, .. } => Some(factor.unwrap_or(WORD_FACTOR)),
            Said::Of { times: Times::Number(_), factor, .. } => Some(factor.unwrap_or(COMPARISON_FACTOR)),
            Said::Of { times: Times::Thresholds, factor, .. } => Some(factor.unwrap_or(THRESHOLD_FACTOR)),
        }
    }
}

/// Published thresholds in air.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Thresholds {
    /// One row for each substance; no two have one number.
    pub rows: Vec<Threshold>,
}

/// What was published of one substance.
#[derive(Clone, Debug, PartialEq)]
pub struct Threshold {
    /// Its number.
    pub cas: Cas,
    /// What it is called.
    pub name: String,
    /// Every published value in micrograms per cubic metre of air at 20 °C;
    /// at least one.
    pub ug_per_m3: Vec<f64>,
    /// Where they stand.
    pub source: String,
}

impl Threshold {
    /// The geometric mean of the published values, in micrograms per cubic metre.
    pub fn mean(&self) -> f64 {
        let logs: f64 = self.ug_per_m3.iter().map(|value| value.ln()).sum();
        (logs / self.ug_per_m3.len().max(1) as f64).exp()
    }

    /// How many times apart they lie.
    pub fn spread(&self) -> f64 {
        let ends = |(low, high): (f64, f64), value: &f64| (low.min(*value), high.max(*value));
        let (low, high) = self.ug_per_m3.iter().fold((f64::INFINITY, 0.0), ends);
        high / low
    }
}

impl Thresholds {
    /// What was published of a substance.
    pub fn of(&self, cas: &Cas) -> Option<&Threshold> {
        self.rows.iter().find(|row| row.cas == *cas)
    }
}

/// Why a strength does not follow from another material's.
#[derive(Clone, Debug, PartialEq)]
pub enum Unfollowed {
    /// No material has the name.
    NoSuch,
    /// It comes back to itself by way of these, the last of which names it.
    Circle(Vec<String>),
    /// The other is a carrier.
    Carrier,
    /// The strength of the other follows from its formula.
    Base,
    /// It would lie outside what a strength may be.
    Range(f64),
    /// One of the two, by its name, has no threshold in the table.
    NoThreshold(String),
    /// The other's own strength could not be found out, which is told there.
    Elsewhere,
}

/// Fills in the strengths that follow from other materials, with their errors.
/// Errors of a comparison and of what it is compared with add up as variances of
/// the logarithm, and count as independent of each other: no ratio is ever told
/// surer than it is, that of two materials compared with one third less sure.
/// Gives back which could not be filled in, and why.
pub fn follow(materials: &mut [Material], known: &Thresholds) -> Vec<(usize, Unfollowed)> {
    let mut done: Vec<Option<bool>> = vec![None; materials.len()];
    let mut wrong = Vec::new();
    for at in 0..materials.len() {
        walk(materials, known, at, &mut done, &mut wrong);
    }
    wrong
}

/// Follows one chain of comparisons to its end, and then back. Not by recursion:
/// a chain may be as long as the shelf.
fn walk(
    materials: &mut [Material],
    known: &Thresholds,
    start: usize,
    done: &mut [Option<bool>],
    wrong: &mut Vec<(usize, Unfollowed)>,
) {
    let mut path: Vec<usize> = Vec::new();
    let mut at = start;
    while done[at].is_none() {
        let Said::Of { of, .. } = &materials[at].said else {
            done[at] = Some(true);
            break;
        };
        path.push(at);
        let Some(next) = materials.iter().position(|other| other.name == *of) else {
            wrong.push((at, Unfollowed::NoSuch));
            done[at] = Some(false);
            break;
        };
        if let Some(first) = path.iter().position(|before| *before == next) {
            let round = path[first..].iter().map(|&of| materials[of].name.clone()).collect();
            wrong.push((at, Unfollowed::Circle(round)));
            path.iter().for_each(|&of| done[of] = Some(false));
            break;
        }
        at = next;
    }
    while let Some(at) = path.pop() {
        if done[at].is_some() {
            continue;
        }
        let Said::Of { of, .. } = &materials[at].said else { continue };
        let Some(other) = materials.iter().position(|other| other.name == *of) else { continue };
        let found = if done[other] == Some(true) {
            by(&materials[at], &materials[other], known)
        } else {
            Err(Unfollowed::Elsewhere)
        };
        done[at] = Some(found.is_ok());
        match found {
            Ok((strength, factor)) => {
                materials[at].strength = strength;
                materials[at].strength_factor = Some(factor);
            }
            Err(why) => wrong.push((at, why)),
        }
    }
}

/// Strength and factor of a material beside another.
fn by(own: &Material, other: &Material, known: &Thresholds) -> Result<(f64, f64), Unfollowed> {
    let Said::Of { times, .. } = &own.said else { return Ok((own.strength, 1.0)) };
    if other.formula.is_some() {
        return Err(Unfollowed::Base);
    }
    if other.is_carrier() {
        return Err(Unfollowed::Carrier);
    }
    let times = match times {
        Times::Number(times) => *times,
        Times::Thresholds => {
            let mean = |of: &Material| {
                let row = of.cas.as_ref().and_then(|cas| known.of(cas));
                row.map(Threshold::mean).ok_or_else(|| Unfollowed::NoThreshold(of.name.clone()))
            };
            // The less of it is smelled, the stronger it is.
            mean(other)? / mean(own)?
        }
    };
    let strength = times * other.strength;
    if !RANGE.contains(&strength) {
        return Err(Unfollowed::Range(strength));
    }
    let deviations = [own.said.own_factor(), Some(other.strength_factor.unwrap_or(STRENGTH_FACTOR))];
    let variance: f64 = deviations.into_iter().flatten().map(|factor| factor.ln().powi(2)).sum();
    Ok((strength, variance.sqrt().exp()))
}
