//! Which doses of a material a column of the model is for.

/// Which doses of its material a column is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// All that its rules leave, but for the one that stays.
    Any,
    /// The one that stays, or none.
    Stays,
    /// The usual ones.
    Usual,
    /// All that its rules leave, counted as unusual: where a usual one would do,
    /// the column of the usual ones has it too.
    Unusual,
}
