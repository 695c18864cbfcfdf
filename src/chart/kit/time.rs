//! Time after dipping along an axis, by ratio, and the times that are marked on it.

use super::canvas::{Canvas, SMALL, Stroke};
use super::colour::{AXIS, INK, SOFT};
use super::scale::{Scale, Steps};
use super::words::{brief, number, percent};
use crate::text::span;

/// Minutes that an axis may name.
const TIMES: [f64; 17] = [
    1.0, 2.0, 5.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0, 960.0, 1440.0, 2880.0, 5760.0, 10_080.0, 43_200.0, 129_600.0,
    525_600.0,
];

/// A time that is marked.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeMark {
    /// The stage that it is; `None` for a time that was asked about otherwise.
    pub name: Option<String>,
    /// Minutes after dipping, 0 or more.
    pub minutes: f64,
    /// Match on paper in percent; `None` where nothing is left.
    pub fidelity_percent: Option<f64>,
    /// What is left of the strength, in percent.
    pub kept_percent: f64,
}

impl TimeMark {
    /// A time of which nothing else is said.
    pub fn at(minutes: f64) -> TimeMark {
        TimeMark { name: None, minutes, fidelity_percent: None, kept_percent: 0.0 }
    }

    /// `heart, 2 h`; the time alone where it is no stage.
    pub fn called(&self) -> String {
        let at = span(self.minutes / 60.0);
        self.name.as_ref().map_or(at.clone(), |name| format!("{name}, {at}"))
    }

    /// The same within a sentence: `heart (2 h)`.
    pub fn in_words(&self) -> String {
        let at = span(self.minutes / 60.0);
        self.name.as_ref().map_or(at.clone(), |name| format!("{} ({at})", brief(name)))
    }

    /// Where it stands on an axis: what lies before its beginning (the moment of dipping, on
    /// an axis by ratio) stands there.
    pub fn on(&self, axis: &Scale) -> Option<f64> {
        let minutes = self.minutes.max(axis.from);
        axis.has(minutes).then(|| axis.px(minutes))
    }
}

/// An axis of minutes, above 0, by ratio.
pub fn axis(from: f64, to: f64, start: f64, end: f64) -> Scale {
    Scale { from, to: to.max(from * 1.01), start, end, steps: Steps::Log }
}

/// The line at the foot of a plot, and as many times below it as there is room for.
pub fn floor(canvas: &mut Canvas, axis: &Scale, y: f64) {
    canvas.line((axis.start, y), (axis.end, y), Stroke::new(AXIS, 1.2));
    let style = SMALL.colour(SOFT);
    let mut free = f64::NEG_INFINITY;
    for minutes in TIMES.into_iter().filter(|minutes| (axis.from..=axis.to).contains(minutes)) {
        let (at, label) = (axis.px(minutes), span(minutes / 60.0));
        let wide = style.width(&label);
        let left = (at - wide / 2.0).min(axis.end - wide);
        if left > free {
            canvas.line((at, y), (at, y + 5.0), Stroke::new(AXIS, 1.2));
            canvas.text(left, y + 20.0, &label, style);
            free = left + wide + 12.0;
        }
    }
}

/// Height of the lines that tell of one mark, in pixels.
const HEAD: f64 = 50.0;
/// Lines of a head, from one baseline to the next.
const LEADING: f64 = 15.0;

/// Places labels of some widths around points of an axis, in as many rows as they need not to
/// meet: the left edge and the row of each. The later ones come first: the last is never moved.
pub fn rows(labels: &[(f64, f64)], start: f64, end: f64) -> Vec<(f64, usize)> {
    let mut free: Vec<f64> = Vec::new();
    let mut placed: Vec<(f64, usize)> = Vec::with_capacity(labels.len());
    for &(at, wide) in labels.iter().rev() {
        let left = (at - wide / 2.0).clamp(start, (end - wide).max(start));
        let row = free.iter().position(|free| left + wide <= *free).unwrap_or(free.len());
        if row == free.len() {
            free.push(0.0);
        }
        free[row] = left - 12.0;
        placed.push((left, row));
    }
    placed.reverse();
    placed
}

/// The heads of marks above a plot: what each is called, its match and what is left.
pub struct Heads<'a> {
    placed: Vec<(&'a TimeMark, f64, f64, usize)>,
}

impl<'a> Heads<'a> {
    /// Places the heads of the marks of an axis.
    pub fn new(marks: &'a [TimeMark], axis: &Scale) -> Heads<'a> {
        let shown: Vec<(&TimeMark, f64)> = marks.iter().filter_map(|mark| Some((mark, mark.on(axis)?))).collect();
        let wide = |mark: &TimeMark| lines(mark).iter().map(|line| SMALL.bold().width(line)).fold(0.0, f64::max);
        let labels: Vec<(f64, f64)> = shown.iter().map(|(mark, at)| (*at, wide(mark).min(WIDEST))).collect();
        let places = rows(&labels, axis.start, axis.end);
        let placed = shown.into_iter().zip(places).map(|((mark, at), (left, row))| (mark, at, left, row)).collect();
        Heads { placed }
    }

    /// What they take above the plot, in pixels.
    pub fn height(&self) -> f64 {
        HEAD * self.placed.iter().map(|(.., row)| row + 1).max().unwrap_or(0) as f64
    }

    /// Draws them above `top`, each with a dashed line down to `bottom`.
    pub fn draw(&self, canvas: &mut Canvas, top: f64, bottom: f64) {
        for (_, at, _, row) in &self.placed {
            canvas.line((*at, top - 4.0 - HEAD * *row as f64), (*at, bottom), Stroke::dashed(INK, 1.2));
        }
        for (mark, _, left, row) in &self.placed {
            let up = HEAD * *row as f64;
            let (minutes, name) = (number(mark.minutes, 2), mark.name.clone().unwrap_or_default());
            let fidelity = mark.fidelity_percent.map_or("-".to_owned(), percent);
            let data = [("minutes", minutes.as_str()), ("stage", &name), ("fidelity", &fidelity)];
            canvas.group("mark", &data, &lines(mark).join(", "), |canvas| {
                for (at, line) in lines(mark).iter().enumerate() {
                    let style = if at == 0 { SMALL.bold().colour(INK) } else { SMALL.colour(SOFT) };
                    let y = top - 9.0 - up - LEADING * (2 - at) as f64;
                    canvas.text(*left, y, &style.shortened(line, WIDEST), style.halo());
                }
            });
        }
    }
}

/// The widest head, in pixels.
const WIDEST: f64 = 170.0;

/// What is told of a mark.
fn lines(mark: &TimeMark) -> [String; 3] {
    let fidelity = mark.fidelity_percent.map_or("nothing to smell".to_owned(), |it| format!("match {} %", percent(it)));
    [mark.called(), fidelity, format!("{} % left", number(mark.kept_percent, 0))]
}

/// Places things of one height beside what they belong to, from the uppermost down, so that
/// none covers another: as near as that allows, between `top` and `bottom`.
pub fn spread(wanted: &[f64], height: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut placed: Vec<f64> = Vec::with_capacity(wanted.len());
    for &y in wanted {
        let above = placed.last().map_or(top, |above| above + height);
        placed.push(y.max(above));
    }
    let mut below = bottom;
    for y in placed.iter_mut().rev() {
        *y = y.min(below);
        below = *y - height;
    }
    placed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_meet_is_spread() {
        assert_eq!(spread(&[10.0, 50.0], 15.0, 0.0, 100.0), [10.0, 50.0]);
        assert_eq!(spread(&[10.0, 12.0, 14.0], 15.0, 0.0, 100.0), [10.0, 25.0, 40.0]);
        // The last may not pass the foot, and moves the others up.
        assert_eq!(spread(&[90.0, 99.0, 100.0], 15.0, 0.0, 100.0), [70.0, 85.0, 100.0]);
    }

    #[test]
    fn the_moment_of_dipping_stands_at_the_beginning() {
        let axis = axis(1.0, 100.0, 0.0, 200.0);
        let mark = |minutes: f64| TimeMark { name: None, minutes, fidelity_percent: None, kept_percent: 100.0 };
        assert_eq!((mark(0.0).on(&axis), mark(10.0).on(&axis), mark(101.0).on(&axis)), (Some(0.0), Some(100.0), None));
    }
}
