//! Two numbers for each row on one line: a score before and after trials, or how
//! near a trial came by the nose and by the numbers.

use super::Chart;
use super::dumbbell::row_of;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke, Style};
use super::kit::colour::{AXIS, CALM, GRID, INK, NOW, PAPER, SOFT};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::Scale;
use super::kit::words::{number, tick};
use super::kit::{MARGIN, WIDTH};
use crate::number::plain;

/// One row.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// What it is called.
    pub name: String,
    /// The first number, drawn as a ring.
    pub first: Option<f64>,
    /// The second, drawn as a disc.
    pub second: Option<f64>,
    /// An interval around the second.
    pub interval: Option<(f64, f64)>,
    /// Whether the second is sure to be another than the first: drawn full, else
    /// hollow.
    pub is_sure: bool,
}

/// Rows that share an axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// What the axis counts, with its unit.
    pub axis: String,
    /// Where the scale ends, whatever the rows have, where it has an end.
    pub end: Option<f64>,
    /// Whether the axis may begin above 0, where all rows lie high.
    pub may_begin_higher: bool,
    /// The rows, from the top.
    pub rows: Vec<Pair>,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct PairsChart {
    /// The finding.
    pub title: String,
    /// What is drawn.
    pub subtitle: String,
    /// What a ring, a disc and, where there is one, a bar stand for.
    pub keys: [String; 3],
    /// The note at the foot.
    pub note: String,
    /// The panels, from the top; those without rows are left out.
    pub panels: Vec<Panel>,
}

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 300.0;
/// Right edge of everything, in pixels.
const RIGHT: f64 = WIDTH - MARGIN;
/// Room for a number beside the rows, in pixels.
const NUMBER: f64 = 62.0;

/// Part of the way to the end from which on an axis that may begin higher does.
const HIGH_UP: f64 = 0.3;

impl Panel {
    /// From 0, or from the lowest that is worth showing, to the end of the scale
    /// or to what the rows have.
    fn scale(&self, left: f64, right: f64) -> Scale {
        let numbers = || {
            let of =
                |row: &Pair| [row.first, row.second, row.interval.map(|ends| ends.0), row.interval.map(|ends| ends.1)];
            self.rows.iter().flat_map(of).flatten()
        };
        let most = numbers().fold(self.end.unwrap_or(0.0), f64::max).max(1e-3);
        let least = numbers().fold(most, f64::min);
        let from = if self.may_begin_higher && least > HIGH_UP * most { least } else { 0.0 };
        Scale::rounded(from, most, left, right, 5)
    }
}

impl PairsChart {
    fn subtitle(&self) -> Vec<Piece> {
        let [ring, disc, bar] = &self.keys;
        let mut pieces = vec![words(&self.subtitle), key(Mark::Ring, ring, INK), key(Mark::Disc(NOW), disc, NOW)];
        if self.rows().any(|row| row.interval.is_some()) {
            pieces.push(key(Mark::Line(CALM), bar, SOFT));
        }
        if self.rows().any(|row| !row.is_sure && row.second.is_some()) {
            pieces.push(key(Mark::Hollow(NOW), "not yet sure", NOW));
        }
        pieces
    }

    fn rows(&self) -> impl Iterator<Item = &Pair> {
        self.panels.iter().flat_map(|panel| &panel.rows)
    }

    fn description(&self) -> String {
        let shown = |value: Option<f64>| value.map_or_else(|| "nothing".to_owned(), |value| number(value, 2));
        let line = |row: &Pair| format!("{}: {}, {}", row.name, shown(row.first), shown(row.second));
        format!(
            "{} {}, {}. {}",
            self.subtitle,
            self.keys[0],
            self.keys[1],
            self.rows().map(line).collect::<Vec<_>>().join(". ")
        )
    }
}

impl Chart for PairsChart {
    fn name(&self) -> &'static str {
        "pairs"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.title, &self.subtitle(), &self.description());
        let count = self.rows().count();
        if count == 0 {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let (height, size) = row_of(count);
        let label = BODY.size(size);
        let widest = self.rows().map(|row| label.width(&row.name)).fold(30.0, f64::max);
        let left = MARGIN + widest.min(NAMES) + 18.0;
        let mut y = top;
        for panel in self.panels.iter().filter(|panel| !panel.rows.is_empty()) {
            let (first, bottom) = (y + 50.0, y + 50.0 + height * panel.rows.len() as f64);
            let scale = panel.scale(left, RIGHT - 2.0 * NUMBER - 14.0);
            let begins = match scale.from {
                0.0 => String::new(),
                from => format!("; the axis begins at {}", tick(from)),
            };
            canvas.text(left, first - 30.0, &format!("{}{begins}", panel.axis), SMALL);
            for value in scale.ticks(5) {
                let x = scale.px(value);
                canvas.line((x, first - 6.0), (x, bottom), Stroke::new(GRID, 1.0));
                canvas.text(x, first - 12.0, &tick(value), SMALL.middle());
            }
            canvas.disc((RIGHT - NUMBER - 8.0, first - 16.0), 4.5, PAPER, Stroke::new(INK, 1.6));
            canvas.disc((RIGHT - 8.0, first - 16.0), 4.5, NOW, Stroke::new(PAPER, 1.0));
            for (at, row) in panel.rows.iter().enumerate() {
                draw_row(canvas, row, first + height * (at as f64 + 0.5), height, label, &scale);
            }
            y = bottom + 14.0;
        }
        frame::foot(canvas, y + 20.0, &self.note);
    }
}

fn draw_row(canvas: &mut Canvas, row: &Pair, y: f64, height: f64, label: Style, scale: &Scale) {
    let text = |value: Option<f64>| value.map(plain).unwrap_or_default();
    let (first, second) = (text(row.first), text(row.second));
    let shown = |value: Option<f64>| {
        value.map_or_else(|| "—".to_owned(), |value| number(value, if value < 9.95 { 1 } else { 0 }))
    };
    let sure = if row.is_sure { "yes" } else { "no" };
    let data = [("name", row.name.as_str()), ("first", &first), ("second", &second), ("sure", sure)];
    let tip = format!("{}: {}, {}", row.name, shown(row.first), shown(row.second));
    canvas.group("pair", &data, &tip, |canvas| {
        canvas.touch(MARGIN, y - height / 2.0, RIGHT - MARGIN, height);
        let base = y + label.size * 0.35;
        canvas.text(scale.start - 18.0, base, &label.shortened(&row.name, NAMES), label.end());
        if let Some((low, high)) = row.interval {
            let (from, to) = (scale.px(low), scale.px(high));
            canvas.rect(from, y - 1.5, (to - from).max(2.0), 3.0, CALM, 0.6);
        }
        if let (Some(first), Some(second)) = (row.first, row.second) {
            canvas.line((scale.px(first), y), (scale.px(second), y), Stroke::new(AXIS, 1.4));
        }
        if let Some(first) = row.first {
            canvas.disc((scale.px(first), y), 4.6, PAPER, Stroke::new(INK, 1.6));
        }
        if let Some(second) = row.second {
            if row.is_sure {
                canvas.disc((scale.px(second), y), 5.0, NOW, Stroke::new(PAPER, 1.2));
            } else {
                canvas.disc((scale.px(second), y), 4.4, PAPER, Stroke::new(NOW, 1.8));
            }
        }
        canvas.text(RIGHT - NUMBER, base, &shown(row.first), label.colour(SOFT).end());
        canvas.text(RIGHT, base, &shown(row.second), label.bold().end());
    });
}
