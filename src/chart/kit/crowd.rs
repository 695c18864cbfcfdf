//! Labels that keep clear of curves and of each other.

use super::canvas::{Anchor, Canvas, Style};

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
            let steps = ((x1 - x0).hypot(y1 - y0) / 6.0).ceil().clamp(1.0, 400.0) as usize;
            let between = |at: usize| at as f64 / steps as f64;
            self.curve.extend((0..=steps).map(|at| (x0 + (x1 - x0) * between(at), y0 + (y1 - y0) * between(at))));
        }
    }

    /// Keeps labels off a rectangle.
    pub fn take(&mut self, taken: Box4) {
        self.taken.push(taken);
    }

    /// How much is in the way of a rectangle.
    fn cost(&self, (left, top, right, bottom): Box4) -> f64 {
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

    /// Draws a label near a point, where least is in the way: below right,
    /// below left, above left or above right, as near as can be.
    pub fn label(&mut self, canvas: &mut Canvas, (x, y): (f64, f64), label: &Label) {
        let width = label.lines.iter().map(|(text, style)| style.width(text)).fold(0.0, f64::max);
        let height = LEADING * label.lines.len() as f64;
        let mut best: Option<(f64, Box4, Anchor)> = None;
        for far in [10.0, 22.0, 40.0, 64.0, 96.0] {
            for (across, down) in [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0), (0.0, -1.0), (0.0, 1.0)] {
                let left = match across {
                    // About the middle, pushed inside.
                    0.0 => (x - width / 2.0).min(self.inside.2 - width).max(self.inside.0),
                    1.0 => x + 12.0,
                    _ => x - 12.0 - width,
                };
                let top = if down > 0.0 { y + far } else { y - far - height };
                let place = (left, top, left + width, top + height);
                let anchor = if across < 0.0 { Anchor::End } else { Anchor::Start };
                let cost = self.cost(place) + far + label.side.cost(down > 0.0);
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
