//! How text and lines look.

use super::canvas::shown;
use super::colour::{INK, SOFT};
use super::font::{self, Weight};

/// Which point of a text is placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// How a text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Pixels.
    pub size: f64,
    /// How heavy.
    pub weight: Weight,
    /// `#rrggbb`.
    pub colour: &'static str,
    /// Which point is placed.
    pub anchor: Anchor,
    /// Whether it has a rim of paper, so that lines under it do not disturb: a
    /// shape of its own below the text.
    pub halo: bool,
    /// Degrees clockwise about the placed point.
    pub turn: f64,
}

/// Ordinary text.
pub const BODY: Style =
    Style { size: 14.0, weight: Weight::Regular, colour: INK, anchor: Anchor::Start, halo: false, turn: 0.0 };
/// Axes and notes.
pub const SMALL: Style = Style { size: 12.5, colour: SOFT, ..BODY };

impl Style {
    /// Of this size in pixels.
    pub const fn size(self, size: f64) -> Style {
        Style { size, ..self }
    }
    /// In this colour.
    pub const fn colour(self, colour: &'static str) -> Style {
        Style { colour, ..self }
    }
    /// Semibold.
    pub const fn bold(self) -> Style {
        Style { weight: Weight::Semibold, ..self }
    }
    /// Placed by its end.
    pub const fn end(self) -> Style {
        Style { anchor: Anchor::End, ..self }
    }
    /// Placed by its middle.
    pub const fn middle(self) -> Style {
        Style { anchor: Anchor::Middle, ..self }
    }
    /// With a rim of paper.
    pub const fn halo(self) -> Style {
        Style { halo: true, ..self }
    }
    /// Turned clockwise.
    pub const fn turned(self, degrees: f64) -> Style {
        Style { turn: degrees, ..self }
    }
    /// Where a text of a width begins whose point is placed at `x`.
    pub fn left(&self, x: f64, width: f64) -> f64 {
        match self.anchor {
            Anchor::Start => x,
            Anchor::Middle => x - width / 2.0,
            Anchor::End => x - width,
        }
    }
    /// Width of a text in pixels.
    pub fn width(&self, text: &str) -> f64 {
        font::width(&shown(text), self.size, self.weight)
    }
    /// The text, its end cut off where it is wider.
    pub fn shortened(&self, text: &str, most: f64) -> String {
        font::shortened(&shown(text), most, self.size, self.weight)
    }
    /// The text in lines of at most a width.
    pub fn wrapped(&self, text: &str, most: f64) -> Vec<String> {
        font::wrapped(&shown(text), most, self.size, self.weight)
    }
}

/// A line's look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// `#rrggbb`.
    pub colour: &'static str,
    /// Pixels.
    pub width: f64,
    /// Dashes and gaps in pixels; empty for a full line.
    pub dashes: &'static [f64],
}

impl Stroke {
    /// A full line.
    pub const fn new(colour: &'static str, width: f64) -> Stroke {
        Stroke { colour, width, dashes: &[] }
    }
    /// A dashed line.
    pub const fn dashed(colour: &'static str, width: f64) -> Stroke {
        Stroke { colour, width, dashes: &[6.0, 4.0] }
    }
}
