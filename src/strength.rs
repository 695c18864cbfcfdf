//! Strengths that are said without a number: in words, or beside another
//! material. What they stand for, and how sure that is, is this project's own
//! convention; profiles/FILES.md says the same.

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
