//! What all charts are drawn with.

pub mod canvas;
pub mod colour;
pub mod crowd;
pub mod curves;
pub mod font;
pub mod frame;
pub mod plane;
pub mod png;
pub mod scale;
pub mod style;
pub mod time;
pub mod words;

/// Width of every chart in pixels.
pub const WIDTH: f64 = 960.0;
/// Blank space around a chart, in pixels.
pub const MARGIN: f64 = 32.0;
