//! Pictures of the reports: one file for each chart, on one drawing kit.
//!
//! A chart takes a report, or a small plain input that lives beside it, and
//! becomes an SVG with real text or a PNG; both from the same drawing. Its
//! title is the finding, computed from the numbers; its subtitle says what is
//! drawn. What is drawn can be read back from the SVG: groups carry `data-`
//! attributes and tooltips.

pub mod contributions;
pub mod descriptors;
pub mod doubt;
pub mod drying;
pub mod dumbbell;
pub mod effect;
pub mod kit;
pub mod leeway;
pub mod pairs;
pub mod profile;
pub mod push;
pub mod radar;
pub mod shelf_map;
pub mod stages;
pub mod starts;
pub mod strengths;
pub mod tradeoff;

mod reports;

use kit::canvas::{Canvas, Lettering};

/// Something that can be drawn.
pub trait Chart {
    /// A word for it that can be part of an XML id.
    fn name(&self) -> &'static str;

    /// Draws it from the top of a canvas of [`kit::WIDTH`] down.
    fn draw(&self, canvas: &mut Canvas);
}

/// The chart as an SVG file that needs nothing else: its fonts are inside.
pub fn svg(chart: &dyn Chart) -> String {
    drawn(chart, Lettering::Embedded).finish()
}

/// The chart as an SVG for a page that has the fonts already.
pub fn svg_inline(chart: &dyn Chart) -> String {
    drawn(chart, Lettering::Outside).finish()
}

/// The chart as a PNG of twice its size.
///
/// # Errors
/// What the rasteriser said, which happens with no chart of this crate; or that the
/// feature `png` is off.
pub fn png(chart: &dyn Chart) -> Result<Vec<u8>, String> {
    kit::png::encode(&drawn(chart, Lettering::Outlines).finish())
}

fn drawn(chart: &dyn Chart, lettering: Lettering) -> Canvas {
    let mut canvas = Canvas::new(chart.name(), lettering);
    chart.draw(&mut canvas);
    canvas
}

/// The fonts of all charts as a style element, for a page with
/// [`svg_inline`] drawings.
pub fn page_fonts() -> String {
    kit::canvas::faces()
}
