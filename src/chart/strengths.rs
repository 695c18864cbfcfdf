//! Strengths before and after matches: intervals on an axis of ratios.

use super::Chart;
use super::dumbbell::row_of;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke, Style};
use super::kit::colour::{AXIS, GRID, INK, NOW, OTHERS, PAPER, SOFT};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::{Scale, Steps};
use super::kit::words::{brief, count, dose, sentence, tick};
use super::kit::{MARGIN, WIDTH};
use crate::portable::Portable;

/// One material.
#[derive(Clone, Debug, PartialEq)]
pub struct StrengthRow {
    /// The material.
    pub material: String,
    /// Its strength in the palette, above 0.
    pub before: f64,
    /// Where it lay with 95 % by the palette.
    pub before_range: (f64, f64),
    /// Its strength by palette and matches.
    pub after: f64,
    /// Where it lies with 95 % now.
    pub range: (f64, f64),
    /// Whether it keeps its strength.
    pub held: bool,
    /// Whether matches tie it to the reference.
    pub tied: bool,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct StrengthsChart {
    /// What the shelf is called.
    pub shelf: String,
    /// The material that keeps its strength.
    pub reference: String,
    /// How many pairs were smelled.
    pub pairs: usize,
    /// How many of them contradict the others.
    pub contradictions: usize,
    /// The materials.
    pub rows: Vec<StrengthRow>,
}

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 230.0;
/// Right edge of everything, in pixels.
const RIGHT: f64 = WIDTH - MARGIN;
/// A strength that moves by less than this factor has not moved.
const STILL: f64 = 1.05;

impl StrengthsChart {
    fn finding(&self) -> String {
        let moved = |row: &&StrengthRow| (row.after / row.before).logarithm().abs();
        let most = self.rows.iter().filter(|row| !row.held).max_by(|a, b| moved(a).total_cmp(&moved(b)));
        let head = match most {
            Some(row) if moved(&row) > STILL.logarithm() => {
                let ratio = row.after / row.before;
                let (times, which) = if ratio > 1.0 { (ratio, "stronger") } else { (1.0 / ratio, "weaker") };
                let name = sentence(&brief(&row.material));
                format!("{name} is {} times {which} than the palette says", dose((times * 10.0).round() / 10.0))
            }
            _ => "The matches bear the palette out".to_owned(),
        };
        match self.contradictions {
            0 => head,
            1 => format!("{head}; one match contradicts the others"),
            many => format!("{head}; {many} matches contradict the others"),
        }
    }

    fn subtitle(&self) -> Vec<Piece> {
        let text = format!(
            "{}: strength by dilution, with 95 %, from {}; {} keeps its own.",
            self.shelf,
            count(self.pairs, "match", "matches"),
            brief(&self.reference)
        );
        vec![
            words(&text),
            key(Mark::Square(OTHERS), "by the palette", SOFT),
            key(Mark::Disc(NOW), "with the matches", INK),
        ]
    }

    fn description(&self) -> String {
        let row = |row: &StrengthRow| {
            let (low, high) = row.range;
            let (before, after) = (dose(row.before), dose(row.after));
            format!("{}: {before} before, {after} now, from {} to {}", row.material, dose(low), dose(high))
        };
        let rows: Vec<String> = self.rows.iter().map(row).collect();
        format!("{}: strengths from matches. {}", self.shelf, rows.join(". "))
    }

    /// Whole decades around all intervals.
    fn scale(&self, start: f64, end: f64) -> Scale {
        let ends =
            || self.rows.iter().flat_map(|row| [row.before_range.0, row.range.0, row.before_range.1, row.range.1]);
        let least = ends().fold(f64::INFINITY, f64::min).max(1e-12);
        let most = ends().fold(least, f64::max);
        // Room for the discs that stand at the very ends.
        let (from, to) = (least / 1.15, (most * 1.15).max(least * 2.0));
        Scale { from, to, start, end, steps: Steps::Log }
    }
}

impl Chart for StrengthsChart {
    fn name(&self) -> &'static str {
        "strengths"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        // The strongest first: neighbours on the axis are neighbours in the list.
        let mut rows: Vec<&StrengthRow> = self.rows.iter().collect();
        rows.sort_by(|a, b| b.after.total_cmp(&a.after));
        if rows.is_empty() {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let (height, size) = row_of(rows.len());
        let label = BODY.size(size);
        let widest = rows.iter().map(|row| label.bold().width(&row.material)).fold(30.0, f64::max);
        let left = MARGIN + widest.min(NAMES) + 18.0;
        let (before_edge, now_edge) = (RIGHT - 70.0, RIGHT);
        let scale = self.scale(left, before_edge - 62.0);
        let first = top + 36.0;
        let bottom = first + height * rows.len() as f64;
        let mut last = f64::NEG_INFINITY;
        for value in scale.ticks(9) {
            let x = scale.px(value);
            canvas.line((x, first - 6.0), (x, bottom), Stroke::new(GRID, 1.0));
            // Where a decade is narrow its numbers would touch.
            if x - last > 44.0 {
                canvas.text(x, first - 14.0, &tick(value), SMALL.middle());
                last = x;
            }
        }
        canvas.text(before_edge, first - 14.0, "before", SMALL.end());
        canvas.text(now_edge, first - 14.0, "now", SMALL.end());
        for (at, row) in rows.iter().enumerate() {
            let y = first + height * (at as f64 + 0.5);
            draw_row(canvas, row, (y, height), label, &scale, (before_edge, now_edge));
        }
        canvas.line((left, bottom), (scale.end, bottom), Stroke::new(AXIS, 1.2));
        let loose = rows.iter().filter(|row| !row.tied).count();
        let mut note = "Scale by ratio. Strength by dilution: a material of 4000 smells as strong at 1 % as one of 40 \
                        smells neat."
            .to_owned();
        if loose > 0 {
            note += &format!(
                " {} hollow: no chain of matches leads to the reference.",
                count(loose, "material is", "materials are")
            );
        }
        frame::foot(canvas, bottom + 30.0, &note);
    }
}

fn draw_row(
    canvas: &mut Canvas,
    row: &StrengthRow,
    (y, height): (f64, f64),
    label: Style,
    scale: &Scale,
    (before_edge, now_edge): (f64, f64),
) {
    let plain = crate::number::plain;
    let (before, after) = (plain(row.before), plain(row.after));
    let (low, high) = (plain(row.range.0), plain(row.range.1));
    let data =
        [("material", row.material.as_str()), ("before", &before), ("after", &after), ("low", &low), ("high", &high)];
    let tip = format!(
        "{}: {} before, {} now, from {} to {} with 95 %",
        row.material,
        dose(row.before),
        dose(row.after),
        dose(row.range.0),
        dose(row.range.1)
    );
    canvas.group("strength", &data, &tip, |canvas| {
        canvas.touch(MARGIN, y - height / 2.0, RIGHT - MARGIN, height);
        let base = y + label.size * 0.35;
        let name = label.shortened(&row.material, NAMES);
        canvas.text(scale.start - 18.0, base, &name, label.end());
        let (high, low) = (height * 0.5, height * 0.2);
        let bar = |canvas: &mut Canvas, (from, to): (f64, f64), tall: f64, colour: &str, opacity: f64| {
            let (from, to) = (scale.px(from), scale.px(to));
            canvas.rect(from, y - tall / 2.0, (to - from).max(2.0), tall, colour, opacity);
        };
        if !row.held {
            bar(canvas, row.before_range, high, OTHERS, 0.6);
            bar(canvas, row.range, low, NOW, 0.75);
        }
        let x = scale.px(row.before);
        canvas.rect(x - 1.0, y - high / 2.0, 2.0, high, SOFT, 1.0);
        let radius = (height * 0.19).clamp(3.4, 5.4);
        let (fill, rim) = if row.tied { (NOW, PAPER) } else { (PAPER, NOW) };
        canvas.disc((scale.px(row.after), y), radius, fill, Stroke::new(rim, 1.4));
        canvas.text(before_edge, base, &dose(row.before), label.colour(SOFT).end());
        let now = if row.held { "keeps".to_owned() } else { dose(row.after) };
        canvas.text(now_edge, base, &now, label.bold().end());
    });
}
