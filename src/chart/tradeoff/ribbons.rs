//! Materials along an axis: ribbons as wide as their doses.

use super::{Against, TradeoffPoint};
use crate::chart::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use crate::chart::kit::colour::{COMES_IN, GOES_OUT, GRID, INK, OTHERS, SOFT, WIDE};
use crate::chart::kit::frame::{self, Mark};
use crate::chart::kit::scale::Scale;
use crate::chart::kit::words::{count, dose, tick};
use crate::chart::kit::{MARGIN, WIDTH};

/// Below this part of a material's own largest dose it is as good as absent.
const TRACE: f64 = 0.02;
/// Runs and gaps shorter than this many pixels are no news.
const VISIBLE: f64 = 7.0;
/// The most ribbons of one chart.
const MOST: usize = 26;

/// The input: doses of materials at points along a scale.
pub struct Ribbons<'a> {
    pub materials: &'a [String],
    pub points: &'a [TradeoffPoint],
    /// What stays, enters and leaves is judged from here to the end.
    pub mark: Option<f64>,
    pub against: &'a Against,
    pub scale: Scale,
}

/// What becomes of a material beyond the mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Fate {
    Stays,
    Leaves,
    Enters,
    Elsewhere,
}

impl Fate {
    fn colour(self) -> &'static str {
        match self {
            Fate::Stays => WIDE,
            Fate::Leaves => GOES_OUT,
            Fate::Enters => COMES_IN,
            Fate::Elsewhere => OTHERS,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Fate::Stays => "stays",
            Fate::Leaves => "drops out",
            Fate::Enters => "enters",
            Fate::Elsewhere => "elsewhere only",
        }
    }
}

struct Ribbon<'a> {
    name: &'a str,
    /// (where, dose) at every point.
    doses: Vec<(f64, f64)>,
    most: f64,
    /// Where it is present, from and to.
    runs: Vec<(f64, f64)>,
    fate: Fate,
}

impl Ribbons<'_> {
    fn first(&self) -> f64 {
        self.points.first().map_or(0.0, |point| point.at)
    }

    fn last(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.at)
    }

    /// Where a material is present. What blinks is bridged.
    fn runs(&self, doses: &[(f64, f64)], most: f64) -> Vec<(f64, f64)> {
        let present = |&(_, dose): &(f64, f64)| dose > 0.0 && dose >= TRACE * most;
        let mut runs: Vec<(f64, f64)> = Vec::new();
        let mut before: Option<(f64, f64)> = None;
        for point in doses {
            if present(point) {
                // It begins between the points, at the earliest at the one
                // where it was absent.
                match runs.last_mut() {
                    Some(run) if before.as_ref().is_some_and(present) => run.1 = point.0,
                    _ => runs.push((before.map_or(point.0, |(at, _)| at), point.0)),
                }
            } else if before.as_ref().is_some_and(present)
                && let Some(run) = runs.last_mut()
            {
                run.1 = point.0;
            }
            before = Some(*point);
        }
        let pixels = |from: f64, to: f64| (self.scale.px(to) - self.scale.px(from)).abs();
        let mut joined: Vec<(f64, f64)> = Vec::new();
        for run in runs {
            match joined.last_mut() {
                Some(last) if pixels(last.1, run.0) < VISIBLE => last.1 = run.1,
                _ => joined.push(run),
            }
        }
        joined.retain(|&(from, to)| pixels(from, to) >= VISIBLE || self.points.len() < 3);
        joined
    }

    fn fate(&self, doses: &[(f64, f64)], most: f64, runs: &[(f64, f64)]) -> Fate {
        let mark = self.mark.unwrap_or_else(|| self.first());
        let dose = |at: f64| {
            let between = doses.windows(2).find(|pair| pair[0].0 <= at && at <= pair[1].0);
            between.map_or(0.0, |pair| {
                let part = if pair[1].0 > pair[0].0 { (at - pair[0].0) / (pair[1].0 - pair[0].0) } else { 1.0 };
                pair[0].1 + part * (pair[1].1 - pair[0].1)
            })
        };
        let pixels = |from: f64, to: f64| (self.scale.px(to) - self.scale.px(from)).abs();
        // Where it blinks out within a run it is there all the same.
        let is_amid = |at: f64, &(from, to): &(f64, f64)| {
            from < at && at < to && pixels(from, at) > VISIBLE && pixels(at, to) > VISIBLE
        };
        let present = |at: f64| {
            let in_run = runs.iter().any(|&(from, to)| from <= at && at <= to);
            in_run && (dose(at) >= TRACE * most || runs.iter().any(|run| is_amid(at, run)))
        };
        match (present(mark), present(self.last())) {
            (true, true) => Fate::Stays,
            (true, false) => Fate::Leaves,
            (false, true) => Fate::Enters,
            (false, false) => Fate::Elsewhere,
        }
    }

    /// The ribbons in the order of their fate; the larger doses first.
    fn ribbons(&self) -> Vec<Ribbon<'_>> {
        let mut ribbons = Vec::new();
        for (at, name) in self.materials.iter().enumerate() {
            let at_point = |point: &TradeoffPoint| Some((point.at, *point.doses_ppt.get(at)?));
            let doses: Vec<(f64, f64)> = self.points.iter().filter_map(at_point).collect();
            let most = doses.iter().map(|&(_, dose)| dose).fold(0.0, f64::max);
            let runs = self.runs(&doses, most);
            if !runs.is_empty() {
                ribbons.push(Ribbon { name, fate: self.fate(&doses, most, &runs), doses, most, runs });
            }
        }
        ribbons.sort_by(|a, b| a.fate.cmp(&b.fate).then(b.most.total_cmp(&a.most)));
        ribbons
    }

    /// When it enters and leaves, in words.
    fn changes(&self, ribbon: &Ribbon) -> String {
        if *self.against == Against::Count {
            return changes_by_count(&ribbon.doses);
        }
        let edge = |at: f64, end: f64| (self.scale.px(at) - self.scale.px(end)).abs() < VISIBLE;
        let bare = |at: f64| self.against.about(at);
        let inner: Vec<String> =
            ribbon.runs.windows(2).map(|pair| format!("absent {}–{}", bare(pair[0].1), bare(pair[1].0))).collect();
        let (first, last) = (ribbon.runs[0].0, ribbon.runs[ribbon.runs.len() - 1].1);
        let mut parts = Vec::new();
        if !edge(first, self.first()) {
            parts.push(format!("in at {}", bare(first)));
        }
        parts.extend(inner);
        if !edge(last, self.last()) {
            parts.push(format!("out at {}", bare(last)));
        }
        if parts.is_empty() { "throughout".to_owned() } else { parts.join(", ") }
    }

    /// Draws the ribbons from `top` down, moves it below them, and gives where
    /// they end and the note that explains them.
    pub fn draw(&self, canvas: &mut Canvas, top: &mut f64) -> (f64, String) {
        let all = self.ribbons();
        if all.is_empty() || self.points.len() < 2 {
            *top += 2.0;
            return (*top, String::new());
        }
        let mut ribbons: Vec<&Ribbon> = all.iter().collect();
        if ribbons.len() > MOST {
            // The largest doses are shown; their order is kept.
            let mut doses: Vec<f64> = ribbons.iter().map(|ribbon| ribbon.most).collect();
            doses.sort_by(|a, b| b.total_cmp(a));
            ribbons.retain(|ribbon| ribbon.most >= doses[MOST - 1]);
            ribbons.truncate(MOST);
        }
        let height = if ribbons.len() <= 16 { 25.0 } else { 19.0 };
        let bottom = *top + height * ribbons.len() as f64;
        for value in self.scale.ticks(if self.scale.to > 99_999.0 { 5 } else { 7 }) {
            let x = self.scale.px(value);
            canvas.line((x, *top), (x, bottom), Stroke::new(GRID, 1.0));
        }
        for (at, ribbon) in ribbons.iter().enumerate() {
            self.row(canvas, ribbon, *top + height * (at as f64 + 0.5), height);
        }
        *top = bottom + 12.0;
        let fates = [Fate::Stays, Fate::Leaves, Fate::Enters, Fate::Elsewhere];
        let seen: Vec<Fate> =
            fates.into_iter().filter(|fate| ribbons.iter().any(|ribbon| ribbon.fate == *fate)).collect();
        let mut x = MARGIN;
        *top += 12.0;
        x +=
            canvas.text(x, *top, if self.mark.is_some() { "Beyond the mark:" } else { "Along the way:" }, SMALL) + 10.0;
        for fate in seen {
            frame::draw(canvas, Mark::Square(fate.colour()), x, *top - 4.0);
            x += 16.0;
            x += canvas.text(x, *top, fate.word(), SMALL) + 14.0;
        }
        *top += 6.0;
        let more = all.len() - ribbons.len();
        let rest = if more == 0 {
            String::new()
        } else {
            let largest = all.iter().filter(|one| !ribbons.iter().any(|shown| shown.name == one.name));
            let most = largest.map(|ribbon| ribbon.most).fold(0.0, f64::max);
            format!(" Not drawn: {} with at most {} ‰.", count(more, "material", "materials"), dose(most))
        };
        let note = "Height of a ribbon: the dose beside the material’s own largest, which stands at the left in ‰.";
        (bottom, format!("{note}{rest}"))
    }

    fn row(&self, canvas: &mut Canvas, ribbon: &Ribbon, y: f64, height: f64) {
        let changes = self.changes(ribbon);
        let tip = format!("{}: {changes}; at most {} ‰", ribbon.name, dose(ribbon.most));
        let most = crate::number::plain(ribbon.most);
        let data = [("material", ribbon.name), ("most", &most), ("changes", &changes), ("fate", ribbon.fate.word())];
        canvas.group("ribbon", &data, &tip, |canvas| {
            let half = height * 0.42;
            canvas.line((self.scale.start, y), (self.scale.end, y), Stroke::new(GRID, 1.0));
            for &(from, to) in &ribbon.runs {
                let inside = ribbon.doses.iter().filter(|&&(at, _)| from <= at && at <= to);
                let edge: Vec<(f64, f64)> =
                    inside.map(|&(at, dose)| (self.scale.px(at), half * dose / ribbon.most)).collect();
                let upper = edge.iter().map(|&(x, high)| (x, y - high));
                let outline: Vec<(f64, f64)> = upper.chain(edge.iter().rev().map(|&(x, high)| (x, y + high))).collect();
                canvas.polygon(&outline, ribbon.fate.colour(), 1.0);
            }
            let size = if height > 20.0 { 13.5 } else { 12.5 };
            let label = BODY.size(size).bold().colour(INK);
            let x = self.scale.end + 14.0;
            canvas.text(self.scale.start - 8.0, y + 4.5, &dose(ribbon.most), SMALL.size(12.0).end());
            let room = WIDTH - MARGIN - x;
            let small = SMALL.size(12.0).colour(SOFT);
            let least = small.width(&changes).min(room * 0.5);
            let name = label.shortened(ribbon.name, room - least - 8.0);
            let wide = canvas.text(x, y + 4.5, &name, label);
            canvas.text(x + wide + 8.0, y + 4.5, &small.shortened(&changes, room - wide - 8.0), small);
        });
    }
}

/// When a material enters and leaves as the number of materials grows: between
/// two numbers there is nothing.
fn changes_by_count(doses: &[(f64, f64)]) -> String {
    let mut parts = Vec::new();
    let mut gap: Option<(f64, f64)> = None;
    let mut was_in = false;
    for &(at, dose) in doses {
        match (dose > 0.0, &mut gap) {
            (true, Some((from, to))) if was_in && from == to => parts.push(format!("not at {}", tick(*from))),
            (true, Some((from, to))) if was_in => parts.push(format!("not at {}–{}", tick(*from), tick(*to))),
            (true, Some(_)) => parts.push(format!("in at {}", tick(at))),
            (false, Some((_, to))) => *to = at,
            (false, None) => gap = Some((at, at)),
            (true, None) => {}
        }
        if dose > 0.0 {
            (was_in, gap) = (true, None);
        }
    }
    if let Some((from, _)) = gap {
        parts.push(format!("out at {}", tick(from)));
    }
    if parts.is_empty() { "throughout".to_owned() } else { parts.join(", ") }
}
