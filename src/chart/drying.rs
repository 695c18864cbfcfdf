//! Who carries the odour while a formula dries: ribbons over time, by ratio.

use super::Chart;
use super::kit::canvas::{Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, HUES, INK, OTHERS, PAPER, SOFT};
use super::kit::frame::{self, Mark, Piece};
use super::kit::scale::{Scale, Steps};
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

/// A time that was asked about.
#[derive(Clone, Debug, PartialEq)]
pub struct DryingMark {
    /// Minutes after dipping, above 0.
    pub minutes: f64,
    /// Match on paper in percent; `None` where nothing is left.
    pub fidelity_percent: Option<f64>,
    /// What is left of the strength, in percent.
    pub kept_percent: f64,
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
    pub marks: Vec<DryingMark>,
}

/// Edges of the plot in pixels.
const LEFT: f64 = MARGIN + 34.0;
const RIGHT: f64 = WIDTH - MARGIN;
const HEIGHT: f64 = 340.0;
/// Minutes that an axis may name.
const TIMES: [f64; 16] = [
    1.0, 2.0, 5.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0, 960.0, 1440.0, 2880.0, 10_080.0, 43_200.0, 129_600.0,
    525_600.0,
];

/// A time as people say it.
fn span(minutes: f64) -> String {
    match minutes {
        below if below < 60.0 => format!("{} min", tick(minutes)),
        below if below < 1440.0 => format!("{} h", number(minutes / 60.0, usize::from(minutes % 60.0 != 0.0))),
        _ => count_of_days(minutes / 1440.0),
    }
}

fn count_of_days(days: f64) -> String {
    let text = number(days, usize::from(days.fract() != 0.0));
    if text == "1" { "1 day".to_owned() } else { format!("{text} days") }
}

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

    /// Who carries the first and who the last of the times at which something is left.
    fn finding(&self) -> String {
        let nothing = || "Nothing is left to smell".to_owned();
        let mut smelled = self.marks.iter().filter(|mark| mark.fidelity_percent.is_some()).map(|mark| mark.minutes);
        let (Some(first), false) = (smelled.next(), self.minutes.is_empty()) else { return nothing() };
        let last = smelled.next_back().unwrap_or(first);
        let leader = |minutes: f64| {
            let at = self.minutes.partition_point(|at| *at < minutes).min(self.minutes.len() - 1);
            self.bands
                .iter()
                .max_by(|a, b| a.shares_percent[at].total_cmp(&b.shares_percent[at]))
                .map(|it| &it.material)
        };
        match (leader(first), leader(last)) {
            (Some(one), Some(other)) if first == last || one == other => {
                let until = if first == last { String::new() } else { format!(" and at {}", span(last)) };
                sentence(&format!("{} has the largest share at {}{until}", brief(one), span(first)))
            }
            (Some(one), Some(other)) => sentence(&format!(
                "{} has the largest share at {}, {} at {}",
                brief(one),
                span(first),
                brief(other),
                span(last)
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
        let subtitle = format!(
            "{}: odour share of what is left on a blotter, by tenacities that are known to a factor. Dashed: times asked about, \
             with match and strength kept.",
            self.formula
        );
        let top = frame::head(canvas, &self.finding(), &[frame::words(&subtitle)], &self.description());
        let (Some(&from), Some(&to)) = (self.minutes.first(), self.minutes.last()) else {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        };
        let keys: Vec<Piece> =
            ribbons.iter().map(|ribbon| frame::key(Mark::Square(ribbon.fill), &brief(&ribbon.name), INK)).collect();
        let top = frame::pieces(canvas, top + 10.0, &keys) + 66.0;
        let x = Scale { from, to: to.max(from * 1.01), start: LEFT, end: RIGHT, steps: Steps::Log };
        let y = Scale::linear(0.0, 100.0, top + HEIGHT, top);
        let mut below = vec![100.0; self.minutes.len()];
        for ribbon in &ribbons {
            let above = below.clone();
            for (at, below) in below.iter_mut().enumerate() {
                *below -= ribbon.share(at);
            }
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
        self.axes(canvas, &x, &y);
        self.marks(canvas, &x, top);
        frame::foot(
            canvas,
            top + HEIGHT + 52.0,
            "An ideal film in still air at 25 °C. A blotter is no skin; what a nose gets used to is not in it.",
        );
    }
}

impl DryingChart {
    fn axes(&self, canvas: &mut Canvas, x: &Scale, y: &Scale) {
        let floor = y.start;
        for share in [0.0, 25.0, 50.0, 75.0, 100.0] {
            let label = tick(share);
            let style = SMALL.colour(SOFT);
            canvas.text(LEFT - 8.0 - style.width(&label), y.px(share) + 4.0, &label, style);
        }
        canvas.text(MARGIN, y.end - 44.0, "odour share, %", SMALL);
        canvas.line((LEFT, floor), (RIGHT, floor), Stroke::new(AXIS, 1.2));
        let mut free = f64::NEG_INFINITY;
        for minutes in TIMES.into_iter().filter(|minutes| (x.from..=x.to).contains(minutes)) {
            let (at, label) = (x.px(minutes), span(minutes));
            let style = SMALL.colour(SOFT);
            let left = (at - style.width(&label) / 2.0).min(RIGHT - style.width(&label));
            if left > free {
                canvas.line((at, floor), (at, floor + 5.0), Stroke::new(AXIS, 1.2));
                canvas.text(left, floor + 20.0, &label, style);
                free = left + style.width(&label) + 12.0;
            }
        }
        let axis = "after dipping (by ratio)";
        canvas.text(RIGHT - SMALL.width(axis), floor + 38.0, axis, SMALL);
    }

    /// The times that were asked about, with what is left at them.
    fn marks(&self, canvas: &mut Canvas, x: &Scale, top: f64) {
        let mut free = LEFT;
        for mark in self.marks.iter().filter(|mark| x.has(mark.minutes)) {
            let at = x.px(mark.minutes);
            canvas.line((at, top - 4.0), (at, top + HEIGHT), Stroke::dashed(INK, 1.2));
            let matches = mark.fidelity_percent.map_or("-".to_owned(), |fidelity| format!("{} %", percent(fidelity)));
            let kept = format!("{} % left", number(mark.kept_percent, 0));
            let (strong, soft) = (SMALL.bold().colour(INK), SMALL.colour(SOFT));
            let wide = strong.width(&matches).max(soft.width(&kept));
            let left = (at - wide / 2.0).clamp(LEFT, RIGHT - wide);
            if left >= free {
                let data = [("minutes", number(mark.minutes, 2)), ("fidelity", matches.clone())];
                let data: Vec<(&str, &str)> = data.iter().map(|(key, value)| (*key, value.as_str())).collect();
                canvas.group("mark", &data, "", |canvas| {
                    canvas.text(left, top - 24.0, &matches, strong);
                    canvas.text(left, top - 9.0, &kept, soft);
                });
                free = left + wide + 10.0;
            }
        }
    }
}
