//! The curve, its formulas and its marks; the ribbons under it.

use super::{Against, Course, TradeoffChart, TradeoffPoint, ribbons};
use crate::chart::Chart;
use crate::chart::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use crate::chart::kit::colour::{GOOD, INK, LIMIT, NOW, PAPER, SOFT, WIDE};
use crate::chart::kit::crowd::{Crowd, Label, Side};
use crate::chart::kit::curves;
use crate::chart::kit::frame;
use crate::chart::kit::plane::Plane;
use crate::chart::kit::scale::{Scale, Steps};
use crate::chart::kit::words::{number, percent};
use crate::chart::kit::{MARGIN, WIDTH};

/// Left and right edge of the plot in pixels; names of materials stand right
/// of it.
const LEFT: f64 = MARGIN + 34.0;
const RIGHT: f64 = 650.0;
/// A range of what is traded from which on its axis goes by ratio.
const BY_RATIO: f64 = 10.0;
/// Height of the plot in pixels.
const HEIGHT: f64 = 300.0;

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
        let drawn = self.corners(&plane);
        let bands = ribbons::Ribbons {
            materials: &self.materials,
            points: &drawn,
            mark: self.own.or(self.knee).filter(|&at| plane.x.has(at)),
            against: &self.against,
            scale: plane.x,
        };
        let (ribs, note) = bands.draw(canvas, &mut bottom);
        if let Some(own) = self.own.filter(|&own| plane.x.has(own)) {
            let x = plane.x.px(own);
            let floor = top + HEIGHT;
            canvas.line((x, top), (x, floor), Stroke::dashed(LIMIT, 1.4));
            if ribs > floor + 40.0 {
                canvas.line((x, floor + 34.0), (x, ribs), Stroke::dashed(LIMIT, 1.4));
            }
        }
        self.marks(canvas, &plane, &mut crowd);
        frame::foot(canvas, bottom + 14.0, &note);
    }
}

impl TradeoffChart {
    fn scales(&self, top: f64) -> Plane {
        let above = || self.upper_limit.iter();
        let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
        // The upper limit may begin far below what can be had.
        for at in self.points.iter().map(|point| point.at).chain(self.own_near()) {
            (from, to) = (from.min(at), to.max(at));
        }
        let fidelity = || {
            let upper = above().filter(|(at, _)| from <= *at && *at <= to).map(|(_, fidelity)| *fidelity);
            self.points.iter().map(|point| point.fidelity_percent).chain(upper)
        };
        let lowest = self.points.iter().map(|point| point.fidelity_percent).fold(100.0, f64::min);
        let (low, high) = (lowest, fidelity().fold(0.0, f64::max));
        let pad = if to > from { 0.0 } else { 0.05 * from.abs().max(1.0) };
        let mut x = Scale::linear(from - pad, to + pad, LEFT, RIGHT);
        // What spreads over more than a decade is shown by ratio, so that its steep
        // part is seen.
        if from > 0.0 && to / from > BY_RATIO && self.against != Against::Count {
            x = Scale { from, to, start: LEFT, end: RIGHT, steps: Steps::Log };
        }
        if self.against == Against::Count {
            x = Scale::linear(from - 0.3, to.max(from + 1.0) + 0.3, LEFT, RIGHT);
        }
        let room = (high - low).max(0.5) * 0.06;
        let mut y = Scale::rounded((low - room).max(0.0), (high + room).min(100.0), top + HEIGHT, top, 5);
        y.to = y.to.min(100.0);
        Plane { x, y }
    }

    fn axes(&self, canvas: &mut Canvas, plane: &Plane) {
        curves::rungs(canvas, plane, 5);
        let most = match self.against {
            Against::Count => 14,
            _ if plane.x.to > 99_999.0 => 5,
            _ => 7,
        };
        let is_whole = |value: &f64| self.against != Against::Count || value.fract() == 0.0;
        let ticks: Vec<f64> = plane.x.ticks(most).into_iter().filter(is_whole).collect();
        curves::floor(canvas, plane, &ticks);
        let steps = if plane.x.steps == Steps::Linear { "" } else { " (by ratio)" };
        let room = WIDTH - MARGIN - RIGHT - 22.0;
        let axis = SMALL.shortened(&self.against.axis(), room - SMALL.width(steps));
        canvas.text(RIGHT + 22.0, plane.y.start + 20.0, &format!("{axis}{steps}"), SMALL);
    }

    /// The user's own limit, where it lies not far beyond the curve.
    fn own_near(&self) -> Option<f64> {
        let (first, last) = (self.points.first()?.at, self.points.last()?.at);
        let wide = (last - first).max(1e-9);
        self.own.filter(|own| *own > first - 0.5 * wide && *own < last + 0.5 * wide)
    }

    /// The points with the far end of each step, limits rising, as far as the
    /// plot goes.
    fn corners(&self, plane: &Plane) -> Vec<TradeoffPoint> {
        let mut corners = Vec::new();
        for (at, point) in self.points.iter().enumerate() {
            let end = match self.course {
                Course::StepsUp => Some(self.points.get(at + 1).map_or(plane.x.to, |next| next.at)),
                Course::StepsDown => Some(at.checked_sub(1).map_or(plane.x.from, |before| self.points[before].at)),
                Course::Line | Course::Apart => None,
            };
            let far = end.map(|end| TradeoffPoint { at: end, ..point.clone() });
            match self.course {
                Course::StepsDown => corners.extend(far.into_iter().chain([point.clone()])),
                _ => corners.extend([point.clone()].into_iter().chain(far)),
            }
        }
        corners
    }

    /// The gaps in which a better formula may begin: (tighter limit, looser
    /// limit, fidelity that can be had, fidelity that cannot be passed).
    pub(super) fn gaps(&self) -> Vec<(f64, f64, f64, f64)> {
        let gap = |tight: &TradeoffPoint, loose: &TradeoffPoint| {
            let until = tight.until?;
            let is_open = if self.course == Course::StepsUp { until < loose.at } else { until > loose.at };
            is_open.then_some((until, loose.at, tight.fidelity_percent, loose.fidelity_percent))
        };
        let pairs = self.points.windows(2);
        match self.course {
            Course::StepsUp => pairs.filter_map(|pair| gap(&pair[0], &pair[1])).collect(),
            Course::StepsDown => pairs.filter_map(|pair| gap(&pair[1], &pair[0])).collect(),
            Course::Line | Course::Apart => Vec::new(),
        }
    }

    /// Whether such gaps are wide enough to be seen.
    pub(super) fn has_open_gaps(&self) -> bool {
        let wide = self.points.first().zip(self.points.last()).map_or(0.0, |(first, last)| last.at - first.at);
        self.gaps().iter().any(|(from, to, ..)| (to - from).abs() > 0.004 * wide)
    }

    fn curve(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd) {
        curves::upper_limit(canvas, plane, crowd, &self.upper_limit);
        let line: Vec<(f64, f64)> =
            self.corners(plane).iter().map(|corner| (corner.at, corner.fidelity_percent)).collect();
        match self.course {
            // Between them there is nothing: no line leads from one to the next.
            Course::Apart => {
                for place in line.iter().map(|&point| plane.place(point)) {
                    crowd.take((place.0 - 6.0, place.1 - 6.0, place.0 + 6.0, place.1 + 6.0));
                }
            }
            _ => {
                curves::avoid(crowd, plane, &line);
                canvas.group("curve", &[("series", "formulas")], "", |canvas| {
                    plane.fill(canvas, &line, WIDE, 0.16);
                    for (from, to, least, most) in self.gaps() {
                        let ((left, low), (right, high)) = (plane.place((from, least)), plane.place((to, most)));
                        canvas.rect(left.min(right), high, (right - left).abs(), (low - high).max(0.0), WIDE, 0.4);
                    }
                    plane.curve(canvas, &line, NOW, 2.4);
                });
            }
        }
        let is_line = self.course == Course::Line && self.points.len() > 1;
        for point in &self.points {
            let place = plane.place((point.at, point.fidelity_percent));
            let class = if point.proven { "point" } else { "point unproven" };
            self.point(canvas, class, (point.at, point.fidelity_percent), |canvas| match point.proven {
                true if is_line => canvas.touch(place.0 - 4.0, place.1 - 4.0, 8.0, 8.0),
                true => canvas.disc(
                    place,
                    if self.against == Against::Count { 5.0 } else { 3.4 },
                    NOW,
                    Stroke::new(PAPER, 1.0),
                ),
                false => canvas.disc(place, 3.6, PAPER, Stroke::new(INK, 1.2)),
            });
        }
    }

    fn point(&self, canvas: &mut Canvas, class: &str, (at, fidelity): (f64, f64), draw: impl FnOnce(&mut Canvas)) {
        let tip = format!("{}: {} %", self.against.amount(at), number(fidelity, 2));
        curves::marked(canvas, class, &[("at", at), ("fidelity", fidelity)], &tip, draw);
    }

    /// The user's own limit, the knee, and the end.
    fn marks(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd) {
        let small = SMALL.size(13.0);
        let own = self.own.and_then(|own| Some((own, self.fidelity_at(own)?)));
        // No label stands on the dashed line of the limit.
        if let Some(x) = self.own.filter(|&own| plane.x.has(own)).map(|own| plane.x.px(own)) {
            crowd.take((x - 3.0, plane.y.end - 20.0, x + 3.0, plane.y.start));
        }
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
                canvas.text(RIGHT + 14.0, y - 2.0, &text, BODY.bold().colour(NOW));
                canvas.text(RIGHT + 14.0, y + 15.0, beyond, small);
            } else {
                canvas.disc((x, y), 4.5, NOW, Stroke::new(PAPER, 1.2));
                let lines = vec![(text, BODY.bold().colour(NOW)), (beyond.to_owned(), small)];
                crowd.label(canvas, (x, y), &Label { lines, side: Side::Either });
            }
        }
        if let Some((own, here)) = own {
            let place = plane.place((own, here));
            canvas.disc(place, 6.5, LIMIT, Stroke::new(PAPER, 1.6));
            let yours = format!("your limit: {}, {} %", self.against.amount(own), percent(here));
            let mut lines = vec![(yours, BODY.bold().colour(LIMIT))];
            if self.knee_is_own(plane) {
                lines.push(("the return falls off here".to_owned(), small.bold().colour(GOOD)));
            }
            if let Some(best) = self.best().filter(|best| best.fidelity_percent - here >= 0.05) {
                let below = number(best.fidelity_percent - here, 1);
                lines.push((format!("{below} points below the best"), small));
            }
            curves::marked(canvas, "own", &[("at", own)], "", |canvas| {
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
            curves::marked(canvas, "knee", &[("at", knee)], "", |canvas| {
                if !self.knee_is_own(plane) {
                    crowd.label(canvas, place, &Label { lines, side: Side::Either });
                }
            });
        }
    }

    /// Whether the knee and the user's own limit lie on one spot of the plot.
    fn knee_is_own(&self, plane: &Plane) -> bool {
        let places = self.knee.zip(self.own).map(|(knee, own)| (plane.x.px(knee), plane.x.px(own)));
        places.is_some_and(|(knee, own)| (knee - own).abs() < 4.0)
    }
}
