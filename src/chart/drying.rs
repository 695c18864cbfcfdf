//! Who carries the odour while a formula dries: ribbons over time, by ratio.

use super::Chart;
use super::kit::canvas::{Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, HUES, INK, OTHERS, PAPER, SOFT, ink_on};
use super::kit::frame;
use super::kit::scale::Scale;
use super::kit::time::{self, Heads, TimeMark};
use super::kit::words::{brief, count, list, number, percent, sentence, tick};
use super::kit::{MARGIN, WIDTH};

/// A material that dries.
#[derive(Clone, Debug, PartialEq)]
pub struct DryingBand {
    /// The material.
    pub material: String,
    /// Its odour share in percent at each of the chart's times.
    pub shares_percent: Vec<f64>,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct DryingChart {
    /// What the formula is called.
    pub formula: String,
    /// Minutes after dipping, rising, above 0.
    pub minutes: Vec<f64>,
    /// The materials, those first that are gone first.
    pub bands: Vec<DryingBand>,
    /// The times that were asked about, rising.
    pub marks: Vec<TimeMark>,
    /// The view that it is told in, where there are others.
    pub view: Option<String>,
}

/// Edges of the plot in pixels; beside it stand the names.
const LEFT: f64 = MARGIN + 34.0;
const RIGHT: f64 = WIDTH - MARGIN - NAMES;
const NAMES: f64 = 216.0;
const HEIGHT: f64 = 340.0;
/// Height of a line of names in pixels.
const LINE: f64 = 19.0;
/// The least height of a ribbon that bears a figure, in pixels.
const BEARS: f64 = 17.0;

/// A ribbon: the materials in it, and its colour.
struct Ribbon<'a> {
    name: String,
    bands: Vec<&'a DryingBand>,
    fill: &'static str,
}

impl Ribbon<'_> {
    fn share(&self, at: usize) -> f64 {
        self.bands.iter().map(|band| band.shares_percent[at]).sum()
    }
}

impl DryingChart {
    /// The materials that carry most at any time, each a ribbon in the order of the
    /// bands; the others together.
    fn ribbons(&self) -> Vec<Ribbon<'_>> {
        let most = |band: &DryingBand| band.shares_percent.iter().copied().fold(0.0, f64::max);
        let mut order: Vec<&DryingBand> = self.bands.iter().collect();
        order.sort_by(|a, b| most(b).total_cmp(&most(a)).then_with(|| a.material.cmp(&b.material)));
        let shown: Vec<&str> = order.iter().take(HUES.len()).map(|band| band.material.as_str()).collect();
        let (own, others): (Vec<&DryingBand>, Vec<&DryingBand>) =
            self.bands.iter().partition(|band| shown.contains(&band.material.as_str()));
        let ribbon = |(band, fill): (&DryingBand, _)| (band.material.clone(), fill);
        let mut ribbons: Vec<Ribbon> = own
            .into_iter()
            .zip(HUES)
            .map(|(band, fill)| {
                let (name, fill) = ribbon((band, fill));
                Ribbon { name, bands: vec![band], fill }
            })
            .collect();
        if !others.is_empty() {
            ribbons.push(Ribbon { name: count(others.len(), "other", "others"), bands: others, fill: OTHERS });
        }
        ribbons
    }

    /// The first and the last of the marks at which something is left to smell.
    fn smelled(&self) -> Option<(&TimeMark, &TimeMark)> {
        let mut smelled = self.marks.iter().filter(|mark| mark.fidelity_percent.is_some());
        let first = smelled.next()?;
        Some((first, smelled.next_back().unwrap_or(first)))
    }

    /// The number of the time at a mark.
    fn at(&self, mark: &TimeMark) -> usize {
        let reaches = |minutes: &f64| *minutes < mark.minutes * (1.0 - 1e-9);
        self.minutes.partition_point(reaches).min(self.minutes.len().saturating_sub(1))
    }

    /// Who carries the first and who the last of the times at which something is left.
    fn finding(&self) -> String {
        let nothing = || "Nothing is left to smell".to_owned();
        let (Some((first, last)), false) = (self.smelled(), self.minutes.is_empty()) else { return nothing() };
        let leader = |mark: &TimeMark| {
            let at = self.at(mark);
            let most = self.bands.iter().max_by(|a, b| a.shares_percent[at].total_cmp(&b.shares_percent[at]));
            most.map(|band| &band.material)
        };
        let name = TimeMark::in_words;
        match (leader(first), leader(last)) {
            (Some(one), Some(other)) if first == last || one == other => {
                let until = if first == last { String::new() } else { format!(" and at {}", name(last)) };
                sentence(&format!("{} has the largest share at {}{until}", brief(one), name(first)))
            }
            (Some(one), Some(other)) => sentence(&format!(
                "{} has the largest share at {}; {} at {}",
                brief(one),
                name(first),
                brief(other),
                name(last)
            )),
            _ => nothing(),
        }
    }

    fn description(&self) -> String {
        let Some(last) = self.minutes.len().checked_sub(1) else { return String::new() };
        let of = |band: &DryingBand| {
            let share = |at: usize| number(band.shares_percent[at], 1);
            format!("{}: {} % at first, {} % at the end", band.material, share(0), share(last))
        };
        self.bands.iter().map(of).collect::<Vec<_>>().join("; ")
    }
}

impl Chart for DryingChart {
    fn name(&self) -> &'static str {
        "drying"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let ribbons = self.ribbons();
        let which = if self.marks.iter().any(|mark| mark.name.is_some()) { "stages" } else { "times asked about" };
        let seen = self.view.as_ref().map_or_else(String::new, |view| format!(" In the view {view}."));
        let subtitle = format!(
            "{}: odour share of what is left on a blotter, by tenacities that are known to a factor.{seen} Dashed: {which}.",
            self.formula
        );
        let top = frame::head(canvas, &self.finding(), &[frame::words(&subtitle)], &self.description());
        let (Some(&from), Some(&to)) = (self.minutes.first(), self.minutes.last()) else {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        };
        let x = time::axis(from, to, LEFT, RIGHT);
        let heads = Heads::new(&self.marks, &x);
        canvas.text(MARGIN, top + 8.0, "odour share, %", SMALL);
        let top = top + 26.0 + heads.height();
        let y = Scale::linear(0.0, 100.0, top + HEIGHT, top);
        let mut below = vec![100.0; self.minutes.len()];
        let mut edges = vec![below.clone()];
        for ribbon in &ribbons {
            let above = below.clone();
            for (at, below) in below.iter_mut().enumerate() {
                *below = (*below - ribbon.share(at)).max(0.0);
            }
            edges.push(below.clone());
            let place = |(minutes, share): (&f64, &f64)| (x.px(*minutes), y.px(share.clamp(0.0, 100.0)));
            let mut outline: Vec<(f64, f64)> = self.minutes.iter().zip(&above).map(place).collect();
            outline.extend(self.minutes.iter().zip(&below).map(place).rev());
            let last = self.minutes.len() - 1;
            let (first_share, last_share) = (number(ribbon.share(0), 2), number(ribbon.share(last), 2));
            let tip = format!("{}: {first_share} % at first, {last_share} % at the end", ribbon.name);
            let names: Vec<String> = ribbon.bands.iter().map(|band| band.material.clone()).collect();
            let data = [("material", list(&names, names.len())), ("first", first_share), ("last", last_share)];
            let data: Vec<(&str, &str)> = data.iter().map(|(key, value)| (*key, value.as_str())).collect();
            canvas.group("ribbon", &data, &tip, |canvas| {
                canvas.polygon(&outline, ribbon.fill, 1.0);
                canvas.ring(&outline, Stroke::new(PAPER, 0.8));
            });
        }
        let ends =
            [("from", x.from), ("to", x.to), ("left", LEFT), ("right", RIGHT), ("top", top), ("bottom", top + HEIGHT)];
        let ends: Vec<(&str, String)> = ends.iter().map(|(key, value)| (*key, crate::number::plain(*value))).collect();
        let ends: Vec<(&str, &str)> = ends.iter().map(|(key, value)| (*key, value.as_str())).collect();
        // Where a page that shows a time puts it.
        canvas.group("plot", &ends, "", |_| {});
        self.axes(canvas, &x, &y);
        heads.draw(canvas, top, top + HEIGHT);
        self.figures(canvas, &ribbons, &edges, (&x, &y));
        self.names(canvas, &ribbons, &edges, &y);
        let gone: Vec<String> =
            self.marks.iter().filter(|mark| mark.fidelity_percent.is_none()).map(TimeMark::in_words).collect();
        let nothing = match &gone[..] {
            [] => String::new(),
            gone => format!("Nothing is left to smell at {}. ", list(gone, 3)),
        };
        let note = "An ideal film in still air at 25 °C. A blotter is no skin; what a nose gets used to is not in it.";
        frame::foot(canvas, top + HEIGHT + 52.0, &format!("{nothing}{note}"));
    }
}

impl DryingChart {
    fn axes(&self, canvas: &mut Canvas, x: &Scale, y: &Scale) {
        for share in [0.0, 25.0, 50.0, 75.0, 100.0] {
            let label = tick(share);
            let style = SMALL.colour(SOFT);
            canvas.text(LEFT - 8.0 - style.width(&label), y.px(share) + 4.0, &label, style);
        }
        time::floor(canvas, x, y.start);
        let axis = "after dipping (by ratio)";
        canvas.text(RIGHT - SMALL.width(axis), y.start + 38.0, axis, SMALL);
    }

    /// The share of each ribbon beside the marks, where it is high enough to bear a figure:
    /// of the last mark first, which none before it may crowd out.
    fn figures(&self, canvas: &mut Canvas, ribbons: &[Ribbon<'_>], edges: &[Vec<f64>], (x, y): (&Scale, &Scale)) {
        let mut free = RIGHT;
        for mark in self.marks.iter().rev() {
            let Some(place) = mark.on(x).filter(|_| mark.fidelity_percent.is_some()) else { continue };
            let at = self.at(mark);
            let wide = SMALL.width("99.9") + 5.0;
            // Left of its line, or right of it where the plot begins.
            let left = if place - wide < LEFT { place + 5.0 } else { place - wide };
            if left + wide > free {
                continue;
            }
            free = left - 4.0;
            for (ribbon, pair) in ribbons.iter().zip(edges.windows(2)) {
                let (above, below) = (y.px(pair[0][at]), y.px(pair[1][at]));
                if below - above >= BEARS {
                    let style = SMALL.bold().colour(ink_on(ribbon.fill));
                    canvas.text(left, (above + below) / 2.0 + 4.5, &percent(ribbon.share(at)), style);
                }
            }
        }
    }

    /// The name of each ribbon at its end, with its share at the last mark that is smelled.
    fn names(&self, canvas: &mut Canvas, ribbons: &[Ribbon<'_>], edges: &[Vec<f64>], y: &Scale) {
        let (end, last) = (self.minutes.len() - 1, self.smelled().map(|(_, last)| last));
        let at = last.map_or(end, |mark| self.at(mark));
        let head = last.map_or("at the end".to_owned(), |mark| format!("at {}", mark.called()));
        let left = RIGHT + 14.0;
        let room = WIDTH - MARGIN - left;
        canvas.text(left, y.end - 24.0, "odour share, %,", SMALL);
        let style = SMALL.bold().colour(INK);
        canvas.text(left, y.end - 9.0, &style.shortened(&head, room), style);
        let middles: Vec<f64> = edges.windows(2).map(|pair| y.px((pair[0][end] + pair[1][end]) / 2.0)).collect();
        let places = time::spread(&middles, LINE, y.end + LINE / 2.0, y.start - LINE / 2.0);
        for ((ribbon, middle), place) in ribbons.iter().zip(middles).zip(places) {
            canvas.line((RIGHT, middle), (left - 2.0, place), Stroke::new(AXIS, 1.0));
            canvas.rect(left, place - 5.5, 11.0, 11.0, ribbon.fill, 1.0);
            let share = percent(ribbon.share(at));
            canvas.text(WIDTH - MARGIN, place + 4.5, &share, style.end());
            let room = room - 17.0 - style.width(&share) - 10.0;
            canvas.text(left + 17.0, place + 4.5, &SMALL.shortened(&ribbon.name, room), SMALL.colour(INK));
        }
    }
}
