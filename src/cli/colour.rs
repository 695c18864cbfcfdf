//! `--color`.

use anstream::{AutoStream, ColorChoice};
use clap::ValueEnum;

/// When colour is used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// On a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

impl Colour {
    /// Whether it is used on a stream.
    pub fn on(self, stream: &impl anstream::stream::RawStream) -> bool {
        match self {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => !matches!(AutoStream::choice(stream), ColorChoice::Never),
        }
    }
}
