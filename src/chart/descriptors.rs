//! What a formula smells of while it dries: a panel for each descriptor that is wanted, with
//! what is wanted at each stage as a tick.

use super::Chart;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, CALM, GRID, HIGH, INK, NOW, PAPER, SHORT, SOFT};
use super::kit::frame::{self, Mark, key, words};
use super::kit::scale::Scale;
use super::kit::time::{self, TimeMark};
use super::kit::words::{brief, count, list, number, sentence, signed, tick};
use super::kit::{MARGIN, WIDTH};
use super::profile::{Blend, ProfileChart, Wanted, colour_of, round_up, tolerance_of, verdict_of};

/// A descriptor over time.
#[derive(Clone, Debug, PartialEq)]
pub struct DescriptorLine {
    /// The word.
    pub descriptor: String,
    /// Points of what is left at each of the chart's times; none where it does not count then.
    pub blend: Vec<Option<f64>>,
    /// Points that are wanted at each of the ticks; none likewise.
    pub wanted: Vec<Option<f64>>,
}

/// When something is wanted.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// The stage; none where the brief has none.
    pub name: Option<String>,
    /// Minutes after dipping, 0 or more; none where it is wanted throughout.
    pub minutes: Option<f64>,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct DescriptorsChart {
    /// What the formula is called.
    pub formula: String,
    /// Minutes after dipping, rising, above 0.
    pub minutes: Vec<f64>,
    /// The descriptors that count.
    pub lines: Vec<DescriptorLine>,
    /// When they are wanted, rising.
    pub ticks: Vec<Tick>,
    /// The times that were asked about, rising.
    pub marks: Vec<TimeMark>,
    /// The view that it is told in, where there are others.
    pub view: Option<String>,
    /// Whether shares of the profile are compared, so that its points add up to what is
    /// wanted.
    pub is_balance: bool,
}

/// Panels at the most, that of the off-notes among them.
const MOST: usize = 15;
/// Panels beside each other, and the space between them in pixels.
const COLUMNS: usize = 3;
const BETWEEN: f64 = 34.0;
/// Left of the first panel stand the scores.
const SCORES: f64 = 24.0;
/// Height of a panel's words and of its plot in pixels, and the space below it.
const WORDS: f64 = 38.0;
const HEIGHT: f64 = 78.0;
const BELOW: f64 = 20.0;
/// Half the length of a tick in pixels.
const HALF: f64 = 10.0;
/// Points below which an off-note is not named.
const HEARD: f64 = 0.05;
/// The least extent of a panel's scores, in gaps that still fit.
const SPAN: f64 = 8.0;

/// A descriptor at a tick: where, what is wanted and what is there.
struct Met {
    minutes: f64,
    wanted: f64,
    blend: f64,
}

impl Met {
    fn gap(&self) -> f64 {
        self.blend - self.wanted
    }
}

impl DescriptorsChart {
    /// The number of the chart's time at or after so many minutes; none beyond the last.
    fn at(&self, minutes: f64) -> Option<usize> {
        let at = self.minutes.partition_point(|it| *it < minutes * (1.0 - 1e-9));
        (at < self.minutes.len()).then_some(at)
    }

    /// When a tick is held against the formula: where it is wanted throughout, at every time
    /// that was asked about and has something to smell.
    fn times(&self, tick: &Tick) -> Vec<f64> {
        let asked = || self.marks.iter().filter(|mark| mark.fidelity_percent.is_some()).map(|mark| mark.minutes);
        tick.minutes.map_or_else(|| asked().collect(), |minutes| vec![minutes])
    }

    /// A descriptor where something is wanted of it and something is left.
    fn met(&self, line: &DescriptorLine) -> Vec<Met> {
        let of_tick = |(tick, wanted): (&Tick, &Option<f64>)| {
            let wanted = *wanted;
            self.times(tick).into_iter().filter_map(move |minutes| Some((minutes, wanted?))).collect::<Vec<_>>()
        };
        let met = |(minutes, wanted): (f64, f64)| {
            Some(Met { minutes, wanted, blend: (*line.blend.get(self.at(minutes)?)?)? })
        };
        self.ticks.iter().zip(&line.wanted).flat_map(of_tick).filter_map(met).collect()
    }

    /// The descriptors that are wanted at some time, the one that is missed most at any stage
    /// first; and the others, the loudest first.
    fn parted(&self) -> (Vec<&DescriptorLine>, Vec<&DescriptorLine>) {
        let is_wanted = |line: &&DescriptorLine| line.wanted.iter().flatten().any(|wanted| *wanted > 0.0);
        let (mut wanted, mut off): (Vec<&DescriptorLine>, Vec<&DescriptorLine>) =
            self.lines.iter().partition(is_wanted);
        let missed = |line: &DescriptorLine| self.met(line).iter().map(|met| met.gap().abs()).fold(0.0, f64::max);
        wanted.sort_by(|a, b| missed(b).total_cmp(&missed(a)));
        off.retain(|line| loudest(line) >= HEARD);
        off.sort_by(|a, b| loudest(b).total_cmp(&loudest(a)));
        (wanted, off)
    }

    /// The largest of all points.
    fn most(&self) -> f64 {
        let points = self.lines.iter().flat_map(|line| line.blend.iter().chain(&line.wanted).flatten());
        points.copied().fold(1.0, f64::max)
    }

    /// What is missed at the last time at which something is wanted and left.
    fn finding(&self) -> String {
        let last = self.ticks.iter().flat_map(|tick| self.times(tick)).filter(|it| self.at(*it).is_some());
        let Some(last) = last.reduce(f64::max) else { return "Nothing is left to smell".to_owned() };
        let there: Vec<(&DescriptorLine, Met)> = (self.lines.iter())
            .filter_map(|line| Some((line, self.met(line).into_iter().find(|met| met.minutes == last)?)))
            .collect();
        let wanted =
            |(line, met): &(&DescriptorLine, Met)| Wanted { descriptor: line.descriptor.clone(), target: met.wanted };
        let scores: Vec<f64> = there.iter().map(|(_, met)| met.blend).collect();
        let blend = Blend {
            name: String::new(),
            fidelity_percent: 0.0,
            ranges: vec![None; scores.len()],
            scores,
            parts: Vec::new(),
        };
        let profile = ProfileChart {
            brief: String::new(),
            wanted: there.iter().map(wanted).collect(),
            blends: vec![blend],
            told: None,
        };
        let found = profile.finding();
        let mut letters = found.chars();
        let small = letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect());
        sentence(&format!("{}: {small}", brief(&self.called(last))))
    }

    /// What a time is called.
    fn called(&self, minutes: f64) -> String {
        let named = self.ticks.iter().find(|tick| tick.minutes == Some(minutes)).and_then(|tick| tick.name.clone());
        TimeMark { name: named, minutes, fidelity_percent: None, kept_percent: 0.0 }.called()
    }

    fn description(&self) -> String {
        let (wanted, off) = self.parted();
        let of = |line: &&DescriptorLine| {
            let met = |met: Met| {
                format!("{} of {} wanted at {}", number(met.blend, 2), number(met.wanted, 2), self.called(met.minutes))
            };
            let all: Vec<String> = self.met(line).into_iter().map(met).collect();
            format!("{}: {}", line.descriptor, all.join(", "))
        };
        let mut all: Vec<String> = wanted.iter().map(of).collect();
        all.extend(
            off.iter().map(|line| format!("{}: not wanted, at most {}", line.descriptor, number(loudest(line), 2))),
        );
        all.join("; ")
    }
}

/// The most that a descriptor comes to.
fn loudest(line: &DescriptorLine) -> f64 {
    line.blend.iter().flatten().copied().fold(0.0, f64::max)
}

/// The most of what is there and what is wanted.
fn highest(line: &DescriptorLine) -> f64 {
    line.wanted.iter().flatten().copied().fold(loudest(line), f64::max)
}

impl Chart for DescriptorsChart {
    fn name(&self) -> &'static str {
        "descriptors"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let (wanted, off) = self.parted();
        let seen = self.view.as_ref().map_or_else(String::new, |view| format!(" In the view {view}."));
        let mut pieces = vec![
            words(&format!(
                "{}: points of what is left on a blotter. The largest gap at a stage first.{seen}",
                self.formula
            )),
            key(Mark::Line(NOW), "what is left", NOW),
            key(Mark::Line(INK), "wanted", INK),
            key(Mark::Disc(SHORT), "too little", SHORT),
            key(Mark::Disc(HIGH), "too much", HIGH),
        ];
        if !off.is_empty() {
            pieces.push(key(Mark::Line(CALM), "not wanted", SOFT));
        }
        let top = frame::head(canvas, &self.finding(), &pieces, &self.description());
        let (Some(&from), Some(&to)) = (self.minutes.first(), self.minutes.last()) else {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        };
        let room = MOST - usize::from(!off.is_empty());
        let (shown, further) = wanted.split_at(wanted.len().min(room));
        let panels = shown.len() + usize::from(!off.is_empty());
        let columns = panels.clamp(1, COLUMNS);
        let wide = (WIDTH - 2.0 * MARGIN - SCORES - BETWEEN * (columns - 1) as f64) / columns as f64;
        let names = self.names(columns, wide, (from, to));
        let first = top + 14.0 + 16.0 * names as f64;
        let tolerance = tolerance_of(self.most());
        let sheet = Sheet { chart: self, tolerance };
        // Below that a panel would make mountains of what fits.
        let least = SPAN * tolerance;
        for at in 0..panels {
            let (column, row) = (at % columns, at / columns);
            let left = MARGIN + SCORES + (wide + BETWEEN) * column as f64;
            let y = first + (WORDS + HEIGHT + BELOW) * row as f64;
            let most = match shown.get(at) {
                Some(line) => highest(line),
                None => off.iter().map(|line| loudest(line)).fold(0.0, f64::max),
            };
            let place = Place {
                x: time::axis(from, to, left, left + wide),
                y: Scale::linear(0.0, round_up(most.max(least)), y + WORDS + HEIGHT, y + WORDS),
            };
            if row == 0 {
                self.named(canvas, &place.x, y - 4.0);
            }
            sheet.rungs(canvas, &place);
            match shown.get(at) {
                Some(line) => sheet.panel(canvas, &place, line),
                None => sheet.off(canvas, &place, &off),
            }
            // Below the last panel of a column.
            if at + columns >= panels {
                time::floor(canvas, &place.x, place.y.start);
            }
        }
        let rows = panels.div_ceil(columns);
        let bottom = first + (WORDS + HEIGHT + BELOW) * rows as f64;
        frame::foot(canvas, bottom + 26.0, &self.notes(further.len()));
    }
}

impl DescriptorsChart {
    /// The rows that the names of the stages take above a column.
    fn names(&self, columns: usize, wide: f64, (from, to): (f64, f64)) -> usize {
        debug_assert!(columns > 0, "there is a panel");
        let placed = self.placed(&time::axis(from, to, 0.0, wide));
        placed.iter().map(|(.., row)| row + 1).max().unwrap_or(0)
    }

    /// The names of the stages: each with its left edge and its row.
    fn placed(&self, x: &Scale) -> Vec<(String, f64, usize)> {
        let name = |tick: &Tick| Some((tick.name.clone()?, TimeMark::at(tick.minutes?).on(x)?));
        let names: Vec<(String, f64)> = self.ticks.iter().filter_map(name).collect();
        let most = 0.6 * (x.end - x.start);
        let shortened: Vec<String> = names.iter().map(|(name, _)| SMALL.shortened(name, most)).collect();
        let labels: Vec<(f64, f64)> =
            shortened.iter().zip(&names).map(|(name, (_, at))| (*at, SMALL.width(name))).collect();
        let places = time::rows(&labels, x.start, x.end);
        shortened.into_iter().zip(places).map(|(name, (left, row))| (name, left, row)).collect()
    }

    fn named(&self, canvas: &mut Canvas, x: &Scale, y: f64) {
        for (name, left, row) in self.placed(x) {
            canvas.text(left, y - 16.0 * row as f64, &name, SMALL);
        }
    }

    fn notes(&self, further: usize) -> String {
        let mut notes = vec!["Figures: what is left less what is wanted. Each panel has its own scale.".to_owned()];
        if self.is_balance {
            let times = if self.ticks.len() > 1 { " at each stage" } else { "" };
            notes.push(format!("The points add up to what is wanted{times}: shares of the profile are compared."));
        }
        if further > 0 {
            notes.push(format!(
                "{}, missed by less, are not drawn.",
                count(further, "more descriptor", "more descriptors")
            ));
        }
        notes.push("An ideal film in still air at 25 °C; a blotter is no skin.".to_owned());
        notes.join(" ")
    }
}

/// The axes of a panel.
struct Place {
    x: Scale,
    y: Scale,
}

/// What all panels share.
struct Sheet<'a> {
    chart: &'a DescriptorsChart,
    tolerance: f64,
}

impl Sheet<'_> {
    /// Lines at nothing, half and the end of the scores, with their figures.
    fn rungs(&self, canvas: &mut Canvas, place: &Place) {
        let end = place.y.to;
        for score in [0.0, end / 2.0, end] {
            let y = place.y.px(score);
            canvas.line((place.x.start, y), (place.x.end, y), Stroke::new(GRID, 1.0));
            if score != end / 2.0 {
                canvas.text(place.x.start - 8.0, y + 4.0, &tick(score), SMALL.end());
            }
        }
        for mark in self.chart.ticks.iter().filter_map(|tick| TimeMark::at(tick.minutes?).on(&place.x)) {
            canvas.line((mark, place.y.end), (mark, place.y.start), Stroke::new(AXIS, 0.8));
        }
    }

    /// A line through what is there, broken where nothing is said.
    fn curve(&self, canvas: &mut Canvas, place: &Place, line: &DescriptorLine, stroke: Stroke) {
        let mut run: Vec<(f64, f64)> = Vec::new();
        for (minutes, blend) in self.chart.minutes.iter().zip(&line.blend) {
            match blend {
                Some(blend) => run.push((place.x.px(*minutes), place.y.px(*blend))),
                None => canvas.path(&std::mem::take(&mut run), stroke),
            }
        }
        canvas.path(&run, stroke);
    }

    fn panel(&self, canvas: &mut Canvas, place: &Place, line: &DescriptorLine) {
        let met = self.chart.met(line);
        let figures = |of: &dyn Fn(&Met) -> f64| -> String {
            met.iter().map(|met| crate::number::plain(of(met))).collect::<Vec<_>>().join(" ")
        };
        let (wanted, blend) = (figures(&|met| met.wanted), figures(&|met| met.blend));
        let data = [("descriptor", line.descriptor.as_str()), ("target", &wanted), ("blend", &blend)];
        canvas.group("panel", &data, &self.tip(line, &met), |canvas| {
            let (left, right, top) = (place.x.start, place.x.end, place.y.end);
            canvas.touch(left, top - WORDS + 6.0, right - left, WORDS + HEIGHT - 6.0);
            canvas.text(left, top - 22.0, &BODY.bold().shortened(&line.descriptor, right - left), BODY.bold());
            self.wanted(canvas, place, line);
            self.curve(canvas, place, line, Stroke::new(NOW, 2.2));
            let mut free = f64::INFINITY;
            for met in met.iter().rev() {
                let Some(x) = TimeMark::at(met.minutes).on(&place.x) else { continue };
                let verdict = verdict_of(met.gap(), self.tolerance);
                let (colour, y) = (colour_of(verdict), place.y.px(met.blend));
                let other = place.y.px(met.wanted);
                canvas.rect(x - 1.75, y.min(other), 3.5, (y - other).abs(), colour, 0.6);
                canvas.disc((x, y), 4.0, if verdict == 0 { NOW } else { colour }, Stroke::new(PAPER, 1.0));
                let figure = signed(met.gap(), 1);
                let style = if verdict == 0 { SMALL.colour(SOFT) } else { SMALL.bold().colour(colour) };
                let wide = style.width(&figure);
                let at = (x - wide / 2.0).clamp(left, right - wide);
                if at + wide <= free {
                    canvas.text(at, top - 6.0, &figure, style);
                    free = at - 6.0;
                }
            }
        });
    }

    /// What is wanted: a tick at each stage, a dashed line where it is wanted throughout.
    fn wanted(&self, canvas: &mut Canvas, place: &Place, line: &DescriptorLine) {
        for (tick, wanted) in self.chart.ticks.iter().zip(&line.wanted) {
            let Some(wanted) = wanted else { continue };
            let y = place.y.px(*wanted);
            match tick.minutes {
                None => canvas.line((place.x.start, y), (place.x.end, y), Stroke::dashed(INK, 1.6)),
                Some(minutes) => {
                    let Some(x) = TimeMark::at(minutes).on(&place.x) else { continue };
                    let ends = ((x - HALF).max(place.x.start - HALF / 2.0), (x + HALF).min(place.x.end + HALF / 2.0));
                    canvas.line((ends.0, y), (ends.1, y), Stroke::new(INK, 3.0));
                }
            }
        }
    }

    /// All that nobody asked for, in one panel.
    fn off(&self, canvas: &mut Canvas, place: &Place, off: &[&DescriptorLine]) {
        let said: Vec<String> =
            off.iter().map(|line| format!("{} {}", line.descriptor, number(loudest(line), 1))).collect();
        let tip = format!("Not wanted, at most: {}", said.join(", "));
        let names: Vec<&str> = off.iter().map(|line| line.descriptor.as_str()).collect();
        canvas.group("off-notes", &[("descriptors", &names.join(", "))], &tip, |canvas| {
            let (left, right, top) = (place.x.start, place.x.end, place.y.end);
            canvas.touch(left, top - WORDS + 6.0, right - left, WORDS + HEIGHT - 6.0);
            canvas.text(left, top - 22.0, &format!("{} not wanted", off.len()), BODY.colour(SOFT));
            let most = format!("at most {}", list(&said, 3));
            canvas.text(left, top - 6.0, &SMALL.shortened(&most, right - left), SMALL);
            for line in off {
                self.curve(canvas, place, line, Stroke::new(CALM, 1.3));
            }
        });
    }

    fn tip(&self, line: &DescriptorLine, met: &[Met]) -> String {
        let at = |met: &Met| {
            let (blend, wanted) = (number(met.blend, 2), number(met.wanted, 2));
            format!("{}: {blend} of {wanted} wanted", self.chart.called(met.minutes))
        };
        let all: Vec<String> = met.iter().map(at).collect();
        format!("{}; {}", line.descriptor, all.join("; "))
    }
}
