//! From the drawing to pixels, where the feature `png` is on.

#[cfg(feature = "png")]
use png::{BitDepth, ColorType, Compression, Encoder, EncodingError, Filter};
#[cfg(feature = "png")]
use resvg::tiny_skia::{Pixmap, Transform};
#[cfg(feature = "png")]
use resvg::usvg::{Options, Tree};

/// Pixels for one pixel of the drawing, each way.
pub const PIXELS: f32 = 2.0;

/// A PNG of an SVG whose text is outlines and whose ground is opaque.
///
/// # Errors
/// What the rasteriser said.
#[cfg(feature = "png")]
pub fn encode(svg: &str) -> Result<Vec<u8>, String> {
    let tree = Tree::from_str(svg, &Options::default()).map_err(|error| error.to_string())?;
    let size = tree.size();
    let pixels = |length: f32| (length * PIXELS).round() as u32;
    let mut pixmap = Pixmap::new(pixels(size.width()), pixels(size.height())).ok_or("the picture has no size")?;
    resvg::render(&tree, Transform::from_scale(PIXELS, PIXELS), &mut pixmap.as_mut());
    packed(&pixmap).map_err(|error| error.to_string())
}

/// Refuses, in words.
///
/// # Errors
/// Always: this build draws SVG alone.
#[cfg(not(feature = "png"))]
pub fn encode(_svg: &str) -> Result<Vec<u8>, String> {
    Err("this program was built without PNG; draw it as SVG".to_owned())
}

/// The pixels without their opacity, packed fast: most of a chart is blank, and
/// a line is often the line above it.
#[cfg(feature = "png")]
fn packed(pixmap: &Pixmap) -> Result<Vec<u8>, EncodingError> {
    let colours: Vec<u8> = pixmap.data().chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect();
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, pixmap.width(), pixmap.height());
    encoder.set_color(ColorType::Rgb);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Fast);
    encoder.set_filter(Filter::Up);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(&colours)?;
    writer.finish()?;
    Ok(file)
}
