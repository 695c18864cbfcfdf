//! What all plots of the match against something share: axes, the curve of what
//! cannot be passed, and groups that carry their numbers.

use super::canvas::{Canvas, SMALL, Stroke};
use super::colour::{AXIS, GRID, SOFT};
use super::crowd::Crowd;
use super::plane::Plane;
use super::words::tick;

/// Draws the lines of a scale that goes up, each with its number at the left.
pub fn rungs(canvas: &mut Canvas, plane: &Plane, most: usize) {
    let (left, right) = (plane.x.start, plane.x.end);
    for value in plane.y.ticks(most) {
        let y = plane.y.px(value);
        canvas.line((left, y), (right, y), Stroke::new(GRID, 1.0));
        canvas.text(left - 9.0, y + 4.5, &tick(value), SMALL.end());
    }
}

/// Draws the lower edge of a plot with its ticks; numbers that would touch the
/// one before are left out.
pub fn floor(canvas: &mut Canvas, plane: &Plane, ticks: &[f64]) {
    let floor = plane.y.start;
    canvas.line((plane.x.start, floor), (plane.x.end, floor), Stroke::new(AXIS, 1.2));
    let mut free = f64::NEG_INFINITY;
    for &value in ticks {
        let (x, text) = (plane.x.px(value), tick(value));
        let half = SMALL.width(&text) / 2.0;
        canvas.line((x, floor), (x, floor + 5.0), Stroke::new(AXIS, 1.0));
        if x - half > free {
            canvas.text(x, floor + 20.0, &text, SMALL.middle());
            free = x + half + 6.0;
        }
    }
}

/// Draws what cannot be passed as a thin line, and keeps labels off it.
pub fn upper_limit(canvas: &mut Canvas, plane: &Plane, crowd: &mut Crowd, points: &[(f64, f64)]) {
    let is_inside = |&(at, match_percent): &(f64, f64)| {
        plane.x.has(at) && match_percent >= plane.y.from && match_percent <= plane.y.to
    };
    let inside: Vec<(f64, f64)> = points.iter().copied().filter(is_inside).collect();
    if inside.len() > 1 {
        canvas.group("curve", &[("series", "upper limit")], "", |canvas| plane.curve(canvas, &inside, SOFT, 1.1));
        avoid(crowd, plane, &inside);
    }
}

/// Keeps labels off a curve.
pub fn avoid(crowd: &mut Crowd, plane: &Plane, curve: &[(f64, f64)]) {
    let places: Vec<(f64, f64)> = curve.iter().map(|&point| plane.place(point)).collect();
    crowd.avoid(&places);
}

/// Draws a group of a class that carries numbers, with a tooltip unless it is
/// empty.
pub fn marked(canvas: &mut Canvas, class: &str, numbers: &[(&str, f64)], tip: &str, draw: impl FnOnce(&mut Canvas)) {
    let texts: Vec<String> = numbers.iter().map(|&(_, number)| crate::number::plain(number)).collect();
    let data: Vec<(&str, &str)> = numbers.iter().zip(&texts).map(|(&(key, _), text)| (key, text.as_str())).collect();
    canvas.group(class, &data, tip, draw);
}
