//! How sure formulas are: how their match spreads over the draws, and which
//! materials that comes from.

use super::Chart;
use super::dumbbell::row_of;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, GRID, INK, NOW, PAPER, SOFT, WIDE};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::Scale;
use super::kit::words::{brief, percent, sentence, tick};
use super::kit::{MARGIN, WIDTH};

/// How the match of a formula spreads.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubtRow {
    /// What the formula is called.
    pub name: String,
    /// Fidelity by the numbers as they are written, in percent.
    pub on_paper_percent: f64,
    /// Its mean over the draws.
    pub mean_percent: f64,
    /// Nine draws in ten lie between these.
    pub nine_in_ten_percent: (f64, f64),
    /// Half of the draws lie between these.
    pub half_percent: (f64, f64),
}

/// What a material has in the doubt of the first formula.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubtPart {
    /// The material.
    pub material: String,
    /// Percent of the variance, all its numbers together.
    pub share_percent: f64,
    /// Of that by its strength.
    pub by_strength_percent: f64,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct DoubtChart {
    /// Title of the brief.
    pub brief: String,
    /// How many draws.
    pub draws: usize,
    /// The formulas.
    pub rows: Vec<DoubtRow>,
    /// Percent of the draws in which the first of two is nearer the target.
    pub nearer_percent: Option<f64>,
    /// Of the first formula, the largest first.
    pub parts: Vec<DoubtPart>,
}

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 250.0;
/// Right edge of everything, in pixels.
const RIGHT: f64 = WIDTH - MARGIN;
/// Materials that are drawn at the most.
const PARTS: usize = 16;
/// Shares below this, in percent, are not drawn.
const NOTHING: f64 = 0.5;

impl DoubtChart {
    fn finding(&self) -> String {
        if let (Some(chance), [one, other]) = (self.nearer_percent, &self.rows[..]) {
            let (nearer, than, chance) =
                if chance >= 50.0 { (one, other, chance) } else { (other, one, 100.0 - chance) };
            let head = sentence(&brief(&nearer.name));
            return format!("{head} is nearer than {} in {} % of the draws", brief(&than.name), percent(chance));
        }
        let Some(first) = self.rows.first() else { return "There is nothing to draw".to_owned() };
        let (low, high) = first.nine_in_ten_percent;
        let span = format!("The match lies between {} and {} %", percent(low), percent(high));
        match self.parts.first().filter(|part| part.share_percent >= NOTHING) {
            Some(part) => {
                format!("{span}; {} is {} % of the doubt", brief(&part.material), percent(part.share_percent))
            }
            None => span,
        }
    }

    fn subtitle(&self) -> Vec<Piece> {
        let text = format!(
            "{}: match on paper over {} draws of scores and strengths within their errors.",
            self.brief,
            tick(self.draws as f64)
        );
        vec![
            words(&text),
            key(Mark::Square(WIDE), "nine draws in ten", SOFT),
            key(Mark::Square(NOW), "half of them", INK),
            key(Mark::Ring, "average", INK),
            key(Mark::Tick, "as written", INK),
        ]
    }

    fn description(&self) -> String {
        let row = |row: &DoubtRow| {
            let (low, high) = row.nine_in_ten_percent;
            format!("{}: {} to {} %", row.name, percent(low), percent(high))
        };
        let rows: Vec<String> = self.rows.iter().map(row).collect();
        let parts: Vec<String> =
            self.parts.iter().map(|part| format!("{} {} %", part.material, percent(part.share_percent))).collect();
        format!("{}. {}. Shares of the doubt: {}", self.brief, rows.join("; "), parts.join(", "))
    }

    fn draw_rows(&self, canvas: &mut Canvas, first: f64, left: f64) -> f64 {
        let (height, size) = row_of(self.rows.len());
        let label = BODY.size(size);
        let edge = RIGHT - 100.0;
        let ends = || {
            self.rows.iter().flat_map(|row| {
                [row.nine_in_ten_percent.0, row.nine_in_ten_percent.1, row.on_paper_percent, row.mean_percent]
            })
        };
        let (least, most) = (ends().fold(100.0, f64::min), ends().fold(0.0, f64::max));
        let scale = Scale::rounded(least, most.max(least + 0.5), left, edge, 8);
        let bottom = first + height * self.rows.len() as f64;
        for value in scale.ticks(8) {
            let x = scale.px(value);
            canvas.line((x, first - 6.0), (x, bottom), Stroke::new(GRID, 1.0));
            canvas.text(x, first - 14.0, &tick(value), SMALL.middle());
        }
        canvas.text(left - 18.0, first - 14.0, "match, %", SMALL.end());
        canvas.text(RIGHT, first - 14.0, "average", SMALL.end());
        for (at, row) in self.rows.iter().enumerate() {
            let y = first + height * (at as f64 + 0.5);
            let plain = crate::number::plain;
            let (mean, paper) = (plain(row.mean_percent), plain(row.on_paper_percent));
            let (low, high) = (plain(row.nine_in_ten_percent.0), plain(row.nine_in_ten_percent.1));
            let data =
                [("formula", row.name.as_str()), ("mean", &mean), ("p5", &low), ("p95", &high), ("paper", &paper)];
            let tip = format!(
                "{}: {} % on average, nine draws in ten from {} to {} %, {} % as written",
                row.name,
                percent(row.mean_percent),
                percent(row.nine_in_ten_percent.0),
                percent(row.nine_in_ten_percent.1),
                percent(row.on_paper_percent)
            );
            canvas.group("spread", &data, &tip, |canvas| {
                canvas.touch(MARGIN, y - height / 2.0, RIGHT - MARGIN, height);
                let base = y + label.size * 0.35;
                canvas.text(left - 18.0, base, &label.bold().shortened(&row.name, NAMES), label.bold().end());
                let mut bar = |(from, to): (f64, f64), tall: f64, colour: &str| {
                    let (from, to) = (scale.px(from), scale.px(to));
                    canvas.rect(from, y - tall / 2.0, (to - from).max(2.0), tall, colour, 1.0);
                };
                bar(row.nine_in_ten_percent, height * 0.34, WIDE);
                bar(row.half_percent, height * 0.34, NOW);
                canvas.rect(scale.px(row.on_paper_percent) - 1.25, y - height * 0.36, 2.5, height * 0.72, INK, 1.0);
                let radius = (height * 0.19).clamp(3.4, 5.4);
                canvas.disc((scale.px(row.mean_percent), y), radius, PAPER, Stroke::new(INK, 1.6));
                canvas.text(RIGHT, base, &percent(row.mean_percent), label.bold().end());
            });
        }
        canvas.line((left, bottom), (edge, bottom), Stroke::new(AXIS, 1.2));
        bottom
    }

    fn draw_parts(&self, canvas: &mut Canvas, first: f64, left: f64) -> f64 {
        let parts: Vec<&DoubtPart> =
            self.parts.iter().filter(|part| part.share_percent >= NOTHING).take(PARTS).collect();
        if parts.is_empty() {
            return first - 30.0;
        }
        let (height, size) = row_of(parts.len());
        let label = BODY.size(size);
        let most = parts.iter().map(|part| part.share_percent).fold(0.0, f64::max);
        let scale = Scale::linear(0.0, most, left, RIGHT - 100.0);
        let head = match &self.rows[..] {
            [_] | [] => "What the doubt is made of, by material".to_owned(),
            [row, ..] => format!("What the doubt of {} is made of, by material", brief(&row.name)),
        };
        canvas.text(MARGIN, first - 22.0, &head, BODY.bold());
        for (at, part) in parts.iter().enumerate() {
            let y = first + height * (at as f64 + 0.5);
            let plain = crate::number::plain;
            let (share, strength) = (plain(part.share_percent), plain(part.by_strength_percent));
            let data = [("material", part.material.as_str()), ("share", &share), ("strength", &strength)];
            let tip = format!(
                "{}: {} % of the doubt, {} % by its strength alone",
                part.material,
                percent(part.share_percent),
                percent(part.by_strength_percent)
            );
            canvas.group("part", &data, &tip, |canvas| {
                canvas.touch(MARGIN, y - height / 2.0, RIGHT - MARGIN, height);
                let base = y + label.size * 0.35;
                canvas.text(left - 18.0, base, &label.shortened(&part.material, NAMES), label.end());
                let tall = height * 0.5;
                let (start, end) = (scale.px(0.0), scale.px(part.share_percent));
                canvas.rect(start, y - tall / 2.0, (end - start).max(1.5), tall, WIDE, 1.0);
                let strength = scale.px(part.by_strength_percent);
                canvas.rect(start, y - tall / 2.0, strength - start, tall, NOW, 1.0);
                canvas.text(end + 8.0, base, &format!("{} %", percent(part.share_percent)), label.bold());
            });
        }
        let bottom = first + height * parts.len() as f64 + 22.0;
        let mut x = MARGIN;
        for (colour, text) in [(NOW, "by its strength"), (WIDE, "by its scores, and both together")] {
            frame::draw(canvas, Mark::Square(colour), x, bottom - 4.0);
            x += 17.0;
            x += canvas.text(x, bottom, text, SMALL.colour(INK)) + 22.0;
        }
        bottom
    }
}

impl Chart for DoubtChart {
    fn name(&self) -> &'static str {
        "doubt"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        if self.rows.is_empty() {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let label = BODY.bold();
        let names = self.rows.iter().map(|row| &row.name).chain(self.parts.iter().map(|part| &part.material));
        let left = MARGIN + names.map(|name| label.width(name)).fold(60.0, f64::max).min(NAMES) + 18.0;
        let bottom = self.draw_rows(canvas, top + 36.0, left);
        let bottom = self.draw_parts(canvas, bottom + 66.0, left);
        let note = "A share is the part of the variance that would go if the numbers were known; what several numbers \
                    do together is in none of them.";
        frame::foot(canvas, bottom + 30.0, note);
    }
}
