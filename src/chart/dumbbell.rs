//! Target and blend on one line for each descriptor, sorted by the gap.

use super::Chart;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke, Style};
use super::kit::colour::{AXIS, CALM, GRID, HIGH, HUES, INK, PAPER, SHORT, SOFT};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::Scale;
use super::kit::words::{number, percent, signed, tick};
use super::kit::{MARGIN, WIDTH};
use super::profile::{ProfileChart, colour_of};

/// The chart of one blend or of several.
#[derive(Clone, Copy, Debug)]
pub struct Dumbbell<'a>(pub &'a ProfileChart);

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 240.0;
/// Right edge of everything.
const RIGHT: f64 = WIDTH - MARGIN;

/// Height of a row, and the size of its text, for so many rows.
pub fn row_of(rows: usize) -> (f64, f64) {
    match rows {
        0..=24 => (29.0, 14.0),
        25..=44 => (22.0, 13.0),
        _ => (17.0, 12.0),
    }
}

impl Chart for Dumbbell<'_> {
    fn name(&self) -> &'static str {
        "dumbbell"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let chart = self.0;
        let top = frame::head(canvas, &chart.finding(), &self.subtitle(), &chart.description());
        let order = chart.by_gap();
        let (height, size) = row_of(order.len());
        let label = BODY.size(size);
        let widest = order.iter().map(|&d| label.bold().width(&chart.wanted[d].descriptor)).fold(30.0, f64::max);
        let left = MARGIN + widest.min(NAMES) + 16.0;
        let columns = Columns::new(chart, left);
        let scale = Scale::rounded(0.0, chart.axis_end(), left, columns.plot_end, 5);
        let first = top + 34.0;
        let bottom = first + height * order.len() as f64;
        axis(canvas, &scale, left, first, bottom);
        columns.head(canvas, chart, first - 14.0);
        for (at, &descriptor) in order.iter().enumerate() {
            let y = first + height * (at as f64 + 0.5);
            let row = Row { chart, descriptor, y, height, label, left, scale };
            row.draw(canvas, &columns);
        }
        self.rules(canvas, &order, first, height);
        let note = match chart.blends.len() {
            1 => "Gap: blend less target, on the scale of the scores.",
            _ => "Columns: blend less target, on the scale of the scores; bold where it wants attention.",
        };
        frame::foot(canvas, bottom + 34.0, note);
    }
}

/// Marks the scores above the rows.
fn axis(canvas: &mut Canvas, scale: &Scale, left: f64, first: f64, bottom: f64) {
    canvas.text(left - 16.0, first - 14.0, "score", SMALL.end());
    for value in scale.ticks(5) {
        let x = scale.px(value);
        canvas.line((x, first - 6.0), (x, bottom), Stroke::new(GRID, 1.0));
        canvas.text(x, first - 14.0, &tick(value), SMALL.middle());
    }
}

impl Dumbbell<'_> {
    fn subtitle(&self) -> Vec<Piece> {
        let chart = self.0;
        let fits = format!("within {}", tick(chart.tolerance()));
        match &chart.blends[..] {
            [blend] => {
                let mut pieces = vec![
                    words(&format!(
                        "{}, {} % match on paper. Sorted by gap:",
                        chart.brief,
                        percent(blend.fidelity_percent)
                    )),
                    key(Mark::Ring, "target", INK),
                    key(Mark::Disc(SHORT), "blend too low", SHORT),
                    key(Mark::Disc(HIGH), "too high", HIGH),
                    key(Mark::Disc(CALM), &fits, SOFT),
                ];
                if blend.ranges.iter().any(Option::is_some) {
                    pieces.push(key(Mark::Whisker(CALM), "nine in ten draws of scores and strengths", SOFT));
                }
                pieces
            }
            blends => {
                let mut pieces =
                    vec![words(&format!("{}. The largest gap first:", chart.brief)), key(Mark::Ring, "target", INK)];
                for (blend, hue) in blends.iter().zip(HUES) {
                    let text = format!("{}, {} %", blend.name, percent(blend.fidelity_percent));
                    pieces.push(key(Mark::Disc(hue), &text, INK));
                }
                pieces
            }
        }
    }

    /// Lines between what is too low, what fits and what is too high.
    fn rules(&self, canvas: &mut Canvas, order: &[usize], first: f64, height: f64) {
        let verdict = |descriptor: usize| self.0.verdict(self.0.gap(0, descriptor));
        if self.0.blends.len() != 1 {
            return;
        }
        for (at, pair) in order.windows(2).enumerate() {
            if verdict(pair[0]) != verdict(pair[1]) {
                let y = first + height * (at + 1) as f64;
                canvas.line((MARGIN, y), (RIGHT, y), Stroke::new(AXIS, 0.8));
            }
        }
    }
}

/// Where the numbers at the right stand.
struct Columns {
    plot_end: f64,
    /// Right edges of the columns of gaps.
    edges: Vec<f64>,
    /// Bars of the gaps: where 0 is, and pixels for a point.
    bars: Option<(f64, f64)>,
}

impl Columns {
    fn new(chart: &ProfileChart, left: f64) -> Columns {
        if chart.blends.len() != 1 {
            let wide = 62.0;
            let count = chart.blends.len() as f64;
            let edges = (0..chart.blends.len()).map(|at| RIGHT - wide * (count - 1.0 - at as f64)).collect();
            return Columns { plot_end: (RIGHT - wide * count - 12.0).max(left + 200.0), edges, bars: None };
        }
        let gaps: Vec<f64> = (0..chart.wanted.len()).map(|descriptor| chart.gap(0, descriptor)).collect();
        let low = gaps.iter().copied().fold(0.0, f64::min);
        let high = gaps.iter().copied().fold(0.0, f64::max);
        let room = 110.0;
        let per_point = room / (high - low).max(4.0 * chart.tolerance());
        let zero = RIGHT - high * per_point - 1.0;
        let edge = zero + low * per_point - 10.0;
        Columns { plot_end: edge - 78.0, edges: vec![edge], bars: Some((zero, per_point)) }
    }

    fn head(&self, canvas: &mut Canvas, chart: &ProfileChart, y: f64) {
        if self.bars.is_some() {
            canvas.text(self.edges[0], y, "gap", SMALL.end());
            return;
        }
        for (&edge, hue) in self.edges.iter().zip(HUES).take(chart.blends.len()) {
            frame::draw(canvas, Mark::Disc(hue), edge - 20.0, y - 5.0);
        }
    }
}

/// Where nine draws in ten of the one blend's score lie.
fn chart_range(chart: &ProfileChart, descriptor: usize) -> Option<(f64, f64)> {
    chart.blends[0].ranges.get(descriptor).copied().flatten()
}

struct Row<'a> {
    chart: &'a ProfileChart,
    descriptor: usize,
    y: f64,
    height: f64,
    label: Style,
    left: f64,
    scale: Scale,
}

impl Row<'_> {
    fn draw(&self, canvas: &mut Canvas, columns: &Columns) {
        let chart = self.chart;
        let wanted = &chart.wanted[self.descriptor];
        let scores = chart.blends.iter().map(|blend| crate::number::plain(blend.scores[self.descriptor]));
        let scores = scores.collect::<Vec<_>>().join(" ");
        let target = crate::number::plain(wanted.target);
        let range = chart_range(chart, self.descriptor).filter(|_| chart.blends.len() == 1);
        let range = range.map(|(low, high)| format!("{} {}", crate::number::plain(low), crate::number::plain(high)));
        let mut data = vec![("descriptor", wanted.descriptor.as_str()), ("target", &target), ("blend", &scores)];
        data.extend(range.as_deref().map(|range| ("range", range)));
        canvas.group("row", &data, &self.tip(), |canvas| {
            canvas.touch(MARGIN, self.y - self.height / 2.0, RIGHT - MARGIN, self.height);
            let verdicts = (0..chart.blends.len()).map(|blend| chart.verdict(chart.gap(blend, self.descriptor)));
            let wants = verdicts.clone().any(|verdict| verdict != 0);
            let style = if wants { self.label.bold() } else { self.label.colour(SOFT) }.end();
            let name = style.shortened(&wanted.descriptor, NAMES);
            canvas.text(self.left - 16.0, self.y + self.label.size * 0.35, &name, style);
            if chart.blends.len() == 1 { self.one(canvas, columns) } else { self.several(canvas, columns) }
        });
    }

    fn tip(&self) -> String {
        let wanted = &self.chart.wanted[self.descriptor];
        let mut tip = format!("{}: target {}", wanted.descriptor, number(wanted.target, 2));
        for (at, blend) in self.chart.blends.iter().enumerate() {
            let (score, gap) = (blend.scores[self.descriptor], self.chart.gap(at, self.descriptor));
            tip += &format!("; {} {}, gap {}", blend.name, number(score, 2), signed(gap, 2));
            if let Some((low, high)) = blend.ranges.get(self.descriptor).copied().flatten() {
                tip += &format!(", nine in ten draws {} to {}", number(low, 2), number(high, 2));
            }
        }
        tip
    }

    fn one(&self, canvas: &mut Canvas, columns: &Columns) {
        let gap = self.chart.gap(0, self.descriptor);
        let colour = colour_of(self.chart.verdict(gap));
        let target = self.scale.px(self.chart.wanted[self.descriptor].target);
        let blend = self.scale.px(self.chart.blends[0].scores[self.descriptor]);
        let radius = (self.height * 0.2).clamp(3.4, 5.6);
        if let Some((low, high)) = chart_range(self.chart, self.descriptor) {
            let ends = (self.scale.px(low), self.scale.px(high));
            frame::whisker(canvas, ends, self.y, self.height * 0.17, CALM);
        }
        canvas.rect(target.min(blend), self.y - 2.5, (target - blend).abs(), 5.0, colour, 0.45);
        canvas.disc((target, self.y), radius + 0.4, PAPER, Stroke::new(INK, 1.7));
        canvas.disc((blend, self.y), radius - 0.3, colour, Stroke::new(PAPER, 0.8));
        let style = if colour == CALM { self.label.colour(SOFT) } else { self.label.bold().colour(colour) };
        canvas.text(columns.edges[0], self.y + self.label.size * 0.35, &signed(gap, 2), style.end());
        if let Some((zero, per_point)) = columns.bars {
            let (from, to) = (zero.min(zero + gap * per_point), zero.max(zero + gap * per_point));
            let high = self.height * 0.42;
            canvas.rect(from, self.y - high / 2.0, to - from, high, colour, 0.9);
            canvas.line((zero, self.y - high * 0.8), (zero, self.y + high * 0.8), Stroke::new(AXIS, 1.0));
        }
    }

    fn several(&self, canvas: &mut Canvas, columns: &Columns) {
        let places: Vec<f64> =
            self.chart.blends.iter().map(|blend| self.scale.px(blend.scores[self.descriptor])).collect();
        let target = self.scale.px(self.chart.wanted[self.descriptor].target);
        let low = places.iter().copied().fold(target, f64::min);
        let high = places.iter().copied().fold(target, f64::max);
        canvas.rect(low, self.y - 2.0, high - low, 4.0, GRID, 1.0);
        let radius = (self.height * 0.2).clamp(3.4, 5.4);
        canvas.disc((target, self.y), radius + 2.2, PAPER, Stroke::new(INK, 1.7));
        for ((at, &x), hue) in places.iter().enumerate().zip(HUES) {
            // Dots in one place are fanned out, so that none hides another.
            let near = |&(_, other): &(usize, &f64)| (other - x).abs() < 1.3 * radius;
            let group: Vec<usize> = places.iter().enumerate().filter(near).map(|(at, _)| at).collect();
            let rank = group.iter().position(|&other| other == at).unwrap_or(0) as f64;
            let step = (self.height * 0.62 / group.len() as f64).min(radius * 1.1);
            let y = self.y + (rank - (group.len() as f64 - 1.0) / 2.0) * step;
            canvas.disc((x, y), radius, hue, Stroke::new(PAPER, 1.0));
            let gap = self.chart.gap(at, self.descriptor);
            let style = if self.chart.verdict(gap) == 0 { self.label.colour(SOFT) } else { self.label.bold() };
            canvas.text(columns.edges[at], self.y + self.label.size * 0.35, &signed(gap, 2), style.end());
        }
    }
}
