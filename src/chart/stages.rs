//! Target and blend stage by stage: a line for each descriptor, a column for each stage.

use super::Chart;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, CALM, GRID, HIGH, INK, PAPER, SHORT, SOFT};
use super::kit::frame::{self, Mark, key, words};
use super::kit::scale::Scale;
use super::kit::words::{brief, count, percent, sentence, signed, tick};
use super::kit::{MARGIN, WIDTH};
use super::profile::{ProfileChart, colour_of, round_up, tolerance_of, verdict_of};

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct StagesChart {
    /// What is drawn: the brief or the formula.
    pub title: String,
    /// What is left and wanted at each time, the earliest first, each with its one blend
    /// under the name of the stage. At most six stand side by side.
    pub stages: Vec<ProfileChart>,
    /// Names of times at which nothing is left to smell.
    pub gone: Vec<String>,
}

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 170.0;
/// Space between columns, and what figures take of one, in pixels.
const BETWEEN: f64 = 22.0;
const FIGURE: f64 = 42.0;
/// Height of a row in pixels.
const ROW: f64 = 25.0;
/// Rows at the most.
const MOST: usize = 30;

/// A descriptor at a stage: what is wanted and what is left.
type Pair = (f64, f64);

impl StagesChart {
    fn of(stage: &ProfileChart, descriptor: &str) -> Option<Pair> {
        let at = stage.wanted.iter().position(|wanted| wanted.descriptor == descriptor)?;
        Some((stage.wanted[at].target, stage.blends[0].scores[at]))
    }

    /// The largest of all points.
    fn most(&self) -> f64 {
        self.stages.iter().map(ProfileChart::most).fold(1.0, f64::max)
    }

    /// The descriptors that are wanted or missed at some stage, the one that is missed most
    /// first.
    fn rows(&self) -> Vec<&str> {
        let mut rows: Vec<(&str, f64)> = Vec::new();
        let fits = tolerance_of(self.most());
        for wanted in self.stages.iter().flat_map(|stage| &stage.wanted) {
            let name = wanted.descriptor.as_str();
            if rows.iter().any(|(it, _)| *it == name) {
                continue;
            }
            let pairs: Vec<Pair> = self.stages.iter().filter_map(|stage| StagesChart::of(stage, name)).collect();
            let gap = pairs.iter().map(|(target, blend)| (blend - target).abs()).fold(0.0, f64::max);
            if gap > fits || pairs.iter().any(|(target, _)| *target > 0.0) {
                rows.push((name, gap));
            }
        }
        rows.sort_by(|a, b| b.1.total_cmp(&a.1));
        rows.into_iter().map(|(name, _)| name).collect()
    }

    /// The stage that is missed most, and what it lacks.
    fn finding(&self) -> String {
        let fidelity = |stage: &&ProfileChart| stage.blends[0].fidelity_percent;
        let worst = self.stages.iter().reduce(|a, b| if fidelity(&b) < fidelity(&a) { b } else { a });
        let Some(worst) = worst else { return "Nothing is left to smell".to_owned() };
        let found = worst.finding();
        let mut letters = found.chars();
        let small: String =
            letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect());
        let name = brief(&worst.blends[0].name);
        let missed = if self.stages.len() > 1 { "is missed most" } else { "matches" };
        sentence(&format!("{name} {missed}, {} %: {small}", percent(fidelity(&worst))))
    }

    fn description(&self) -> String {
        let all: Vec<String> = self.stages.iter().map(ProfileChart::description).collect();
        all.join(" ")
    }
}

impl Chart for StagesChart {
    fn name(&self) -> &'static str {
        "stages"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let tolerance = tolerance_of(self.most());
        let fits = format!("within {}", tick(tolerance));
        let pieces = [
            words(&format!("{}: what is left at each time. The largest gap first:", self.title)),
            key(Mark::Ring, "target", INK),
            key(Mark::Disc(SHORT), "blend too low", SHORT),
            key(Mark::Disc(HIGH), "too high", HIGH),
            key(Mark::Disc(CALM), &fits, SOFT),
        ];
        let top = frame::head(canvas, &self.finding(), &pieces, &self.description());
        let all = self.rows();
        let (rows, further) = all.split_at(all.len().min(MOST));
        let widest = rows.iter().map(|name| BODY.bold().width(name)).fold(60.0, f64::max).min(NAMES);
        let start = MARGIN + widest + 18.0;
        let columns = self.stages.len().max(1) as f64;
        let wide = (WIDTH - MARGIN - start - BETWEEN * (columns - 1.0)) / columns;
        let first = top + 62.0;
        let bottom = first + ROW * rows.len() as f64;
        let end = round_up(self.most());
        for (at, stage) in self.stages.iter().enumerate() {
            let left = start + (wide + BETWEEN) * at as f64;
            let x = Scale::linear(0.0, end, left, left + wide - FIGURE);
            let head = BODY.bold();
            canvas.text(left, top + 12.0, &head.shortened(&stage.blends[0].name, wide), head);
            let matches = format!("match {} %", percent(stage.blends[0].fidelity_percent));
            canvas.text(left, top + 28.0, &SMALL.shortened(&matches, wide), SMALL);
            let most = if wide < 190.0 { 2 } else { 5 };
            for value in x.ticks(most) {
                canvas.line((x.px(value), first - 6.0), (x.px(value), bottom), Stroke::new(GRID, 1.0));
                canvas.text(x.px(value), first - 12.0, &tick(value), SMALL.middle());
            }
        }
        for (at, name) in rows.iter().enumerate() {
            let y = first + ROW * (at as f64 + 0.5);
            if at > 0 && at % 5 == 0 {
                canvas.line((MARGIN, y - ROW / 2.0), (WIDTH - MARGIN, y - ROW / 2.0), Stroke::new(AXIS, 0.6));
            }
            self.row(canvas, name, y, tolerance, &|column| {
                let left = start + (wide + BETWEEN) * column as f64;
                Scale::linear(0.0, end, left, left + wide - FIGURE)
            });
        }
        let mut notes = vec!["Figures: blend less target, on the scale of the scores.".to_owned()];
        if !self.gone.is_empty() {
            notes.push(format!("Nothing is left to smell at {}.", self.gone.join(" and ")));
        }
        if !further.is_empty() {
            let more = count(further.len(), "more descriptor", "more descriptors");
            notes.push(format!("{more}, missed by less, are not drawn."));
        }
        notes.push("An ideal film in still air at 25 °C; a blotter is no skin.".to_owned());
        frame::foot(canvas, bottom + 28.0, &notes.join(" "));
    }
}

impl StagesChart {
    fn row(&self, canvas: &mut Canvas, name: &str, y: f64, tolerance: f64, scale: &dyn Fn(usize) -> Scale) {
        let pairs: Vec<Option<Pair>> = self.stages.iter().map(|stage| StagesChart::of(stage, name)).collect();
        let figures = |of: fn(&Pair) -> f64| -> String {
            let figure =
                |pair: &Option<Pair>| pair.as_ref().map_or("-".to_owned(), |pair| crate::number::plain(of(pair)));
            pairs.iter().map(figure).collect::<Vec<_>>().join(" ")
        };
        let (target, blend) = (figures(|pair| pair.0), figures(|pair| pair.1));
        let said = self.stages.iter().zip(&pairs).filter_map(|(stage, pair)| {
            let (target, blend) = (*pair)?;
            let number = |value: f64| super::kit::words::number(value, 2);
            Some(format!("{}: {} of {} wanted", stage.blends[0].name, number(blend), number(target)))
        });
        let tip = format!("{name}; {}", said.collect::<Vec<_>>().join("; "));
        let data = [("descriptor", name), ("target", &target), ("blend", &blend)];
        canvas.group("row", &data, &tip, |canvas| {
            canvas.touch(MARGIN, y - ROW / 2.0, WIDTH - 2.0 * MARGIN, ROW);
            let wants = pairs.iter().flatten().any(|(target, blend)| verdict_of(blend - target, tolerance) != 0);
            let style = if wants { BODY.bold() } else { BODY.colour(SOFT) };
            let room = scale(0).start - 18.0 - MARGIN;
            canvas.text(scale(0).start - 18.0, y + 5.0, &style.shortened(name, room), style.end());
            for (column, pair) in pairs.iter().enumerate() {
                let Some((target, blend)) = pair else { continue };
                let x = scale(column);
                let verdict = verdict_of(blend - target, tolerance);
                let colour = colour_of(verdict);
                let (to, at) = (x.px(*target), x.px(*blend));
                canvas.rect(to.min(at), y - 2.0, (to - at).abs(), 4.0, colour, 0.45);
                canvas.disc((to, y), 5.2, PAPER, Stroke::new(INK, 1.6));
                canvas.disc((at, y), 4.4, colour, Stroke::new(PAPER, 0.8));
                let style = if verdict == 0 { SMALL.colour(SOFT) } else { SMALL.bold().colour(colour) };
                canvas.text(x.end + FIGURE, y + 4.5, &signed(blend - target, 1), style.end());
            }
        });
    }
}
