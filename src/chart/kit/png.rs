//! From the drawing to pixels.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// Pixels for one pixel of the drawing, each way.
pub const PIXELS: f32 = 2.0;

/// A PNG of an SVG whose text is outlines.
///
/// # Errors
/// What the rasteriser said.
pub fn encode(svg: &str) -> Result<Vec<u8>, String> {
    let tree = Tree::from_str(svg, &Options::default()).map_err(|error| error.to_string())?;
    let size = tree.size();
    let pixels = |length: f32| (length * PIXELS).round() as u32;
    let mut pixmap = Pixmap::new(pixels(size.width()), pixels(size.height())).ok_or("the picture has no size")?;
    resvg::render(&tree, Transform::from_scale(PIXELS, PIXELS), &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|error| error.to_string())
}
