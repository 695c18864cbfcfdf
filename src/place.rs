//! Where in a file something was written, so that every rule and every
//! complaint can point at its line.

use std::fmt;
use std::sync::Arc;

/// A position in an input file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The file's path as the user gave it, or as it was reached from there.
    pub file: Arc<str>,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.file, self.line)
    }
}

/// A value together with the place it was read from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Where its key stands.
    pub place: Place,
}
