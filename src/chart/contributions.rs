//! What each material brings to each descriptor: stacked bars.

use super::Chart;
use super::dumbbell::row_of;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{GRID, HIGH, HUES, INK, OTHERS, PAPER, SHORT, ink_on};
use super::kit::frame::{self, Mark};
use super::kit::scale::Scale;
use super::kit::words::{brief, count, dose, list, number, percent, sentence, signed, tick};
use super::kit::{MARGIN, WIDTH};
use super::profile::{Blend, Part, ProfileChart};
use crate::portable::Portable;

/// The chart of the first blend.
#[derive(Clone, Copy, Debug)]
pub struct Contributions<'a>(pub &'a ProfileChart);

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 220.0;
/// Fewer score points than this are not drawn.
const NOTHING: f64 = 0.005;
/// A dose in ppt that is small for what it does.
const SMALL_DOSE: f64 = 60.0;

/// Materials by what they bring over all descriptors, the most first.
fn by_weight(blend: &Blend) -> Vec<&Part> {
    let mut parts: Vec<&Part> = blend.parts.iter().collect();
    let total = |part: &Part| part.brings.iter().sum::<f64>();
    parts.sort_by(|a, b| total(b).total_cmp(&total(a)).then_with(|| a.material.cmp(&b.material)));
    parts
}

/// How a group of materials is drawn: the parts, and their colour.
struct Band<'a> {
    parts: Vec<&'a Part>,
    fill: &'static str,
}

impl Band<'_> {
    fn name(&self, longest: usize) -> String {
        match &self.parts[..] {
            [part] => part.material.clone(),
            parts => count(parts.len().min(longest), "other", "others"),
        }
    }
}

fn bands(blend: &Blend) -> Vec<Band<'_>> {
    let parts = by_weight(blend);
    let mut bands: Vec<Band> =
        parts.iter().take(HUES.len()).zip(HUES).map(|(&part, fill)| Band { parts: vec![part], fill }).collect();
    if parts.len() > HUES.len() {
        bands.push(Band { parts: parts[HUES.len()..].to_vec(), fill: OTHERS });
    }
    bands
}

impl Contributions<'_> {
    /// The small dose that does the most, or who carries the most.
    fn finding(&self) -> String {
        let Some(blend) = self.0.blends.first() else { return "Nothing to show".to_owned() };
        if let [only] = &blend.parts[..] {
            return format!("{} alone brings every note", brief(&only.material));
        }
        let share = |part: &Part, at: usize| {
            if blend.scores[at] > 0.0 { part.brings[at] / blend.scores[at] } else { 0.0 }
        };
        let pairs = || blend.parts.iter().flat_map(|part| (0..self.0.wanted.len()).map(move |at| (part, at)));
        // What a trace does is news; half of a note, and enough of it to smell.
        let traces = pairs().filter(|&(part, at)| {
            part.dose_ppt <= SMALL_DOSE && share(part, at) >= 0.4 && part.brings[at] >= self.0.tolerance()
        });
        let most = |a: &(&Part, usize), b: &(&Part, usize)| {
            let key = |&(part, at): &(&Part, usize)| {
                share(part, at) * part.brings[at].sqrt() / part.dose_ppt.max(1e-6).power(0.1)
            };
            key(a).total_cmp(&key(b))
        };
        let carried = || pairs().max_by(|a, b| a.0.brings[a.1].total_cmp(&b.0.brings[b.1]));
        let Some((part, at)) = traces.max_by(most).or_else(carried) else {
            return "No material brings anything".to_owned();
        };
        sentence(&format!(
            "{} ‰ of {} brings {} % of the {} note",
            dose(part.dose_ppt),
            brief(&part.material),
            number(100.0 * share(part, at), 0),
            brief(&self.0.wanted[at].descriptor)
        ))
    }

    fn description(&self, blend: &Blend) -> String {
        let of = |part: &Part| {
            let most = (0..self.0.wanted.len()).max_by(|&a, &b| part.brings[a].total_cmp(&part.brings[b]));
            let what = most.map(|at| format!(", most of it {}", self.0.wanted[at].descriptor)).unwrap_or_default();
            let total: f64 = part.brings.iter().sum();
            let (amount, unusual) = (dose(part.dose_ppt), part.unusual_words());
            format!("{}, {amount} ‰{unusual}: {} points{what}", part.material, number(total, 2))
        };
        by_weight(blend).into_iter().map(of).collect::<Vec<_>>().join(". ")
    }
}

impl Chart for Contributions<'_> {
    fn name(&self) -> &'static str {
        "contributions"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let chart = self.0;
        let title = self.finding();
        let Some(blend) = chart.blends.first() else {
            let y = frame::head(canvas, &title, &[], &title);
            return frame::foot(canvas, y, "");
        };
        let subtitle = format!(
            "{}, {} % match on paper: each descriptor’s score by the materials it comes from.",
            chart.brief,
            percent(blend.fidelity_percent)
        );
        let subtitle = [frame::words(&subtitle), frame::key(Mark::Tick, "target", INK)];
        let top = frame::head(canvas, &title, &subtitle, &self.description(blend));
        let bands = bands(blend);
        let top = legend(canvas, &bands, top + 6.0);
        self.rows(canvas, blend, &bands, top);
    }
}

/// Names, doses and colours, in as many lines as they need.
fn legend(canvas: &mut Canvas, bands: &[Band], top: f64) -> f64 {
    let (mut x, mut y) = (MARGIN, top + 8.0);
    for band in bands {
        let name = BODY.shortened(&band.name(usize::MAX), 260.0);
        let under = match &band.parts[..] {
            [part] => format!("{} ‰{}", dose(part.dose_ppt), part.unusual_words()),
            parts => format!("{} ‰", dose(parts.iter().map(|part| part.dose_ppt).sum())),
        };
        let width = 18.0 + BODY.width(&name).max(SMALL.width(&under));
        if x + width > WIDTH - MARGIN && x > MARGIN {
            (x, y) = (MARGIN, y + 42.0);
        }
        canvas.group("key", &[("material", &name), ("dose", &under)], "", |canvas| {
            frame::draw(canvas, Mark::Square(band.fill), x, y - 5.0);
            canvas.text(x + 18.0, y, &name, BODY);
            canvas.text(x + 18.0, y + 16.0, &under, SMALL);
        });
        x += width + 20.0;
    }
    y + 34.0
}

impl Contributions<'_> {
    fn rows(&self, canvas: &mut Canvas, blend: &Blend, bands: &[Band], top: f64) {
        let chart = self.0;
        let is_there = |d: &usize| chart.wanted[*d].target.abs() >= NOTHING || blend.scores[*d].abs() >= NOTHING;
        let (mut order, idle): (Vec<usize>, Vec<usize>) = (0..chart.wanted.len()).partition(is_there);
        order.sort_by(|&a, &b| blend.scores[b].total_cmp(&blend.scores[a]).then(a.cmp(&b)));
        let (height, size) = row_of(order.len());
        let label = BODY.size(size);
        let widest = order.iter().map(|&d| label.width(&chart.wanted[d].descriptor)).fold(30.0, f64::max);
        let left = MARGIN + widest.min(NAMES) + 14.0;
        let scale = Scale::rounded(0.0, chart.axis_end(), left, WIDTH - MARGIN - 104.0, 5);
        let bottom = top + height * order.len() as f64;
        for value in scale.ticks(5) {
            let x = scale.px(value);
            canvas.line((x, top - 4.0), (x, bottom + 4.0), Stroke::new(GRID, 1.0));
            canvas.text(x, bottom + 20.0, &tick(value), SMALL.middle());
        }
        canvas.text(left - 14.0, bottom + 20.0, "score", SMALL.end());
        for (at, &descriptor) in order.iter().enumerate() {
            let y = top + height * (at as f64 + 0.5);
            let wanted = &chart.wanted[descriptor];
            let name = label.shortened(&wanted.descriptor, NAMES);
            canvas.text(left - 14.0, y + size * 0.35, &name, label.end());
            let high = height * 0.68;
            let target = scale.px(wanted.target);
            let mut from = 0.0;
            for band in bands {
                let points: f64 = band.parts.iter().map(|part| part.brings[descriptor]).sum();
                if points > 0.0 {
                    self.segment(
                        canvas,
                        band,
                        descriptor,
                        points,
                        (scale.px(from), scale.px(from + points)),
                        (y, high, size, target),
                    );
                }
                from += points;
            }
            canvas.rect(target - 1.4, y - high / 2.0 - 4.0, 2.8, high + 8.0, INK, 1.0);
            let gap = chart.gap(0, descriptor);
            let (word, colour) = match chart.verdict(gap) {
                -1 => ("short", SHORT),
                1 => ("over", HIGH),
                _ => continue,
            };
            let end = target.max(scale.px(blend.scores[descriptor])) + 9.0;
            let style = label.size(size - 0.5).bold().colour(colour).halo();
            canvas.text(end, y + size * 0.35, &format!("{word} {}", signed(gap, 1)), style);
        }
        let idle: Vec<String> = idle.into_iter().map(|d| chart.wanted[d].descriptor.clone()).collect();
        let rest =
            if idle.is_empty() { String::new() } else { format!(" Neither wanted nor there: {}.", list(&idle, 12)) };
        let note =
            "A contribution is the material’s odour share times its score. Materials in the order of what they bring.";
        frame::foot(canvas, bottom + 54.0, &format!("{note}{rest}"));
    }

    fn segment(
        &self,
        canvas: &mut Canvas,
        band: &Band,
        descriptor: usize,
        points: f64,
        (from, to): (f64, f64),
        (y, high, size, target): (f64, f64, f64, f64),
    ) {
        let (name, word) = (band.name(usize::MAX), &self.0.wanted[descriptor].descriptor);
        let value = crate::number::plain(points);
        let data = [("material", name.as_str()), ("descriptor", word), ("points", &value)];
        canvas.group("part", &data, &format!("{name}: {} points of {word}", number(points, 2)), |canvas| {
            canvas.rect(from, y - high / 2.0, to - from, high, band.fill, 1.0);
            // A seam of paper, so that neighbours are told apart by more than
            // their colour.
            canvas.rect(to - 1.0, y - high / 2.0, 1.0, high, PAPER, 1.0);
            let text = number(points, 1);
            let style = SMALL.size(size - 1.5).colour(ink_on(band.fill)).middle();
            let half = style.width(&text) / 2.0 + 3.0;
            let is_struck = (target - (from + to) / 2.0).abs() < half + 1.0;
            if to - from > 2.0 * half && !is_struck {
                canvas.text((from + to) / 2.0 - 0.5, y + size * 0.32, &text, style);
            }
        });
    }
}
