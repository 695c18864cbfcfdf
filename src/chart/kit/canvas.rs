//! The sheet that is drawn on: SVG, written as it is drawn.
//!
//! Lengths are pixels, y counts downwards and text stands on its baseline.
//! Places are kept to a twentieth of a pixel.

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::colour::PAPER;
use super::font::{self, Weight};
pub use super::style::{Anchor, BODY, SMALL, Stroke, Style};
use super::{MARGIN, WIDTH};
use crate::escape::escaped;

/// Steps in a pixel.
pub const SUB_UNITS: f64 = 20.0;

/// What letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lettering {
    /// Text, with the font inside the file.
    Embedded,
    /// Text, in a page that has the font.
    Outside,
    /// Outlines, for rasterising.
    Outlines,
}

/// The sheet.
#[derive(Debug)]
pub struct Canvas {
    name: &'static str,
    lettering: Lettering,
    body: String,
    title: String,
    description: String,
    height: f64,
}

/// Text as it may be shown: control characters written out.
pub(super) fn shown(text: &str) -> String {
    let text = escaped(text);
    // No XML can have these two, escaped or not.
    if text.contains(['\u{FFFE}', '\u{FFFF}']) { text.replace(['\u{FFFE}', '\u{FFFF}'], "\u{FFFD}") } else { text }
}

/// Text inside XML.
fn xml(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in shown(text).chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            _ => safe.push(character),
        }
    }
    safe
}

/// A length as it is written: a twentieth of a pixel is the least.
fn px(length: f64) -> String {
    let length = if length.is_finite() { length } else { 0.0 };
    crate::number::plain((length * SUB_UNITS).round() / SUB_UNITS)
}

impl Canvas {
    /// A blank sheet for a chart of this name.
    pub fn new(name: &'static str, lettering: Lettering) -> Canvas {
        let (body, title, description) = <(String, String, String)>::default();
        Canvas { name, lettering, body, title, description, height: 2.0 * MARGIN }
    }

    /// Adds markup. Writing to a string cannot fail.
    fn add(&mut self, markup: std::fmt::Arguments) {
        let _ = self.body.write_fmt(markup);
        self.body.push('\n');
    }

    /// What the chart says, and what it shows, for those who do not see it.
    pub fn describe(&mut self, title: &str, description: &str) {
        self.title = title.to_owned();
        self.description = description.to_owned();
    }

    /// How far down the sheet reaches, in pixels.
    pub fn set_height(&mut self, height: f64) {
        self.height = height.ceil();
    }

    /// Draws a group of a class, with data that can be read back, and a
    /// tooltip unless it is empty.
    pub fn group(&mut self, class: &str, data: &[(&str, &str)], tip: &str, draw: impl FnOnce(&mut Canvas)) {
        let mut attributes = format!("class=\"{}\"", xml(class));
        for (key, value) in data {
            let _ = write!(attributes, " data-{key}=\"{}\"", xml(value));
        }
        self.add(format_args!("<g {attributes}>"));
        if !tip.is_empty() {
            self.add(format_args!("<title>{}</title>", xml(tip)));
        }
        draw(self);
        self.add(format_args!("</g>"));
    }

    /// A filled rectangle.
    pub fn rect(&mut self, x: f64, y: f64, width: f64, height: f64, fill: &str, opacity: f64) {
        let (x, y, width, height) = (px(x), px(y), px(width.max(0.0)), px(height.max(0.0)));
        let opacity = faded(opacity);
        self.add(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"{fill}\"{opacity}/>"
        ));
    }

    /// An area that catches the pointer for a tooltip and shows nothing.
    pub fn touch(&mut self, x: f64, y: f64, width: f64, height: f64) {
        // No pointer reaches a picture of pixels.
        if self.lettering != Lettering::Outlines {
            self.rect(x, y, width, height, PAPER, 0.0);
        }
    }

    /// A straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke) {
        let look = look(stroke);
        self.add(format_args!(
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {look}/>",
            px(from.0),
            px(from.1),
            px(to.0),
            px(to.1)
        ));
    }

    /// A line through points.
    pub fn path(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        if points.len() > 1 {
            let look = look(stroke);
            self.add(format_args!("<polyline points=\"{}\" fill=\"none\" {look}/>", places(points)));
        }
    }

    /// A full line in a colour that was computed.
    pub fn curve(&mut self, points: &[(f64, f64)], colour: &str, width: f64) {
        let (places, width) = (places(points), px(width));
        self.add(format_args!(
            "<polyline points=\"{places}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" \
             stroke-linejoin=\"round\"/>"
        ));
    }

    /// A filled area.
    pub fn polygon(&mut self, points: &[(f64, f64)], fill: &str, opacity: f64) {
        if points.len() > 2 {
            let opacity = faded(opacity);
            self.add(format_args!("<polygon points=\"{}\" fill=\"{fill}\"{opacity}/>", places(points)));
        }
    }

    /// A closed line.
    pub fn ring(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        let look = look(stroke);
        self.add(format_args!("<polygon points=\"{}\" fill=\"none\" {look}/>", places(points)));
    }

    /// A disc with a rim.
    pub fn disc(&mut self, centre: (f64, f64), radius: f64, fill: &str, rim: Stroke) {
        let look = look(rim);
        let (x, y, r) = (px(centre.0), px(centre.1), px(radius));
        self.add(format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\" fill=\"{fill}\" {look}/>"));
    }

    /// A text; gives its width in pixels.
    pub fn text(&mut self, x: f64, y: f64, text: &str, style: Style) -> f64 {
        let width = style.width(text);
        let turn = if style.turn == 0.0 {
            String::new()
        } else {
            format!(" transform=\"rotate({} {} {})\"", px(style.turn), px(x), px(y))
        };
        let Style { size, colour, .. } = style;
        if style.halo && !text.is_empty() {
            self.halo((x, y), width, style, &turn);
        }
        if self.lettering == Lettering::Outlines {
            let start = style.left(x, width);
            let outlines = font::outlines(&shown(text), start, y, size, style.weight);
            self.add(format_args!("<path d=\"{outlines}\" fill=\"{colour}\"{turn}/>"));
            return width;
        }
        let anchor = match style.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if style.weight == Weight::Semibold { " font-weight=\"600\"" } else { "" };
        self.add(format_args!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{weight} fill=\"{colour}\"{anchor}{turn}>{}</text>",
            px(x),
            px(y),
            px(size),
            xml(text)
        ));
        width
    }

    /// Paper under a text, as a shape of its own: text that is stroked and
    /// filled in an order of its own is drawn by some renderers of PDF as
    /// outlines alone, or not at all.
    fn halo(&mut self, (x, y): (f64, f64), width: f64, style: Style, turn: &str) {
        let (left, size) = (style.left(x, width), style.size);
        // From above the capitals to the foot of the letters that hang down.
        let (x, y, wide, high) = (px(left - 2.0), px(y - 0.78 * size), px(width + 4.0), px(size));
        self.add(format_args!(
            "<rect class=\"halo\" x=\"{x}\" y=\"{y}\" width=\"{wide}\" height=\"{high}\" rx=\"3\" fill=\"{PAPER}\" \
             fill-opacity=\"0.86\"{turn}/>"
        ));
    }

    /// The sheet as an SVG file.
    pub fn finish(self) -> String {
        let (width, height, name) = (px(WIDTH), px(self.height), self.name);
        let (title, description) = (xml(&self.title), xml(&self.description));
        let faces = if self.lettering == Lettering::Embedded { faces() } else { String::new() };
        let labels = if self.lettering == Lettering::Outlines {
            String::new()
        } else {
            format!("<title id=\"{name}-title\">{title}</title>\n<desc id=\"{name}-desc\">{description}</desc>\n")
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{name}-title {name}-desc\" \
             font-family=\"Inter, 'Helvetica Neue', Arial, sans-serif\">\n{labels}{faces}\
             <rect width=\"{width}\" height=\"{height}\" fill=\"{PAPER}\"/>\n{}</svg>\n",
            self.body
        )
    }
}

fn faded(opacity: f64) -> String {
    if opacity >= 1.0 {
        String::new()
    } else {
        format!(" fill-opacity=\"{}\"", crate::number::plain((opacity * 100.0).round() / 100.0))
    }
}

fn look(stroke: Stroke) -> String {
    let mut look = format!("stroke=\"{}\" stroke-width=\"{}\"", stroke.colour, px(stroke.width));
    if !stroke.dashes.is_empty() {
        let dashes: Vec<String> = stroke.dashes.iter().map(|&length| px(length)).collect();
        let _ = write!(look, " stroke-dasharray=\"{}\"", dashes.join(" "));
    }
    look.push_str(" stroke-linejoin=\"round\"");
    look
}

fn places(points: &[(f64, f64)]) -> String {
    let places: Vec<String> = points.iter().map(|&(x, y)| format!("{},{}", px(x), px(y))).collect();
    places.join(" ")
}

/// The fonts as a style sheet that fetches nothing.
pub fn faces() -> String {
    let face = |weight: &str, bytes: &[u8]| {
        format!(
            "@font-face{{font-family:Inter;font-weight:{weight};src:url(data:font/woff2;base64,{}) format('woff2')}}",
            STANDARD.encode(bytes)
        )
    };
    format!("<style>{}{}</style>\n", face("400", font::REGULAR_FOR_PAGES), face("600", font::SEMIBOLD_FOR_PAGES))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_leave_their_place() {
        let mut canvas = Canvas::new("test", Lettering::Outside);
        let name = "<script>alert(\"1\")</script>&\u{1b}[31m\u{202e}\u{ffff}\n'";
        canvas.describe(name, name);
        canvas.group("row", &[("name", name)], name, |canvas| {
            canvas.text(0.0, 0.0, name, BODY);
        });
        let svg = canvas.finish();
        assert!(!svg.contains("<script") && !svg.contains('\u{1b}') && !svg.contains('\u{202e}'), "{svg}");
        assert!(!svg.contains('\u{ffff}') && svg.contains("&lt;script&gt;"), "{svg}");
    }

    #[test]
    fn lengths_are_short_and_finite() {
        assert_eq!(px(1.0 / 3.0), "0.35");
        assert_eq!(px(-0.001), "0");
        assert_eq!(px(f64::NAN), "0");
    }
}
