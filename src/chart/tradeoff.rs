//! What can be had for what: fidelity against a price, a strength, a count or
//! a dose, and the materials that enter and leave on the way.

/// What is traded for fidelity.
#[derive(Clone, Debug, PartialEq)]
pub enum Against {
    /// Price of the formula, per kg, in this currency.
    Price(String),
    /// Price of effect: price per kg divided by the strength, in this currency.
    Effect(String),
    /// Number of materials.
    Count,
    /// Strength of the formula.
    Strength,
    /// Dose in ppt of this material.
    Dose(String),
}

/// The best fidelity at one limit.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffPoint {
    /// The limit, in the unit of what is traded.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Dose in ppt of each of `materials`; empty where it is not known.
    pub doses_ppt: Vec<f64>,
}

/// A whole-part formula on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffFormula {
    /// Where it stands, in the unit of what is traded.
    pub at: f64,
    /// Fidelity in percent.
    pub fidelity_percent: f64,
    /// Whether it is proven best at its limit.
    pub proven: bool,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeoffChart {
    /// Title of the brief.
    pub brief: String,
    /// What is traded for fidelity.
    pub against: Against,
    /// Materials that any point uses.
    pub materials: Vec<String>,
    /// The continuous curve, `at` rising. For a count: the counts that can be
    /// met.
    pub points: Vec<TradeoffPoint>,
    /// Whole-part formulas, drawn as dots.
    pub formulas: Vec<TradeoffFormula>,
    /// The user's own limit, if the brief has one.
    pub own: Option<f64>,
    /// Where the return falls off most.
    pub knee: Option<f64>,
    /// What one further point of fidelity costs at the user's own limit, in
    /// the unit of what is traded.
    pub cost_of_a_point: Option<f64>,
}

use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, GOOD, GRID, HIGH, HUES, INK, LOW, PAPER, SOFT};
use super::kit::crowd::{Crowd, Label, Side};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::plane::Plane;
use super::kit::scale::Scale;
use super::kit::words::{brief, count, dose, label, number, percent, price, sentence, tick};
use super::kit::{MARGIN, WIDTH};
use super::{Chart, ribbons};

/// Left and right edge of the plot in pixels; names of materials stand right
/// of it.
const LEFT: f64 = MARGIN + 34.0;
const RIGHT: f64 = 650.0;
/// Height of the plot in pixels.
const HEIGHT: f64 = 300.0;

impl Against {
    /// What the axis measures, with its unit.
    pub fn axis(&self) -> String {
        match self {
            Against::Price(currency) => format!("price, {} per kg", label(currency)),
            Against::Effect(currency) => format!("price of effect, {}", label(currency)),
            Against::Count => "number of materials".to_owned(),
            Against::Strength => "strength of the formula".to_owned(),
            Against::Dose(material) => format!("{material}, ‰"),
        }
    }

    /// An amount with its unit.
    pub fn amount(&self, at: f64) -> String {
        match self {
            Against::Price(currency) => format!("{} {}/kg", price(at), label(currency)),
            Against::Effect(currency) => format!("{} {}", price_of_effect(at), label(currency)),
            Against::Count => count(at.round() as usize, "material", "materials"),
            Against::Strength => format!("strength {}", dose(at)),
            Against::Dose(_) => format!("{} ‰", dose(at)),
        }
    }

    /// An amount without its unit.
    pub fn bare(&self, at: f64) -> String {
        match self {
            Against::Price(_) => price(at),
            Against::Effect(_) => price_of_effect(at),
            Against::Count => tick(at.round()),
            Against::Strength | Against::Dose(_) => dose(at),
        }
    }

    /// An amount to three digits: where something happens, about.
    pub fn about(&self, at: f64) -> String {
        if *self == Against::Count || at == 0.0 || !at.is_finite() {
            return self.bare(at);
        }
        let unit = 10f64.powf(at.abs().log10().floor() - 2.0);
        tick((at / unit).round() * unit)
    }

    /// What buying more of it is called, where that goes without saying.
    fn more(&self) -> &'static str {
        match self {
            Against::Price(_) => "more money",
            Against::Effect(_) => "a dearer effect",
            Against::Count => "a larger number",
            Against::Strength => "more strength",
            Against::Dose(_) => "more of it",
        }
    }
}

/// Prices of effect are small numbers.
fn price_of_effect(at: f64) -> String {
    if at < 10.0 { dose(at) } else { price(at) }
}

impl TradeoffChart {
    /// Fidelity in percent at an amount, between the points in a straight
    /// line; none off the curve.
    pub fn fidelity_at(&self, at: f64) -> Option<f64> {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs().max(1.0);
        if let Some(point) = self.points.iter().find(|point| near(point.at, at)) {
            return Some(point.fidelity_percent);
        }
        self.points.windows(2).find(|pair| pair[0].at <= at && at <= pair[1].at).map(|pair| {
            let part = (at - pair[0].at) / (pair[1].at - pair[0].at);
            pair[0].fidelity_percent + part * (pair[1].fidelity_percent - pair[0].fidelity_percent)
        })
    }

    /// The point of the best fidelity: the first of them.
    fn best(&self) -> Option<&TradeoffPoint> {
        self.points.iter().reduce(|a, b| if b.fidelity_percent > a.fidelity_percent + 1e-9 { b } else { a })
    }

    /// What the curve comes to.
    fn finding(&self) -> String {
        let (Some(first), Some(last), Some(best)) = (self.points.first(), self.points.last(), self.best()) else {
            return "No blend keeps the other rules".to_owned();
        };
        let of = match &self.against {
            Against::Dose(material) => format!(" of {}", brief(material)),
            _ => String::new(),
        };
        let reach = |at: f64, fidelity: f64| format!("{}{of} reach {} %", self.against.amount(at), percent(fidelity));
        let top = format!("the best is {} % at {}", percent(best.fidelity_percent), self.against.amount(best.at));
        let Some((own, here)) = self.own.and_then(|own| Some((own, self.fidelity_at(own)?))) else {
            let turn = self.knee.and_then(|knee| Some((knee, self.fidelity_at(knee)?)));
            return match turn {
                Some((knee, there)) => {
                    sentence(&format!("{}; {top}", reach(knee, there).replace(" reach", self.verb(knee))))
                }
                None if best.fidelity_percent - first.fidelity_percent < 0.05 => {
                    format!("Nothing is gained: {} % throughout", percent(best.fidelity_percent))
                }
                None => sentence(&format!(
                    "from {} to {} the match goes from {} to {} %",
                    self.against.bare(first.at),
                    self.against.amount(last.at),
                    percent(first.fidelity_percent),
                    percent(last.fidelity_percent)
                )),
            };
        };
        let mine = reach(own, here).replace(" reach", self.verb(own));
        let gain = best.fidelity_percent - here;
        let rest = match self.cost_of_a_point {
            _ if gain < 0.05 => format!("{} brings nothing", self.against.more()),
            Some(cost) if gain >= 1.0 && cost.is_finite() => {
                format!("a further point costs about {}", self.against.amount(cost))
            }
            _ if best.at > own => format!("{} brings at most {} points", self.against.more(), number(gain, 1)),
            _ => top,
        };
        sentence(&format!("{mine}; {rest}"))
    }

    /// Money buys; one thing reaches, several reach.
    fn verb(&self, at: f64) -> &'static str {
        match self.against {
            Against::Price(_) | Against::Effect(_) => " buys",
            Against::Count if at.round() != 1.0 => " reach",
            _ => " reaches",
        }
    }

    fn description(&self) -> String {
        let mut text = format!("{}. Best match on paper by {}: ", self.brief, self.against.axis());
        let point = |point: &TradeoffPoint| {
            format!("{} % at {}", percent(point.fidelity_percent), self.against.amount(point.at))
        };
        // Every point is too much to listen to.
        let step = self.points.len().div_ceil(8).max(1);
        let some = self.points.iter().step_by(step).chain(self.points.last().filter(|_| step > 1));
        text += &some.map(point).collect::<Vec<_>>().join(", ");
        text
    }

    fn subtitle(&self) -> Vec<Piece> {
        let with = if self.materials.is_empty() || self.points.iter().all(|point| point.doses_ppt.is_empty()) {
            ""
        } else {
            ", and the materials that the best blend then has"
        };
        let what = if self.against == Against::Count { "with so many materials" } else { "within each limit" };
        let mut pieces = vec![words(&format!("{}: the best match on paper {what}{with}.", self.brief))];
        match self.against {
            Against::Count => pieces.push(key(Mark::Disc(LOW), "best of each number", LOW)),
            _ => pieces.push(key(Mark::Line(LOW), "any doses", LOW)),
        }
        if self.formulas.iter().any(|formula| formula.proven) {
            pieces.push(key(Mark::Disc(INK), "whole parts, proven", INK));
        }
        if self.formulas.iter().any(|formula| !formula.proven) {
            pieces.push(key(Mark::Ring, "whole parts, not proven", INK));
        }
        pieces
    }

    fn scales(&self, top: f64) -> Plane {
        let at = || self.points.iter().map(|point| point.at).chain(self.formulas.iter().map(|formula| formula.at));
        let (from, to) = (at().fold(f64::INFINITY, f64::min), at().fold(f64::NEG_INFINITY, f64::max));
        let fidelity = || {
            let dots = self.formulas.iter().map(|formula| formula.fidelity_percent);
            self.points.iter().map(|point| point.fidelity_percent).chain(dots)
        };
        let (low, high) = (fidelity().fold(100.0, f64::min), fidelity().fold(0.0, f64::max));
        let pad = if to > from { 0.0 } else { 0.05 * from.abs().max(1.0) };
        let mut x = Scale::linear(from - pad, to + pad, LEFT, RIGHT);
        if self.against == Against::Count {
            x = Scale::linear(from - 0.3, to.max(from + 1.0) + 0.3, LEFT, RIGHT);
        }
        let room = (high - low).max(0.5) * 0.06;
        let mut y = Scale::rounded((low - room).max(0.0), (high + room).min(100.0), top + HEIGHT, top, 5);
        y.to = y.to.min(100.0);
        Plane { x, y }
    }
}

impl Chart for TradeoffChart {
    fn name(&self) -> &'static str {
        "tradeoff"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        if self.points.is_empty() {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let top = top + 30.0;
        let plane = self.scales(top);
        canvas.text(MARGIN, top - 14.0, "match on paper, %", SMALL);
        self.axes(canvas, &plane);
        let mut crowd = Crowd::new((LEFT + 2.0, top - 10.0, RIGHT, top + HEIGHT - 4.0));
        self.curve(canvas, &plane, &mut crowd);
        let mut bottom = top + HEIGHT + 36.0;
        let bands = ribbons::Ribbons {
            materials: &self.materials,
            points: &self.points,
            mark: self.own.or(self.knee).filter(|&at| plane.x.has(at)),
            against: &self.against,
            scale: plane.x,
        };
        let (ribs, note) = bands.draw(canvas, &mut bottom);
        if let Some(own) = self.own.filter(|&own| plane.x.has(own)) {
            let x = plane.x.px(own);
            let floor = top + HEIGHT;
            canvas.line((x, top), (x, floor), Stroke::dashed(HIGH, 1.4));
            if ribs > floor + 40.0 {
                canvas.line((x, floor + 34.0), (x, ribs), Stroke::dashed(HIGH, 1.4));
            }
        }
        self.marks(canvas, &plane, &mut crowd);
        frame::foot(canvas, bottom + 14.0, &note);
    }
}

impl TradeoffChart {
    fn axes(&self, canvas: &mut Canvas, plane: &Plane) {
        for value in plane.y.ticks(5) {
            let y = plane.y.px(value);
            canvas.line((LEFT, y), (RIGHT, y), Stroke::new(GRID, 1.0));
            canvas.text(LEFT - 9.0, y + 4.5, &tick(value), SMALL.end());
        }
        let floor = plane.y.start;
        canvas.line((LEFT, floor), (RIGHT, floor), Stroke::new(AXIS, 1.2));
        let ticks = plane.x.ticks(match self.against {
            Against::Count => 14,
            _ if plane.x.to > 99_999.0 => 5,
            _ => 7,
        });
        for value in ticks.into_iter().filter(|value| self.against != Against::Count || value.fract() == 0.0) {
            let x = plane.x.px(value);
            canvas.line((x, floor), (x, floor + 5.0), Stroke::new(AXIS, 1.0));
            canvas.text(x, floor + 20.0, &tick(value), SMALL.middle());
        }
        let axis = SMALL.shortened(&self.against.axis(), WIDTH - MARGIN - RIGHT - 14.0);
        canvas.text(RIGHT + 14.0, floor + 20.0, &axis, SMALL);
    }

    fn curve(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd) {
        let points: Vec<(f64, f64)> = self.points.iter().map(|point| (point.at, point.fidelity_percent)).collect();
        let places: Vec<(f64, f64)> = points.iter().map(|&point| plane.place(point)).collect();
        crowd.avoid(&places);
        if self.against != Against::Count {
            canvas.group("curve", &[("series", "continuous")], "", |canvas| {
                plane.fill(canvas, &points, HUES[3], 0.22);
                plane.curve(canvas, &points, LOW, 2.4);
            });
        } else {
            plane.curve(canvas, &points, AXIS, 1.4);
        }
        for (point, &(x, y)) in self.points.iter().zip(&places) {
            self.point(canvas, "point", (point.at, point.fidelity_percent), |canvas| match self.against {
                Against::Count => canvas.disc((x, y), 5.0, LOW, Stroke::new(PAPER, 1.2)),
                _ if places.len() == 1 => canvas.disc((x, y), 5.0, LOW, Stroke::new(PAPER, 1.2)),
                _ => canvas.touch(x - 4.0, y - 4.0, 8.0, 8.0),
            });
        }
        for formula in &self.formulas {
            let place = plane.place((formula.at, formula.fidelity_percent));
            crowd.take((place.0 - 5.0, place.1 - 5.0, place.0 + 5.0, place.1 + 5.0));
            let class = if formula.proven { "formula" } else { "formula unproven" };
            self.point(canvas, class, (formula.at, formula.fidelity_percent), |canvas| {
                let (fill, rim) = if formula.proven { (INK, PAPER) } else { (PAPER, INK) };
                canvas.disc(place, 3.6, fill, Stroke::new(rim, 1.2));
            });
        }
    }

    fn point(&self, canvas: &mut Canvas, class: &str, (at, fidelity): (f64, f64), draw: impl FnOnce(&mut Canvas)) {
        let data = [("at", crate::number::plain(at)), ("fidelity", crate::number::plain(fidelity))];
        let data = [(data[0].0, data[0].1.as_str()), (data[1].0, data[1].1.as_str())];
        canvas.group(class, &data, &format!("{}: {} %", self.against.amount(at), number(fidelity, 2)), draw);
    }

    /// The user's own limit, the knee, and the end.
    fn marks(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd) {
        let small = SMALL.size(13.0);
        if let Some(best) = self.best() {
            let (x, y) = plane.place((best.at, best.fidelity_percent));
            let text = format!("{} % at {}", percent(best.fidelity_percent), self.against.bare(best.at));
            let beyond = match self.against {
                Against::Price(_) | Against::Effect(_) => "more money buys nothing",
                Against::Count => "more materials bring nothing",
                Against::Strength | Against::Dose(_) => "the best there is",
            };
            let at_end = RIGHT - x < 30.0;
            if at_end {
                canvas.text(RIGHT + 14.0, y - 2.0, &text, BODY.bold().colour(LOW));
                canvas.text(RIGHT + 14.0, y + 15.0, beyond, small);
            } else {
                canvas.disc((x, y), 4.5, LOW, Stroke::new(PAPER, 1.2));
                let lines = vec![(text, BODY.bold().colour(LOW)), (beyond.to_owned(), small)];
                crowd.label(canvas, (x, y), &Label { lines, side: Side::Either });
            }
        }
        if let Some((own, here)) = self.own.and_then(|own| Some((own, self.fidelity_at(own)?))) {
            let place = plane.place((own, here));
            crowd.take((place.0 - 3.0, plane.y.end, place.0 + 3.0, plane.y.start));
            canvas.disc(place, 6.5, HIGH, Stroke::new(PAPER, 1.6));
            let yours = format!("your limit: {}, {} %", self.against.amount(own), percent(here));
            let mut lines = vec![(yours, BODY.bold().colour(HIGH))];
            if let Some(best) = self.best().filter(|best| best.fidelity_percent - here >= 0.05) {
                let below = number(best.fidelity_percent - here, 1);
                lines.push((format!("{below} points below the best"), small));
            }
            canvas.group("own", &[("at", &crate::number::plain(own))], "", |canvas| {
                crowd.label(canvas, place, &Label { lines, side: Side::Either });
            });
        }
        if let Some((knee, there)) = self.knee.and_then(|knee| Some((knee, self.fidelity_at(knee)?))) {
            let place = plane.place((knee, there));
            let (x, y) = place;
            canvas.polygon(&[(x, y - 7.0), (x + 7.0, y), (x, y + 7.0), (x - 7.0, y)], PAPER, 1.0);
            canvas.polygon(&[(x, y - 5.5), (x + 5.5, y), (x, y + 5.5), (x - 5.5, y)], GOOD, 1.0);
            let lines = vec![
                (format!("the return falls off: {}", self.against.amount(knee)), BODY.bold().colour(GOOD)),
                (format!("{} %", percent(there)), small.colour(SOFT)),
            ];
            canvas.group("knee", &[("at", &crate::number::plain(knee))], "", |canvas| {
                crowd.label(canvas, place, &Label { lines, side: Side::Either });
            });
        }
    }
}
