//! Labels that keep clear of curves and of each other.

use super::canvas::{Anchor, Canvas, SMALL, Stroke, Style};
use super::colour::{AXIS, INK};
use super::{MARGIN, WIDTH};
use crate::portable::Portable;

/// A label: lines of text, the first placed at a point.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Lines with their looks; the first is the headline.
    pub lines: Vec<(String, Style)>,
    /// On which side of its point it is better placed.
    pub side: Side,
}

/// Above or below a point.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// Where there is room.
    #[default]
    Either,
    /// Rather above.
    Above,
    /// Rather below.
    Below,
}

impl Side {
    /// What a place above or below costs.
    fn cost(self, is_below: bool) -> f64 {
        match (self, is_below) {
            (Side::Either, _) | (Side::Above, false) | (Side::Below, true) => 0.0,
            _ => 120.0,
        }
    }
}

/// Names that found no room where they belong: each has a number there, and
/// stands beside it below the chart.
#[derive(Clone, Debug, Default)]
pub struct Key {
    names: Vec<String>,
}

/// Width of a column of a key in pixels.
const KEY: f64 = (WIDTH - 2.0 * MARGIN) / 4.0;

impl Key {
    /// The number of a further name.
    fn number(&mut self, name: &str) -> String {
        self.names.push(name.to_owned());
        self.names.len().to_string()
    }

    /// Draws the key from a baseline on, in four columns that are read downwards,
    /// and gives the baseline below it.
    pub fn draw(&self, canvas: &mut Canvas, y: f64) -> f64 {
        let rows = self.names.len().div_ceil(4).max(1);
        for (at, name) in self.names.iter().enumerate() {
            let (x, y) = (MARGIN + KEY * (at / rows) as f64, y + 17.0 * (at % rows) as f64);
            let number = (at + 1).to_string();
            canvas.group("name", &[("number", &number), ("name", name)], name, |canvas| {
                canvas.text(x + 20.0, y, &number, SMALL.bold().colour(INK).end());
                canvas.text(x + 27.0, y, &SMALL.shortened(name, KEY - 37.0), SMALL.colour(INK));
            });
        }
        if self.names.is_empty() { y } else { y + 17.0 * rows as f64 + 8.0 }
    }
}

/// A rectangle: left, top, right, bottom.
type Box4 = (f64, f64, f64, f64);

/// What is taken on an area of the sheet.
#[derive(Clone, Debug)]
pub struct Crowd {
    inside: Box4,
    taken: Vec<Box4>,
    /// Points of curves that labels should not cover.
    curve: Vec<(f64, f64)>,
}

/// Height of a line of a label.
const LEADING: f64 = 18.0;

impl Crowd {
    /// Labels stay inside (left, top, right, bottom).
    pub fn new(inside: Box4) -> Crowd {
        Crowd { inside, taken: Vec::new(), curve: Vec::new() }
    }

    /// Keeps labels off a line through these points.
    pub fn avoid(&mut self, points: &[(f64, f64)]) {
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let steps = ((x1 - x0).hypotenuse(y1 - y0) / 6.0).ceil().clamp(1.0, 400.0) as usize;
            let between = |at: usize| at as f64 / steps as f64;
            self.curve.extend((0..=steps).map(|at| (x0 + (x1 - x0) * between(at), y0 + (y1 - y0) * between(at))));
        }
    }

    /// Keeps labels off a rectangle.
    pub fn take(&mut self, taken: Box4) {
        self.taken.push(taken);
    }

    /// How much is in the way of a rectangle.
    pub fn cost(&self, (left, top, right, bottom): Box4) -> f64 {
        let over = |a: f64, b: f64| (a - b).max(0.0);
        let outside = over(self.inside.0, left)
            + over(right, self.inside.2)
            + over(self.inside.1, top)
            + over(bottom, self.inside.3);
        let overlaps = |&&(l, t, r, b): &&Box4| l < right && r > left && t < bottom && b > top;
        let covered = |&&(x, y): &&(f64, f64)| x > left - 2.0 && x < right + 2.0 && y > top - 1.0 && y < bottom + 1.0;
        let crowded = self.taken.iter().filter(overlaps).count() as f64;
        outside * 50.0 + crowded * 400.0 + self.curve.iter().filter(covered).count() as f64 * 25.0
    }

    /// Draws a text beside a point that is itself taken: right, left, below or
    /// above, where nothing is in the way. Gives whether there was room.
    pub fn beside(&mut self, canvas: &mut Canvas, (x, y): (f64, f64), text: &str, style: Style) -> bool {
        let (wide, high) = (style.width(text), style.size + 2.0);
        let lefts = [(x + 8.0, 0.0), (x - 8.0 - wide, 0.0)];
        let rows = [0.0, -8.0, 8.0];
        let sides = rows.iter().flat_map(|down| lefts.map(|(left, _)| (left, y + down)));
        let about = [(x - wide / 2.0, y + 15.0), (x - wide / 2.0, y - 15.0)];
        for (left, middle) in sides.chain(about) {
            let place = (left, middle - high / 2.0, left + wide, middle + high / 2.0);
            if self.cost(place) == 0.0 {
                self.taken.push((place.0 - 3.0, place.1, place.2 + 3.0, place.3));
                canvas.text(left, middle + 0.36 * style.size, text, Style { halo: true, ..style });
                return true;
            }
        }
        false
    }

    /// Draws a name beside a point that is itself taken; where there is no room
    /// for it, its number in a key, led to the point by a thin line if need be.
    pub fn named(&mut self, canvas: &mut Canvas, at: (f64, f64), name: &str, style: Style, key: &mut Key) {
        if self.beside(canvas, at, name, style) {
            return;
        }
        let number = key.number(name);
        if !self.beside(canvas, at, &number, style.bold()) {
            self.led(canvas, at, &number, style.bold());
        }
    }

    /// Draws a text at the nearest free place, with a thin line to its point.
    fn led(&mut self, canvas: &mut Canvas, (x, y): (f64, f64), text: &str, style: Style) {
        let (wide, high) = (style.width(text), style.size + 2.0);
        let mut best: Option<(f64, (f64, f64))> = None;
        for ring in 2..30 {
            for turn in 0..24 {
                let (sin, cos) = (f64::from(turn) * std::f64::consts::TAU / 24.0).sin_cos();
                let far = 9.0 * f64::from(ring);
                let (cx, cy) = (x + far * cos, y + far * sin);
                let (half, tall) = (wide / 2.0 + 1.0, high / 2.0);
                let cost = far + self.cost((cx - half, cy - tall, cx + half, cy + tall));
                if best.is_none_or(|(least, _)| cost < least) {
                    best = Some((cost, (cx, cy)));
                }
            }
        }
        let Some((_, (cx, cy))) = best else { return };
        let far = (cx - x).hypotenuse(cy - y).max(1.0);
        let (ux, uy) = ((cx - x) / far, (cy - y) / far);
        canvas.line((x + 5.5 * ux, y + 5.5 * uy), (cx - 7.0 * ux, cy - 7.0 * uy), Stroke::new(AXIS, 0.8));
        canvas.text(cx - wide / 2.0, cy + 0.36 * style.size, text, Style { halo: true, ..style });
        self.taken.push((cx - wide / 2.0 - 3.0, cy - high / 2.0, cx + wide / 2.0 + 3.0, cy + high / 2.0));
    }

    /// Draws a label near a point, where least is in the way: below right,
    /// below left, above left or above right, as near as can be.
    pub fn label(&mut self, canvas: &mut Canvas, (x, y): (f64, f64), label: &Label) {
        let width = label.lines.iter().map(|(text, style)| style.width(text)).fold(0.0, f64::max);
        let height = LEADING * label.lines.len() as f64;
        let mut best: Option<(f64, Box4, Anchor)> = None;
        let fars = [10.0, 22.0, 40.0, 64.0, 96.0, 132.0, 170.0];
        // Further to the side where something upright is in the way.
        let asides = [0.0, 40.0, 90.0, 150.0];
        for (far, aside) in fars.into_iter().flat_map(|far| asides.map(|aside| (far, aside))) {
            for (across, down) in [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (0.0, -1.0), (0.0, 1.0)] {
                let left = match across {
                    // About the middle, pushed inside.
                    0.0 => (x - width / 2.0).min(self.inside.2 - width).max(self.inside.0),
                    1.0 => x + 12.0 + aside,
                    _ => x - 12.0 - aside - width,
                };
                let top = if down > 0.0 { y + far } else { y - far - height };
                let place = (left, top, left + width, top + height);
                let anchor = if across < 0.0 { Anchor::End } else { Anchor::Start };
                let cost = self.cost(place) + far + 0.8 * aside + label.side.cost(down > 0.0);
                if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                    best = Some((cost, place, anchor));
                }
            }
        }
        let Some((_, place, anchor)) = best else { return };
        self.taken.push((place.0 - 4.0, place.1 - 2.0, place.2 + 4.0, place.3 + 2.0));
        let start = if anchor == Anchor::End { place.2 } else { place.0 };
        for (at, (text, style)) in label.lines.iter().enumerate() {
            canvas.text(start, place.1 + LEADING * at as f64 + 13.0, text, Style { anchor, halo: true, ..*style });
        }
    }
}
