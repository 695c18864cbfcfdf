//! Starting points to smell side by side: one table of dots, a row for each
//! material and a column for each start.

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
use super::kit::colour::{AXIS, GRID, INK, NOW, PAPER, SOFT, WIDE};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::words::{count, label, number, percent, price, sentence};
use super::kit::{MARGIN, WIDTH};

/// Radius of the largest dot in pixels.
const LARGEST: f64 = 13.0;
/// The most materials with a row of their own.
const MOST: usize = 16;
/// The most starts that one table holds; the next ones stand in a table below.
const ACROSS: usize = 8;
/// The most that names may take of the width, in pixels.
const NAMES: f64 = 210.0;
/// Room for a column, in pixels, at the most.
const COLUMN: f64 = 118.0;
/// Height of a row in pixels.
const ROW: f64 = 27.0;
/// A share that is further than this from the mean of the others, in percent,
/// sets a start apart.
const SAME: f64 = 1.0;
/// Less than this, in percent, is a trace and has no number.
const TRACE: f64 = 0.05;

/// Rows of the table: materials, the last for all others.
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
        let most = |shares: &[f64]| shares.iter().copied().fold(0.0, f64::max);
        rows.sort_by(|a, b| most(&b.1).total_cmp(&most(&a.1)).then_with(|| a.0.cmp(&b.0)));
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
        let text =
            format!("{}: the area of a dot is the material’s share of the odour, in percent beside it.", self.brief);
        let mut pieces = vec![words(&text)];
        if self.starts.len() > 1 {
            pieces.push(key(Mark::Disc(NOW), "sets the start apart", NOW));
            pieces.push(key(Mark::Disc(WIDE), "about as in the others", SOFT));
        }
        pieces
    }
}

impl Chart for StartsChart {
    fn name(&self) -> &'static str {
        "starts"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description()) + 10.0;
        let rows = self.rows();
        if rows.names.is_empty() {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let head = SMALL.width(&self.cost_head()).max(60.0);
        let widest = rows.names.iter().map(|name| BODY.width(name)).fold(head, f64::max).min(NAMES);
        let left = MARGIN + widest + 16.0;
        let most = rows.shares.iter().flatten().copied().fold(1.0, f64::max);
        let mut y = top;
        for (table, starts) in self.starts.chunks(ACROSS).enumerate() {
            let width = ((WIDTH - MARGIN - left) / starts.len().max(3) as f64).min(COLUMN);
            let table = Table { left, width, top: y + 30.0, first: table * ACROSS, most, rows: &rows };
            y = self.table(canvas, &table, starts) + 16.0;
        }
        y = self.apart(canvas, y);
        frame::foot(canvas, y + 14.0, "Odour share: strength times dose, beside that of the whole formula.");
    }
}

/// Where a table stands, and what all of its columns share.
struct Table<'a> {
    left: f64,
    /// Of a column, in pixels.
    width: f64,
    /// The upper edge of the first row.
    top: f64,
    /// Index of its first start.
    first: usize,
    /// The largest share of all, in percent.
    most: f64,
    rows: &'a Rows,
}

impl StartsChart {
    /// What the row of costs is called.
    fn cost_head(&self) -> String {
        format!("cost, {} per kg", label(&self.currency))
    }

    /// Draws one table and gives the y below it.
    fn table(&self, canvas: &mut Canvas, table: &Table, starts: &[Start]) -> f64 {
        let right = table.left + table.width * starts.len() as f64;
        let bottom = table.top + ROW * table.rows.names.len() as f64;
        for (row, name) in table.rows.names.iter().enumerate() {
            let y = table.top + ROW * (row as f64 + 0.5);
            canvas.text(table.left - 16.0, y + 4.8, &BODY.shortened(name, NAMES), BODY.end());
            canvas.line((table.left, y), (right, y), Stroke::new(GRID, 1.0));
        }
        canvas.line((MARGIN, table.top - 6.0), (right, table.top - 6.0), Stroke::new(AXIS, 1.0));
        canvas.line((MARGIN, bottom + 4.0), (right, bottom + 4.0), Stroke::new(AXIS, 1.0));
        canvas.text(table.left - 16.0, table.top - 14.0, "start", SMALL.end());
        canvas.text(table.left - 16.0, bottom + 24.0, "match, %", SMALL.end());
        let is_priced = self.starts.iter().any(|start| start.price_per_kg.is_some());
        if is_priced {
            let head = SMALL.shortened(&self.cost_head(), NAMES);
            canvas.text(table.left - 16.0, bottom + 44.0, &head, SMALL.end());
        }
        for (at, start) in starts.iter().enumerate() {
            self.column(canvas, table, start, at, bottom);
        }
        bottom + if is_priced { 50.0 } else { 30.0 }
    }

    fn column(&self, canvas: &mut Canvas, table: &Table, start: &Start, at: usize, bottom: f64) {
        let x = table.left + table.width * at as f64;
        // Number and dot stand about the middle of the column.
        let (centre, room) = (x + table.width * 0.36, table.width - 8.0);
        let fidelity = crate::number::plain(start.fidelity_percent);
        let data = [("name", start.name.as_str()), ("fidelity", &fidelity)];
        canvas.group("start", &data, "", |canvas| {
            let head = BODY.bold();
            canvas.text(x + 6.0, table.top - 14.0, &head.shortened(&start.name, room), head);
            for (row, shares) in table.rows.shares.iter().enumerate() {
                let y = table.top + ROW * (row as f64 + 0.5);
                self.dot(canvas, table, (row, shares), table.first + at, (centre, y));
            }
            canvas.text(x + 6.0, bottom + 24.0, &percent(start.fidelity_percent), head);
            if let Some(cost) = start.price_per_kg {
                canvas.text(x + 6.0, bottom + 44.0, &BODY.shortened(&price(cost), room), BODY);
            }
        });
    }

    fn dot(&self, canvas: &mut Canvas, table: &Table, (row, shares): (usize, &[f64]), at: usize, (x, y): (f64, f64)) {
        let (name, share) = (&table.rows.names[row], shares[at]);
        let others = (shares.len() - 1) as f64;
        let mean = if others > 0.0 { (shares.iter().sum::<f64>() - share) / others } else { share };
        let is_apart = others == 0.0 || (share - mean).abs() >= SAME;
        let value = crate::number::plain(share);
        let data = [("material", name.as_str()), ("share", &value)];
        let tip = format!(
            "{}, {name}: {} % of the odour, others {} %",
            self.starts[at].name,
            number(share, 1),
            number(mean, 1)
        );
        canvas.group("share", &data, &tip, |canvas| {
            let radius = LARGEST * (share / table.most).max(0.0).sqrt();
            canvas.touch(x - LARGEST, y - ROW / 2.0, table.width * 0.9, ROW);
            if share < TRACE {
                if is_apart {
                    canvas.text(x, y + 4.4, "none", SMALL.colour(NOW).bold().middle().halo());
                }
                return;
            }
            let fill = if is_apart { NOW } else { WIDE };
            canvas.disc((x, y), radius.max(1.2), fill, Stroke::new(PAPER, 0.8));
            let style = if is_apart { SMALL.bold().colour(INK) } else { SMALL };
            canvas.text(x + radius + 5.0, y + 4.4, &number(share, 1), style.halo());
        });
    }

    /// What sets each start apart, a line for each; gives the last baseline.
    fn apart(&self, canvas: &mut Canvas, y: f64) -> f64 {
        let head = BODY.bold();
        let names = self.starts.iter().map(|start| head.width(&start.name)).fold(20.0, f64::max).min(120.0);
        let mut y = y + 8.0;
        for start in self.starts.iter().filter(|start| !start.apart.is_empty()) {
            canvas.group("apart", &[("name", &start.name)], "", |canvas| {
                canvas.text(MARGIN, y, &head.shortened(&start.name, 120.0), head);
                for line in BODY.wrapped(&sentence(&start.apart), WIDTH - 2.0 * MARGIN - names - 14.0) {
                    canvas.text(MARGIN + names + 14.0, y, &line, BODY);
                    y += 19.0;
                }
            });
            y += 3.0;
        }
        y
    }
}
