//! The embedded font: widths with kerning, and outlines.

use std::fmt::Write as _;
use std::sync::LazyLock;

use ttf_parser::gpos::{PairAdjustment, PositioningSubtable};
use ttf_parser::opentype_layout::LookupIndex;
use ttf_parser::{Face, GlyphId, OutlineBuilder, Tag};

const REGULAR: &[u8] = include_bytes!("../../../assets/fonts/Inter-Regular-sub.otf");
const SEMIBOLD: &[u8] = include_bytes!("../../../assets/fonts/Inter-SemiBold-sub.otf");

/// Inter Regular for pages (WOFF2).
pub const REGULAR_FOR_PAGES: &[u8] = include_bytes!("../../../assets/fonts/Inter-Regular-sub.woff2");
/// Inter SemiBold for pages (WOFF2).
pub const SEMIBOLD_FOR_PAGES: &[u8] = include_bytes!("../../../assets/fonts/Inter-SemiBold-sub.woff2");

/// How heavy letters are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Weight {
    /// Body text.
    #[default]
    Regular,
    /// Titles and what is pointed out.
    Semibold,
}

/// A parsed font, and where its kerning is.
struct Font {
    face: Option<Face<'static>>,
    kerning: Vec<LookupIndex>,
}

static FONTS: LazyLock<[Font; 2]> = LazyLock::new(|| [Font::new(REGULAR), Font::new(SEMIBOLD)]);

impl Font {
    fn new(bytes: &'static [u8]) -> Font {
        let face = Face::parse(bytes, 0).ok();
        let mut kerning: Vec<LookupIndex> = Vec::new();
        if let Some(gpos) = face.as_ref().and_then(|face| face.tables().gpos) {
            let features = gpos.features.into_iter().filter(|feature| feature.tag == Tag::from_bytes(b"kern"));
            kerning.extend(features.flat_map(|feature| feature.lookup_indices.into_iter()));
            kerning.sort_unstable();
            kerning.dedup();
        }
        Font { face, kerning }
    }

    /// What a pair of glyphs is moved together, in font units.
    fn kern(&self, face: &Face, left: GlyphId, right: GlyphId) -> f64 {
        let Some(gpos) = face.tables().gpos else { return 0.0 };
        for &index in &self.kerning {
            let Some(lookup) = gpos.lookups.get(index) else { continue };
            for subtable in lookup.subtables.into_iter::<PositioningSubtable>() {
                let PositioningSubtable::Pair(pair) = subtable else { continue };
                let Some(at) = pair.coverage().get(left) else { continue };
                let found = match pair {
                    PairAdjustment::Format1 { sets, .. } => sets.get(at).and_then(|set| set.get(right)),
                    PairAdjustment::Format2 { classes, matrix, .. } => {
                        matrix.get((classes.0.get(left), classes.1.get(right)))
                    }
                };
                if let Some((first, _)) = found {
                    return f64::from(first.x_advance);
                }
            }
        }
        0.0
    }
}

fn font(weight: Weight) -> &'static Font {
    match weight {
        Weight::Regular => &FONTS[0],
        Weight::Semibold => &FONTS[1],
    }
}

/// Walks the glyphs of a text: each with its place, in font units. A character
/// that the font lacks has no glyph and is as wide as it is high.
fn walk(text: &str, weight: Weight, mut visit: impl FnMut(&Face, GlyphId, f64)) -> f64 {
    let font = font(weight);
    let Some(face) = &font.face else { return 0.0 };
    let mut pen = 0.0;
    let mut before = None;
    for character in text.chars() {
        let Some(glyph) = face.glyph_index(character) else {
            visit(face, GlyphId(0), pen);
            pen += f64::from(face.units_per_em());
            before = None;
            continue;
        };
        if let Some(left) = before {
            pen += font.kern(face, left, glyph);
        }
        visit(face, glyph, pen);
        pen += f64::from(face.glyph_hor_advance(glyph).unwrap_or(0));
        before = Some(glyph);
    }
    pen / f64::from(face.units_per_em())
}

/// Width of a text in pixels.
pub fn width(text: &str, size: f64, weight: Weight) -> f64 {
    walk(text, weight, |_, _, _| {}) * size
}

/// The outlines of a text as the data of an SVG path, from a baseline at
/// (`x`, `y`).
pub fn outlines(text: &str, x: f64, y: f64, size: f64, weight: Weight) -> String {
    let mut path = Path { data: String::new(), x, y, pen: 0.0, scale: 0.0 };
    walk(text, weight, |face, glyph, pen| {
        path.scale = size / f64::from(face.units_per_em());
        path.pen = pen;
        face.outline_glyph(glyph, &mut path);
    });
    path.data
}

/// A text that is at most so wide, an ellipsis in the place of what was cut out.
/// Names differ at their beginning or at their end, so both are kept.
pub fn shortened(text: &str, most: f64, size: f64, weight: Weight) -> String {
    if width(text, size, weight) <= most {
        return text.to_owned();
    }
    let letters: Vec<char> = text.chars().collect();
    let mut kept = letters.len();
    while kept > 1 {
        kept -= 1;
        let tail = kept * 3 / 10;
        let (head, end): (String, String) =
            (letters[..kept - tail].iter().collect(), letters[letters.len() - tail..].iter().collect());
        let tried = format!("{}…{}", head.trim_end(), end.trim_start());
        if width(&tried, size, weight) <= most {
            return tried;
        }
    }
    "…".to_owned()
}

/// Breaks a text between words into lines of at most a width.
pub fn wrapped(text: &str, most: f64, size: f64, weight: Weight) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), size, weight) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(shortened(word, most, size, weight)),
        }
    }
    lines
}

struct Path {
    data: String,
    x: f64,
    y: f64,
    pen: f64,
    scale: f64,
}

impl Path {
    fn add(&mut self, command: char, points: &[(f32, f32)]) {
        self.data.push(command);
        for (at, &(x, y)) in points.iter().enumerate() {
            let x = self.x + (self.pen + f64::from(x)) * self.scale;
            let y = self.y - f64::from(y) * self.scale;
            // Writing to a string cannot fail.
            let _ = write!(self.data, "{}{x:.2} {y:.2}", if at > 0 { " " } else { "" });
        }
    }
}

impl OutlineBuilder for Path {
    fn move_to(&mut self, x: f32, y: f32) {
        self.add('M', &[(x, y)]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.add('L', &[(x, y)]);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.add('Q', &[(x1, y1), (x, y)]);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.add('C', &[(x1, y1), (x2, y2), (x, y)]);
    }

    fn close(&mut self) {
        self.data.push('Z');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_font_is_read_and_kerned() {
        let apart = width("T", 100.0, Weight::Regular) + width("o", 100.0, Weight::Regular);
        assert!(width("To", 100.0, Weight::Regular) < apart - 2.0);
        assert!(width("m", 14.0, Weight::Semibold) > width("i", 14.0, Weight::Semibold));
        assert_eq!(width("", 14.0, Weight::Regular), 0.0);
        for needed in "AZaz09 ‰%€£¥−–…·αβγéøß/±×≤".chars() {
            let face = font(Weight::Regular).face.as_ref().unwrap();
            assert!(face.glyph_index(needed).is_some(), "{needed}");
        }
    }

    #[test]
    fn texts_are_cut_and_broken_by_their_width() {
        let (size, weight) = (14.0, Weight::Regular);
        let long = "Phenylethyl alcohol, the second fraction";
        let short = shortened(long, 120.0, size, weight);
        assert!(short.contains('…') && width(&short, size, weight) <= 120.0, "{short}");
        assert_eq!(shortened("rosy", 120.0, size, weight), "rosy");
        let lines = wrapped(long, 120.0, size, weight);
        assert!(lines.len() > 1 && lines.iter().all(|line| width(line, size, weight) <= 120.0), "{lines:?}");
        assert_eq!(lines.join(" "), long);
    }

    #[test]
    fn outlines_begin_where_they_should() {
        let path = outlines("l", 100.0, 50.0, 20.0, Weight::Regular);
        assert!(path.starts_with('M') && path.ends_with('Z'), "{path}");
        let first: f64 = path[1..].split(' ').next().unwrap().parse().unwrap();
        assert!((100.0..105.0).contains(&first), "{path}");
    }
}
