//! Target and blend on axes around a centre. Neighbours are alike: they come
//! from the same materials. The shape depends on that order; gaps are read
//! from the dumbbell.

use std::f64::consts::TAU;

use super::Chart;
use super::kit::WIDTH;
use super::kit::canvas::{Anchor, BODY, Canvas, SMALL, Stroke, Style};
use super::kit::colour::{GRID, HIGH, HUES, INK, NOW, PAPER, SHORT, SOFT};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::Scale;
use super::kit::words::{number, percent, signed, tick};
use super::profile::ProfileChart;
use crate::portable::Portable;

/// The chart of one blend or of several.
#[derive(Clone, Copy, Debug)]
pub struct Radar<'a>(pub &'a ProfileChart);

/// Pixels from the centre to the end of the axes.
const RADIUS: f64 = 250.0;
/// With more axes than this, names are turned along them.
const UPRIGHT: usize = 18;

/// How alike two descriptors are, 0 to 1: the cosine of what the materials
/// bring to them.
fn likeness(one: &[f64], other: &[f64]) -> f64 {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let norm = (dot(one, one) * dot(other, other)).sqrt();
    if norm > 0.0 { dot(one, other) / norm } else { 0.0 }
}

/// Descriptors in a round in which neighbours are alike: from the largest
/// target the likest next, then turning stretches round while that helps.
pub fn round(chart: &ProfileChart) -> Vec<usize> {
    let count = chart.wanted.len();
    let brought: Vec<Vec<f64>> = (0..count)
        .map(|d| chart.blends.iter().flat_map(|blend| blend.parts.iter().map(move |part| part.brings[d])).collect())
        .collect();
    let table: Vec<Vec<f64>> =
        brought.iter().map(|one| brought.iter().map(|other| likeness(one, other)).collect()).collect();
    let alike = |a: usize, b: usize| table[a][b];
    let first = (0..count).max_by(|&a, &b| chart.wanted[a].target.total_cmp(&chart.wanted[b].target).then(b.cmp(&a)));
    let mut order: Vec<usize> = first.into_iter().collect();
    while let Some(&last) = order.last() {
        let rest = (0..count).filter(|d| !order.contains(d));
        let Some(next) = rest.max_by(|&a, &b| alike(last, a).total_cmp(&alike(last, b)).then(b.cmp(&a))) else { break };
        order.push(next);
    }
    // 2-opt on a round of few stops ends soon; the bound is for safety.
    for _ in 0..count {
        let mut better = false;
        for from in 1..count {
            for to in from + 1..count {
                let (before, after) = (order[from - 1], order[(to + 1) % count]);
                let gain = alike(before, order[to]) + alike(order[from], after)
                    - alike(before, order[from])
                    - alike(order[to], after);
                if gain > 1e-9 {
                    order[from..=to].reverse();
                    better = true;
                }
            }
        }
        if !better {
            break;
        }
    }
    order
}

impl Chart for Radar<'_> {
    fn name(&self) -> &'static str {
        "radar"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let chart = self.0;
        if chart.wanted.len() < 3 {
            // One or two axes span nothing.
            return super::dumbbell::Dumbbell(chart).draw(canvas);
        }
        let top = frame::head(canvas, &chart.finding(), &self.subtitle(), &chart.description());
        let order = round(chart);
        let upright = order.len() <= UPRIGHT;
        let (above, below) = if upright { (56.0, 56.0) } else { self.room(&order) };
        let centre = (WIDTH / 2.0, top + above + RADIUS);
        let scale = Scale::rounded(0.0, chart.most(), 0.0, RADIUS, 5);
        let at = |axis: usize, value: f64| {
            let angle = TAU * axis as f64 / order.len().max(1) as f64;
            (centre.0 + scale.px(value) * angle.sine(), centre.1 - scale.px(value) * angle.cosine())
        };
        self.web(canvas, &order, &scale, &at);
        let outline = |values: &dyn Fn(usize) -> f64| -> Vec<(f64, f64)> {
            order.iter().enumerate().map(|(axis, &descriptor)| at(axis, values(descriptor))).collect()
        };
        if chart.blends.len() == 1 {
            canvas.polygon(&outline(&|d| chart.blends[0].scores[d]), HUES[3], 0.4);
        }
        canvas.ring(&outline(&|d| chart.wanted[d].target), Stroke::dashed(INK, 1.6));
        for (blend, hue) in chart.blends.iter().zip(HUES) {
            canvas.group("blend", &[("name", &blend.name)], &blend.name, |canvas| {
                canvas.ring(&outline(&|d| blend.scores[d]), Stroke::new(hue, 2.2));
            });
        }
        for value in scale.ticks(5).into_iter().filter(|&value| value > 0.0) {
            let (x, y) = at(0, value);
            canvas.text(x - 6.0, y + 4.0, &tick(value), SMALL.size(11.5).end().halo());
        }
        for (axis, &descriptor) in order.iter().enumerate() {
            self.axis(canvas, axis, order.len(), descriptor, &at, scale.to);
        }
        let note = "Neighbours come from the same materials. The shape depends on the order of the axes: read gaps from \
                    the dumbbell chart.";
        frame::foot(canvas, centre.1 + RADIUS + below + 24.0, note);
    }
}

impl Radar<'_> {
    fn subtitle(&self) -> Vec<Piece> {
        let chart = self.0;
        let mut pieces =
            vec![words(&format!("{}. Score on each descriptor:", chart.brief)), key(Mark::Dashes(INK), "target", INK)];
        if let [blend] = &chart.blends[..] {
            pieces.push(key(
                Mark::Line(NOW),
                &format!("blend, {} % match on paper", percent(blend.fidelity_percent)),
                NOW,
            ));
            let fits = tick(chart.tolerance());
            pieces.push(key(Mark::Disc(SHORT), &format!("more than {fits} too low"), SHORT));
            pieces.push(key(Mark::Disc(HIGH), "too high", HIGH));
        } else {
            for (blend, hue) in chart.blends.iter().zip(HUES) {
                pieces.push(key(
                    Mark::Line(hue),
                    &format!("{}, {} %", blend.name, percent(blend.fidelity_percent)),
                    INK,
                ));
            }
        }
        pieces
    }

    /// What turned names take above and below the axes, in pixels.
    fn room(&self, order: &[usize]) -> (f64, f64) {
        let style = BODY.size(13.0).bold();
        let (mut above, mut below) = (30.0_f64, 30.0_f64);
        for (axis, &descriptor) in order.iter().enumerate() {
            let wide = style.width(&self.label(descriptor)).min(170.0) + 18.0;
            let cos = (TAU * axis as f64 / order.len() as f64).cosine();
            let reach = (wide + RADIUS) * cos.abs() - RADIUS;
            if cos > 0.0 { above = above.max(reach) } else { below = below.max(reach) }
        }
        (above, below)
    }

    fn web(&self, canvas: &mut Canvas, order: &[usize], scale: &Scale, at: &dyn Fn(usize, f64) -> (f64, f64)) {
        for value in scale.ticks(5).into_iter().filter(|&value| value > 0.0) {
            let corners: Vec<(f64, f64)> = (0..order.len()).map(|axis| at(axis, value)).collect();
            canvas.ring(&corners, Stroke::new(GRID, 1.0));
        }
        for axis in 0..order.len() {
            canvas.line(at(axis, 0.0), at(axis, scale.to), Stroke::new(GRID, 1.0));
        }
    }

    /// Name and, where it wants attention, gap on one line.
    fn label(&self, descriptor: usize) -> String {
        let wanted = &self.0.wanted[descriptor];
        match &self.0.blends[..] {
            [_] if self.0.verdict(self.0.gap(0, descriptor)) != 0 => {
                format!("{} {}", wanted.descriptor, signed(self.0.gap(0, descriptor), 1))
            }
            _ => wanted.descriptor.clone(),
        }
    }

    fn axis(
        &self,
        canvas: &mut Canvas,
        axis: usize,
        axes: usize,
        descriptor: usize,
        at: &dyn Fn(usize, f64) -> (f64, f64),
        end: f64,
    ) {
        let chart = self.0;
        let wanted = &chart.wanted[descriptor];
        let single = (chart.blends.len() == 1).then(|| chart.gap(0, descriptor));
        let verdict = single.map_or(0, |gap| chart.verdict(gap));
        let colour = match verdict {
            -1 => SHORT,
            1 => HIGH,
            _ => INK,
        };
        let scores: Vec<String> =
            chart.blends.iter().map(|blend| crate::number::plain(blend.scores[descriptor])).collect();
        let target = crate::number::plain(wanted.target);
        let data = [("descriptor", wanted.descriptor.as_str()), ("target", &target), ("blend", &scores.join(" "))];
        let tip = format!("{}: target {}, blend {}", wanted.descriptor, number(wanted.target, 2), scores.join(", "));
        canvas.group("axis", &data, &tip, |canvas| {
            for (blend, hue) in chart.blends.iter().zip(HUES) {
                let radius = if verdict == 0 { 3.6 } else { 6.0 };
                let fill = if verdict == 0 { hue } else { colour };
                canvas.disc(at(axis, blend.scores[descriptor]), radius, fill, Stroke::new(PAPER, 1.2));
            }
            let turn = axis as f64 / axes.max(1) as f64;
            let (x, y) = at(axis, end);
            let (sin, cos) = (TAU * turn).sin_cos();
            let style = BODY.colour(colour);
            let style = if verdict == 0 { style } else { style.bold() };
            if axes > UPRIGHT {
                turned(canvas, (x + 10.0 * sin, y - 10.0 * cos), turn, &self.label(descriptor), style.size(13.0));
            } else {
                let figures = single.map(|gap| {
                    let gap = if verdict == 0 { String::new() } else { format!(" ({})", signed(gap, 1)) };
                    let score = chart.blends[0].scores[descriptor];
                    format!("{} of {}{gap}", number(score, 1), number(wanted.target, 1))
                });
                let small = SMALL.colour(if verdict == 0 { SOFT } else { colour });
                upright(
                    canvas,
                    (x + 16.0 * sin, y - 16.0 * cos),
                    (sin, cos),
                    (&wanted.descriptor, style),
                    (figures, small),
                );
            }
        });
    }
}

/// A name with its figures under it, beside the end of an axis.
fn upright(
    canvas: &mut Canvas,
    (x, y): (f64, f64),
    (sin, cos): (f64, f64),
    (name, style): (&str, Style),
    (figures, small): (Option<String>, Style),
) {
    let anchor = if sin.abs() < 0.1 {
        Anchor::Middle
    } else if sin > 0.0 {
        Anchor::Start
    } else {
        Anchor::End
    };
    let high = if figures.is_some() { 32.0 } else { 14.0 };
    // The block stands above the axis at the top and below it at the foot.
    let top = y - high * (1.0 + cos) / 2.0;
    let name = style.shortened(name, 190.0);
    canvas.text(x, top + 12.0, &name, Style { anchor, ..style });
    if let Some(figures) = figures {
        canvas.text(x, top + 28.0, &figures, Style { anchor, ..small });
    }
}

/// A name along its axis, never upside down.
fn turned(canvas: &mut Canvas, (x, y): (f64, f64), turn: f64, name: &str, style: Style) {
    let name = style.shortened(name, 170.0);
    let degrees = turn * 360.0 - 90.0;
    let (degrees, anchor) = if turn > 0.5 { (degrees - 180.0, Anchor::End) } else { (degrees, Anchor::Start) };
    // Half the height of small letters, so that the axis meets their middle.
    let (sin, cos) = degrees.to_radians().sin_cos();
    let drop = style.size * 0.35;
    canvas.text(x - drop * sin, y + drop * cos, &name, Style { anchor, turn: degrees, ..style });
}

#[cfg(test)]
mod tests {
    use super::super::profile::Part;
    use super::super::profile::tests::with_gaps;
    use super::*;

    #[test]
    fn neighbours_are_alike() {
        let mut chart = with_gaps(&[&[1.0, 0.0, 0.0, 0.0]]);
        chart.wanted[0].target = 5.0;
        // The first and the third come from one material, the others from
        // another; the last leans to the first.
        let part = |material: &str, brings: [f64; 4]| Part {
            material: material.to_owned(),
            dose_ppt: 500.0,
            unusual: None,
            brings: brings.to_vec(),
        };
        chart.blends[0].parts = vec![part("a", [3.0, 0.0, 2.0, 1.0]), part("b", [0.0, 2.0, 0.0, 2.0])];
        let order = round(&chart);
        assert_eq!(order[0], 0);
        let place = |d: usize| order.iter().position(|&other| other == d).unwrap() as i32;
        let apart = |a: usize, b: usize| ((place(a) - place(b)).rem_euclid(4)).min((place(b) - place(a)).rem_euclid(4));
        assert_eq!((apart(0, 2), apart(1, 3)), (1, 1), "{order:?}");
    }
}
