//! The plot: curves, caps, window and marks.

use super::curve::merged;
use super::{PushCap, PushChart, SECOND};
use crate::chart::Chart;
use crate::chart::kit::canvas::{Anchor, BODY, Canvas, SMALL, Stroke, Style};
use crate::chart::kit::colour::{COMES_IN, GOOD, HUES, INK, LIMIT, NOW, PAPER, SOFT};
use crate::chart::kit::crowd::{Crowd, Label, Side};
use crate::chart::kit::curves;
use crate::chart::kit::frame;
use crate::chart::kit::plane::Plane;
use crate::chart::kit::scale::{Scale, Steps};
use crate::chart::kit::words::{dose, number, percent, tick};
use crate::chart::kit::{MARGIN, WIDTH};

/// Left and right edge of the plot in pixels.
const LEFT: f64 = MARGIN + 34.0;
const RIGHT: f64 = WIDTH - MARGIN - 8.0;
/// Height of the plot in pixels.
const HEIGHT: f64 = 400.0;
/// Height of a label of a cap.
const CAP: f64 = 19.0;
/// The most caps with a line of their own.
const MOST_CAPS: usize = 6;

impl Chart for PushChart {
    fn name(&self) -> &'static str {
        "push"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        if self.points.iter().all(|point| point.fidelity_percent.is_none()) {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let reach = self.points.iter().map(|point| point.dose_ppt).fold(0.0, f64::max);
        let (near, far): (Vec<PushCap>, Vec<PushCap>) =
            merged(&self.caps).into_iter().partition(|cap| cap.dose_ppt <= reach);
        let (near, crowded) = near.split_at(near.len().min(MOST_CAPS));
        let top = top + 34.0 + CAP * near.len().saturating_sub(1) as f64;
        let plane = self.scales(top);
        let floor = plane.y.start;
        self.grounds(canvas, &plane);
        curves::rungs(canvas, &plane, 6);
        curves::floor(canvas, &plane, &plane.x.ticks(11));
        canvas.text(MARGIN, top - 14.0, "match on paper, %", SMALL);
        let axis = format!("{} in the formula, ‰", SMALL.shortened(&self.material, 480.0));
        let logarithmic = if plane.x.steps == Steps::Linear { "" } else { " (by ratio, 0 set apart)" };
        canvas.text(RIGHT, floor + 40.0, &format!("{axis}{logarithmic}"), SMALL.end());
        let mut crowd = Crowd::new((LEFT + 4.0, top + 2.0, RIGHT - 2.0, floor - 4.0));
        self.curves(canvas, &plane, &mut crowd);
        caps(canvas, &plane, near, &mut crowd);
        self.marks(canvas, &plane, &mut crowd);
        let others: Vec<String> =
            crowded.iter().chain(&far).map(|cap| format!("{} at {} ‰", cap.reason, dose(cap.dose_ppt))).collect();
        let note = if others.is_empty() { String::new() } else { format!("Further caps: {}.", others.join("; ")) };
        frame::foot(canvas, floor + 64.0, &note);
    }
}

/// Lines of the caps with their reasons, each label on a line of its own
/// above the plot, at the side where there is room.
fn caps(canvas: &mut Canvas, plane: &Plane, caps: &[PushCap], crowd: &mut Crowd) {
    let (top, floor) = (plane.y.end, plane.y.start);
    let place = |cap: &PushCap| plane.x.px(cap.dose_ppt);
    // Near the right edge a label stands left of its line. Those are set
    // uppermost, the rightmost first, and the others stop before their lines:
    // so no label is crossed.
    let mut edge = WIDTH - 12.0;
    let mut first_turned = caps.len();
    while first_turned > 0 && edge - place(&caps[first_turned - 1]) < 170.0 {
        first_turned -= 1;
        edge = place(&caps[first_turned]) - 6.0;
    }
    let turned = caps.len() - first_turned;
    for (at, cap) in caps.iter().enumerate() {
        let x = place(cap);
        let is_turned = at >= first_turned;
        let row = if is_turned { caps.len() - 1 - at } else { turned + at };
        let colour = if at == 0 { LIMIT } else { SOFT };
        let y = top - 12.0 - CAP * (caps.len() - 1 - row) as f64;
        let figures = format!("{} ‰", dose(cap.dose_ppt));
        let bold = BODY.size(13.0).bold().colour(colour);
        let plain = Style { weight: Default::default(), ..bold };
        let room = if is_turned { x - MARGIN - 20.0 } else { edge - x - 8.0 };
        let reason = bold.shortened(&cap.reason, (room - 7.0 - plain.width(&figures)).min(460.0));
        let value = crate::number::plain(cap.dose_ppt);
        let data = [("dose", value.as_str()), ("reason", &cap.reason)];
        canvas.group("cap", &data, &format!("{}: {figures}", cap.reason), |canvas| {
            canvas.line((x, y - 11.0), (x, floor), Stroke::new(colour, if at == 0 { 1.8 } else { 1.2 }));
            let wide = bold.width(&reason) + 7.0 + plain.width(&figures);
            let start = if is_turned { x - 8.0 - wide } else { x + 8.0 };
            let reach = canvas.text(start, y, &reason, bold.halo());
            canvas.text(start + reach + 7.0, y, &figures, plain.halo());
        });
        crowd.take((x - 3.0, top, x + 3.0, floor));
    }
}

impl PushChart {
    fn scales(&self, top: f64) -> Plane {
        let positive = || self.points.iter().map(|point| point.dose_ppt).filter(|&ppt| ppt > 0.0);
        let (least, most) = (positive().fold(f64::INFINITY, f64::min), positive().fold(0.0, f64::max));
        // Doses that were chosen by ratio are shown by ratio.
        let x = if least.is_finite() && most / least > 300.0 {
            let mut scale = Scale::zero_and_log(least, most, LEFT, RIGHT);
            (scale.from, scale.to) = (least, most);
            scale
        } else {
            Scale::linear(0.0, most, LEFT, RIGHT)
        };
        let cap = self.cap();
        let of = |inside: bool| {
            let points = self.points.iter().filter(move |point| !inside || point.dose_ppt <= cap);
            points.flat_map(|point| [point.fidelity_percent, point.second_percent]).flatten()
        };
        let above = self.upper_limit.iter().filter(|(at, _)| *at <= most).map(|(_, fidelity)| *fidelity);
        let high = of(false).chain(above).fold(0.0, f64::max);
        // Far beyond the cap a curve may fall so deep that nothing else could
        // be told apart; it leaves the plot at its lower edge.
        let inside = of(true).fold(high, f64::min);
        let low = of(false).fold(100.0, f64::min).max(inside.min(high - 5.0) - 0.75 * (high - inside).max(5.0));
        let room = (high - low).max(0.5) * 0.06;
        let y = Scale::rounded((low - room).max(0.0), (high + room).min(100.0), top + HEIGHT, top, 6);
        Plane { x, y }
    }

    /// The window, and what lies beyond the lowest cap.
    fn grounds(&self, canvas: &mut Canvas, plane: &Plane) {
        let (top, floor) = (plane.y.end, plane.y.start);
        if let Some((from, to)) = self.window_ppt {
            let (left, right) = (plane.x.px(from), plane.x.px(to));
            canvas.rect(left, top, (right - left).max(2.0), floor - top, COMES_IN, 0.14);
        }
        if self.cap() < plane.x.to {
            let left = plane.x.px(self.cap());
            canvas.rect(left, top, RIGHT - left, floor - top, LIMIT, 0.06);
        }
    }

    fn curves(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd) {
        curves::upper_limit(canvas, plane, crowd, &self.upper_limit);
        let second = self.stretches(plane.y.from, |point| point.second_percent);
        let first = self.stretches(plane.y.from, |point| point.fidelity_percent);
        // Between two doses in parts the line leads the eye alone.
        let broad = if self.is_continuous { 2.6 } else { 1.6 };
        for ((inside, beyond), series, colour, width) in
            [(second, "second opinion", HUES[5], 0.75 * broad), (first, "match", NOW, broad)]
        {
            canvas.group("curve", &[("series", series)], "", |canvas| {
                for stretch in &inside {
                    plane.curve(canvas, stretch, colour, width);
                }
                for stretch in &beyond {
                    plane.dashed(canvas, stretch, colour, width);
                }
            });
            for stretch in inside.iter().chain(&beyond) {
                curves::avoid(crowd, plane, stretch);
            }
        }
        for point in &self.points {
            let Some(fidelity) = point.fidelity_percent else { continue };
            let (x, y) = plane.place((point.dose_ppt, fidelity.max(plane.y.from)));
            let second = point.second_percent.map(crate::number::plain).unwrap_or_default();
            let (at, value) = (crate::number::plain(point.dose_ppt), crate::number::plain(fidelity));
            let opinion = point.second_percent.map(|second| format!("; second opinion {} %", number(second, 2)));
            let tip = format!("{} ‰: {} %{}", dose(point.dose_ppt), number(fidelity, 2), opinion.unwrap_or_default());
            let data = [("dose", at.as_str()), ("fidelity", &value), ("second", &second)];
            canvas.group("point", &data, &tip, |canvas| match point.proven {
                _ if fidelity < plane.y.from => canvas.touch(x - 4.0, y - 4.0, 8.0, 8.0),
                true if self.is_continuous => canvas.touch(x - 4.0, y - 4.0, 8.0, 8.0),
                true => canvas.disc((x, y), 3.2, NOW, Stroke::new(PAPER, 1.0)),
                false => canvas.disc((x, y), 3.4, PAPER, Stroke::new(INK, 1.2)),
            });
        }
    }

    fn marks(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd) {
        let small = SMALL.size(13.0);
        if let Some(without) = self.without_percent {
            let y = plane.y.px(without);
            canvas.line((LEFT, y), (RIGHT, y), Stroke { dashes: &[3.0, 3.0], ..Stroke::new(SOFT, 1.2) });
            // No label stands on it.
            crowd.take((LEFT, y - 2.0, RIGHT, y + 2.0));
        }
        // Its label has the fewest places to go.
        if let Some((from, to)) = self.window_ppt {
            self.window(canvas, plane, crowd, (from, to));
        }
        if let Some((at, fidelity)) = self.best {
            let place = plane.place((at, fidelity));
            canvas.disc(place, 6.5, NOW, Stroke::new(PAPER, 1.6));
            let lines = vec![(format!("best: {} ‰, {} %", dose(at), percent(fidelity)), BODY.bold().colour(NOW))];
            curves::marked(canvas, "best", &[("dose", at), ("fidelity", fidelity)], "", |canvas| {
                crowd.label(canvas, place, &Label { lines, side: Side::Above });
            });
        }
        if let Some((at, fidelity)) = self.best_second {
            let place = plane.place((at, fidelity));
            canvas.disc(place, 5.0, HUES[5], Stroke::new(PAPER, 1.4));
            let is_above = self.best.is_some_and(|(_, best)| fidelity > best);
            let side = if is_above { Side::Above } else { Side::Below };
            let text = format!("second opinion: {} ‰, {} %", dose(at), percent(fidelity));
            crowd.label(canvas, place, &Label { lines: vec![(text, small.bold().colour(SECOND))], side });
        }
        if let Some(without) = self.without_percent {
            let text = format!("{} % without any", percent(without));
            crowd.label(
                canvas,
                (LEFT - 2.0, plane.y.px(without)),
                &Label { lines: vec![(text, small)], side: Side::Below },
            );
        }
    }

    /// The span of the window at the foot of the plot.
    fn window(&self, canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd, (from, to): (f64, f64)) {
        let y = plane.y.start - 26.0;
        let (left, right) = (plane.x.px(from), plane.x.px(to));
        curves::marked(canvas, "window", &[("from", from), ("to", to)], "", |canvas| {
            let stroke = Stroke::new(GOOD, 1.8);
            canvas.line((left, y), (right, y), stroke);
            canvas.line((left, y - 6.0), (left, y + 6.0), stroke);
            canvas.line((right, y - 6.0), (right, y + 6.0), stroke);
            crowd.take((left - 2.0, y - 8.0, right + 2.0, y + 8.0));
            let margin = tick(self.margin_points);
            let head = format!("within {margin} {} of the best", if margin == "1" { "point" } else { "points" });
            let figures = format!("{}–{} ‰", dose(from), dose(to));
            let head_style = BODY.bold().colour(GOOD).halo();
            let wide = head_style.width(&head);
            // Beside the span on its line, or above it where that is free.
            let (above, beside) = (y - 28.0, y);
            let places = [
                (Anchor::End, left - 10.0, beside),
                (Anchor::Start, left + 12.0, above),
                (Anchor::End, right - 12.0, above),
                (Anchor::Start, (left + right - wide) / 2.0, above),
                (Anchor::Start, right + 10.0, beside),
            ];
            let cost = |&(anchor, x, y): &(Anchor, f64, f64)| {
                let edge = if anchor == Anchor::End { x - wide } else { x };
                let is_wide = y == beside || right - left > wide + 24.0;
                let taken = crowd.cost((edge, y - 18.0, edge + wide, y + 18.0));
                if is_wide { taken } else { taken + 400.0 }
            };
            let best = places.iter().map(|place| (cost(place), *place)).reduce(|a, b| if b.0 < a.0 { b } else { a });
            let Some((_, (anchor, x, y))) = best else { return };
            let body = BODY.size(13.0).colour(GOOD).halo();
            canvas.text(x, y - 3.0, &head, Style { anchor, ..head_style });
            canvas.text(x, y + 14.0, &figures, Style { anchor, ..body });
            let edge = if anchor == Anchor::End { x - wide } else { x };
            crowd.take((edge, y - 18.0, edge + wide, y + 18.0));
        });
    }
}
