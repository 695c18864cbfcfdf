//! Starting points to smell side by side.

/// One starting point.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// What it is called: "1", or a blind code.
    pub name: String,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Price per kg.
    pub price_per_kg: Option<f64>,
    /// Odour share in percent of each of its materials, in any order.
    pub shares_percent: Vec<(String, f64)>,
    /// What sets it apart, as a sentence.
    pub apart: String,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct StartsChart {
    /// Title of the brief.
    pub brief: String,
    /// Label of the currency.
    pub currency: String,
    /// The starting points, the nearest to the brief first.
    pub starts: Vec<Start>,
    /// Least difference between two of them, in percent of odour share: half
    /// the sum of absolute differences.
    pub least_difference_percent: Option<f64>,
    /// Points of fidelity that each may lie below the best.
    pub margin_points: f64,
}

use super::Chart;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, CALM, GRID, HIGH, INK, LOW, SOFT};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::Scale;
use super::kit::words::{count, label, number, percent, price, sentence, tick};
use super::kit::{MARGIN, WIDTH};

/// Space between panels in pixels.
const GUTTER: f64 = 34.0;
/// The most materials with a row of their own.
const MOST: usize = 16;
/// A share that differs by less than this from the mean of the others, in
/// percent, is the same.
const SAME: f64 = 1.0;

/// Rows that all panels share: materials, the last for all others.
struct Rows {
    names: Vec<String>,
    /// Share in percent by row and start.
    shares: Vec<Vec<f64>>,
}

impl StartsChart {
    fn rows(&self) -> Rows {
        let mut names: Vec<String> = Vec::new();
        for (name, _) in self.starts.iter().flat_map(|start| &start.shares_percent) {
            if !names.contains(name) {
                names.push(name.clone());
            }
        }
        let of = |name: &str, start: &Start| {
            start.shares_percent.iter().filter(|(other, _)| other == name).map(|(_, share)| share).sum::<f64>()
        };
        let mut rows: Vec<(String, Vec<f64>)> = names
            .into_iter()
            .map(|name| {
                let shares = self.starts.iter().map(|start| of(&name, start)).collect();
                (name, shares)
            })
            .collect();
        let mean = |shares: &[f64]| shares.iter().sum::<f64>();
        rows.sort_by(|a, b| mean(&b.1).total_cmp(&mean(&a.1)).then_with(|| a.0.cmp(&b.0)));
        if rows.len() > MOST {
            let rest = rows.split_off(MOST - 1);
            let sums = (0..self.starts.len()).map(|at| rest.iter().map(|(_, shares)| shares[at]).sum()).collect();
            rows.push((count(rest.len(), "other", "others"), sums));
        }
        let (names, shares) = rows.into_iter().unzip();
        Rows { names, shares }
    }

    fn finding(&self) -> String {
        let low = self.starts.iter().map(|start| start.fidelity_percent).fold(100.0, f64::min);
        let high = self.starts.iter().map(|start| start.fidelity_percent).fold(0.0, f64::max);
        let range = if percent(low) == percent(high) {
            format!("at {} %", percent(high))
        } else {
            format!("between {} and {} %", percent(low), percent(high))
        };
        match (&self.starts[..], self.least_difference_percent) {
            ([], _) => "There is no starting point".to_owned(),
            ([_], _) => format!("One starting point {range}"),
            (starts, None) => format!("{} starting points {range}", starts.len()),
            (starts, Some(least)) => format!(
                "{} starting points {range}, any two at least {} % of the odour apart",
                starts.len(),
                number(least, 1)
            ),
        }
    }

    fn description(&self) -> String {
        let line = |start: &Start| format!("{}, {} %: {}", start.name, percent(start.fidelity_percent), start.apart);
        format!("{}. {}", self.brief, self.starts.iter().map(line).collect::<Vec<_>>().join(" "))
    }

    fn subtitle(&self) -> Vec<Piece> {
        let text = format!("{}: odour share of each material, in percent", self.brief);
        if self.starts.len() < 2 {
            return vec![words(&format!("{text}."))];
        }
        let text = format!("{text}; the same order and scale in every panel.");
        vec![
            words(&text),
            key(Mark::Square(LOW), "more than in the others", LOW),
            key(Mark::Square(HIGH), "less", HIGH),
            key(Mark::Square(CALM), "about the same", SOFT),
            key(Mark::Tick, "mean of the others", INK),
        ]
    }
}

/// Where a panel stands and how large its parts are, in pixels.
struct Panel {
    x: f64,
    y: f64,
    width: f64,
    names: f64,
    row: f64,
    lines: usize,
}

impl Chart for StartsChart {
    fn name(&self) -> &'static str {
        "starts"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description()) + 10.0;
        let rows = self.rows();
        let across = match self.starts.len() {
            0 | 1 => 1,
            2 | 4 => 2,
            _ => 3,
        };
        let whole = WIDTH - 2.0 * MARGIN;
        let columns = across.max(2);
        let width = (whole - GUTTER * (columns - 1) as f64) / columns as f64;
        let label = SMALL.colour(INK);
        let names = rows.names.iter().map(|name| label.width(name)).fold(20.0, f64::max).min(width * 0.46);
        let row = 19.0;
        let most = rows.shares.iter().flatten().copied().fold(1.0, f64::max);
        let mut y = top;
        for line in self.starts.chunks(across).enumerate() {
            let lines =
                line.1.iter().map(|start| SMALL.wrapped(&sentence(&start.apart), width).len()).max().unwrap_or(0);
            for (at, start) in line.1.iter().enumerate() {
                let x = MARGIN + (width + GUTTER) * at as f64;
                let panel = Panel { x, y, width, names, row, lines };
                self.panel(canvas, &panel, start, line.0 * across + at, &rows, most);
            }
            y += 44.0 + 16.0 * lines as f64 + row * rows.names.len() as f64 + 42.0;
        }
        frame::foot(canvas, y + 2.0, "Odour share: strength times dose, beside that of the whole formula.");
    }
}

impl StartsChart {
    fn panel(&self, canvas: &mut Canvas, panel: &Panel, start: &Start, at: usize, rows: &Rows, most: f64) {
        let fidelity = crate::number::plain(start.fidelity_percent);
        let data = [("name", start.name.as_str()), ("fidelity", &fidelity)];
        canvas.group("start", &data, "", |canvas| {
            let head = BODY.size(16.0).bold();
            let name = head.shortened(&start.name, panel.width * 0.5);
            let mut x = panel.x + canvas.text(panel.x, panel.y + 14.0, &name, head) + 12.0;
            x += canvas.text(
                x,
                panel.y + 14.0,
                &format!("{} %", percent(start.fidelity_percent)),
                BODY.bold().colour(LOW),
            );
            if let Some(per_kg) = start.price_per_kg {
                let text = format!("{} {}/kg", price(per_kg), label(&self.currency));
                // Half a price is none.
                if x + 10.0 + SMALL.width(&text) <= panel.x + panel.width {
                    canvas.text(x + 10.0, panel.y + 14.0, &text, SMALL);
                }
            }
            for (line, text) in SMALL.wrapped(&sentence(&start.apart), panel.width).iter().enumerate() {
                canvas.text(panel.x, panel.y + 33.0 + 16.0 * line as f64, text, SMALL);
            }
            self.bars(canvas, panel, start, at, rows, most);
        });
    }

    fn bars(&self, canvas: &mut Canvas, panel: &Panel, start: &Start, at: usize, rows: &Rows, most: f64) {
        let top = panel.y + 34.0 + 16.0 * panel.lines as f64;
        let left = panel.x + panel.names + 10.0;
        let scale = Scale::rounded(0.0, most, left, panel.x + panel.width - 30.0, 4);
        let bottom = top + panel.row * rows.names.len() as f64;
        for value in scale.ticks(4) {
            let x = scale.px(value);
            canvas.line((x, top), (x, bottom), Stroke::new(if value == 0.0 { AXIS } else { GRID }, 1.0));
            canvas.text(x, bottom + 15.0, &tick(value), SMALL.size(11.5).middle());
        }
        let others = (self.starts.len() - 1) as f64;
        for (row, (name, shares)) in rows.names.iter().zip(&rows.shares).enumerate() {
            let y = top + panel.row * (row as f64 + 0.5);
            let share = shares[at];
            let mean = if others > 0.0 { (shares.iter().sum::<f64>() - share) / others } else { share };
            let (colour, strong) = match share - mean {
                more if more >= SAME => (LOW, true),
                less if less <= -SAME => (HIGH, true),
                _ => (CALM, false),
            };
            let value = crate::number::plain(share);
            let data = [("material", name.as_str()), ("share", &value)];
            let tip =
                format!("{}, {name}: {} % of the odour, others {} %", start.name, number(share, 1), number(mean, 1));
            canvas.group("share", &data, &tip, |canvas| {
                let style = SMALL.colour(if strong { INK } else { SOFT });
                canvas.text(left - 8.0, y + 4.3, &style.shortened(name, panel.names), style.end());
                canvas.rect(left, y - 5.0, scale.px(share) - left, 10.0, colour, if strong { 1.0 } else { 0.55 });
                let mut end = scale.px(share);
                if others > 0.0 && (share > 0.0 || mean > 0.0) {
                    let x = scale.px(mean);
                    canvas.rect(x - 0.9, y - 7.0, 1.8, 14.0, INK, 1.0);
                    if strong && (x - end).abs() < 34.0 {
                        end = end.max(x);
                    }
                }
                if strong {
                    let style = SMALL.size(11.5).bold().colour(colour).halo();
                    canvas.text(end + 5.0, y + 4.0, &number(share, 1), style);
                }
            });
        }
    }
}
