//! How much room every dose has: bars from lowest to highest.

/// The room of one material.
#[derive(Clone, Debug, PartialEq)]
pub struct LeewayBar {
    /// The material.
    pub material: String,
    /// The lowest dose in ppt within the margin.
    pub min_ppt: f64,
    /// The highest dose in ppt within the margin.
    pub max_ppt: f64,
    /// The proposal's dose in ppt, 0 where it has none.
    pub at_ppt: f64,
    /// The cap on its dose in ppt, if there is one below 1000.
    pub cap_ppt: Option<f64>,
    /// The least and the greatest usual dose in ppt, where the palette names them.
    pub usual_ppt: Option<(f64, f64)>,
    /// Points of fidelity lost when it is left out; none where the rules do
    /// not allow that, or where it is not known.
    pub loss_without_points: Option<f64>,
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct LeewayChart {
    /// Title of the brief.
    pub brief: String,
    /// Points of fidelity that may be given away.
    pub margin_points: f64,
    /// Fidelity in percent of the proposal.
    pub fidelity_percent: f64,
    /// The materials; those that can have no dose but 0 are left out.
    pub bars: Vec<LeewayBar>,
}

use super::Chart;
use super::dumbbell::row_of;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke, Style};
use super::kit::colour::{AXIS, COMES_IN, GRID, HIGH, INK, LIMIT, NOW, PAPER, SOFT, WIDE};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::scale::{Scale, Steps};
use super::kit::words::{count, dose, number, percent, signed, tick};
use super::kit::{MARGIN, WIDTH};

/// The most that names may take of the width, in pixels.
const NAMES: f64 = 230.0;
/// Right edge of everything, in pixels.
const RIGHT: f64 = WIDTH - MARGIN;
/// Between the formula's own rows and the others, in pixels.
const GAP: f64 = 34.0;
/// Less than this in ppt is nothing.
const NOTHING: f64 = 1e-6;

/// Where a material stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Place {
    /// Within the margin it cannot be left out.
    Needed,
    /// In the formula, and could be left out.
    Spare,
    /// Not in the formula, and could come in.
    Outside,
}

impl Place {
    fn word(self) -> &'static str {
        match self {
            Place::Needed => "indispensable",
            Place::Spare => "can be left out",
            Place::Outside => "could come in",
        }
    }

    fn colour(self) -> &'static str {
        match self {
            Place::Needed => NOW,
            Place::Spare => WIDE,
            Place::Outside => COMES_IN,
        }
    }
}

impl LeewayBar {
    /// From lowest to highest; one number where it has no room.
    fn range(&self) -> String {
        let (min, max) = (dose(self.min_ppt), dose(self.max_ppt));
        if min == max { min } else { format!("{min}–{max}") }
    }

    /// The usual doses, behind other words.
    fn usual_words(&self) -> String {
        let outside = if self.is_unusual() { "outside " } else { "" };
        let words = |(least, most): (f64, f64)| format!("; {outside}the usual {} to {} ‰", dose(least), dose(most));
        self.usual_ppt.map(words).unwrap_or_default()
    }

    /// Whether the proposal has it at a dose outside the usual ones.
    fn is_unusual(&self) -> bool {
        let is_outside = |(least, most): (f64, f64)| self.at_ppt < least || self.at_ppt > most;
        self.at_ppt > NOTHING && self.usual_ppt.is_some_and(is_outside)
    }

    fn place(&self) -> Place {
        if self.min_ppt > NOTHING {
            Place::Needed
        } else if self.at_ppt > NOTHING {
            Place::Spare
        } else {
            Place::Outside
        }
    }
}

impl LeewayChart {
    /// By place; in a place the larger doses first.
    fn sorted(&self) -> Vec<&LeewayBar> {
        let mut bars: Vec<&LeewayBar> = self.bars.iter().collect();
        bars.sort_by(|a, b| {
            let by_dose = b.at_ppt.total_cmp(&a.at_ppt).then(b.max_ppt.total_cmp(&a.max_ppt));
            a.place().cmp(&b.place()).then(by_dose).then_with(|| a.material.cmp(&b.material))
        });
        bars
    }

    fn finding(&self) -> String {
        let number_of = |place: Place| self.bars.iter().filter(|bar| bar.place() == place).count();
        let (needed, spare, outside) = (number_of(Place::Needed), number_of(Place::Spare), number_of(Place::Outside));
        let head = match needed {
            0 => "No material is indispensable".to_owned(),
            1 => "1 material is indispensable".to_owned(),
            _ => format!("{needed} materials are indispensable"),
        };
        let left_out = match spare {
            0 if needed > 0 => "none can be left out".to_owned(),
            0 => String::new(),
            1 => "1 can be left out".to_owned(),
            _ => format!("any one of {spare} can be left out"),
        };
        let come_in = if outside == 0 { String::new() } else { format!("{outside} could come in") };
        [head, left_out, come_in].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("; ")
    }

    fn description(&self) -> String {
        let line = |bar: &&LeewayBar| {
            format!(
                "{}, {}: {} ‰, from {} to {} ‰{}",
                bar.material,
                bar.place().word(),
                dose(bar.at_ppt),
                dose(bar.min_ppt),
                dose(bar.max_ppt),
                bar.usual_words()
            )
        };
        let lines: Vec<String> = self.sorted().iter().map(line).collect();
        format!("{}, {} % match on paper. {}", self.brief, percent(self.fidelity_percent), lines.join(". "))
    }

    fn subtitle(&self) -> Vec<Piece> {
        let margin = tick(self.margin_points);
        let points = if margin == "1" { "point" } else { "points" };
        let text = format!(
            "{}: how far each dose can go while the match on paper stays within {margin} {points} of {} %, all other \
             doses solved again.",
            self.brief,
            percent(self.fidelity_percent)
        );
        let mut pieces = vec![words(&text), key(Mark::Disc(NOW), "dose in the proposal", INK)];
        if self.bars.iter().any(|bar| bar.cap_ppt.is_some()) {
            pieces.push(key(Mark::Upright(LIMIT), "cap", LIMIT));
        }
        if self.bars.iter().any(|bar| bar.usual_ppt.is_some()) {
            pieces.push(key(Mark::Whisker(SOFT), "usual doses", INK));
        }
        if self.bars.iter().any(LeewayBar::is_unusual) {
            pieces.push(key(Mark::Disc(HIGH), "outside them", HIGH));
        }
        pieces
    }

    fn scale(&self, left: f64, right: f64) -> Scale {
        let doses = || self.bars.iter().flat_map(|bar| [bar.min_ppt, bar.at_ppt, bar.max_ppt]);
        let least = doses().filter(|&ppt| ppt > NOTHING).fold(f64::INFINITY, f64::min);
        let most = doses().fold(0.0, f64::max);
        // A cap near by is worth its place; one far off is not.
        let caps = self.bars.iter().filter_map(|bar| bar.cap_ppt).filter(|&cap| cap <= 2.0 * most);
        let most = caps.fold(most, f64::max);
        if least.is_finite() && most > 30.0 * least {
            // Below a hundred-thousandth of the largest nothing is told apart.
            Scale::zero_and_log(least.max(most * 1e-5), most, left, right)
        } else {
            Scale::rounded(0.0, most.max(1e-3), left, right, 6)
        }
    }
}

/// Edges of the columns of numbers.
struct Columns {
    at: f64,
    range: f64,
    loss: Option<f64>,
}

impl Chart for LeewayChart {
    fn name(&self) -> &'static str {
        "leeway"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        let bars = self.sorted();
        if bars.is_empty() {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let (height, size) = row_of(bars.len());
        let label = BODY.size(size);
        let widest = bars.iter().map(|bar| label.bold().width(&bar.material)).fold(30.0, f64::max);
        let left = MARGIN + widest.min(NAMES) + 18.0;
        let wide = bars.iter().map(|bar| label.width(&bar.range())).fold(60.0, f64::max);
        let with_loss = bars.iter().any(|bar| bar.loss_without_points.is_some());
        let range_edge = if with_loss { RIGHT - 70.0 } else { RIGHT };
        let columns = Columns { at: range_edge - wide - 16.0, range: range_edge, loss: with_loss.then_some(RIGHT) };
        let plot_end = columns.at - 62.0;
        let scale = self.scale(left, plot_end);
        let first = top + 36.0;
        // The formula's own rows stand together, what could come in after a gap.
        let own = bars.iter().filter(|bar| bar.place() != Place::Outside).count();
        let gap = if own > 0 && own < bars.len() { GAP } else { 0.0 };
        let bottom = first + height * bars.len() as f64 + gap;
        axis(canvas, &scale, first, bottom);
        heads(canvas, &columns, first - 14.0);
        for (at, bar) in bars.iter().enumerate() {
            let y = first + height * (at as f64 + 0.5) + if at >= own { gap } else { 0.0 };
            draw_bar(canvas, bar, (y, height), label, &scale, &columns);
            if at == own && gap > 0.0 {
                let head = SMALL.bold().colour(INK).halo().end();
                canvas.text(left - 18.0, y - height / 2.0 - 9.0, "not in the formula", head);
                canvas.line((left, y - height / 2.0 - 13.0), (RIGHT, y - height / 2.0 - 13.0), Stroke::new(AXIS, 1.0));
            } else if at > 0 && bar.place() != bars[at - 1].place() {
                let y = y - height / 2.0;
                canvas.line((MARGIN, y), (RIGHT, y), Stroke::new(AXIS, 0.8));
            }
        }
        let steps = if scale.steps == Steps::Linear { "" } else { " Scale by ratio, 0 apart." };
        let left_out =
            if with_loss { " Without: what leaving it out costs in points; — where it must stay." } else { "" };
        let note = format!("The ends of different bars cannot be had together.{left_out}{steps}");
        let y = keys(canvas, &bars, bottom + 30.0);
        frame::foot(canvas, y, &note);
    }
}

fn axis(canvas: &mut Canvas, scale: &Scale, first: f64, bottom: f64) {
    for value in scale.ticks(7) {
        let x = scale.px(value);
        canvas.line((x, first - 6.0), (x, bottom), Stroke::new(GRID, 1.0));
        canvas.text(x, first - 14.0, &tick(value), SMALL.middle());
    }
    canvas.text(scale.start - 18.0, first - 14.0, "dose, ‰", SMALL.end());
}

fn heads(canvas: &mut Canvas, columns: &Columns, y: f64) {
    canvas.text(columns.at, y, "now", SMALL.end());
    canvas.text(columns.range, y, "range, ‰", SMALL.end());
    if let Some(edge) = columns.loss {
        canvas.text(edge, y, "without", SMALL.end());
    }
}

/// What the colours of the bars say.
fn keys(canvas: &mut Canvas, bars: &[&LeewayBar], y: f64) -> f64 {
    let mut x = MARGIN;
    for place in [Place::Needed, Place::Spare, Place::Outside] {
        let number = bars.iter().filter(|bar| bar.place() == place).count();
        if number > 0 {
            frame::draw(canvas, Mark::Square(place.colour()), x, y - 4.0);
            let text = format!("{}: {}", place.word(), count(number, "material", "materials"));
            x += 17.0;
            x += canvas.text(x, y, &text, SMALL.colour(INK)) + 22.0;
        }
    }
    y + 22.0
}

fn draw_bar(
    canvas: &mut Canvas,
    bar: &LeewayBar,
    (y, height): (f64, f64),
    label: Style,
    scale: &Scale,
    columns: &Columns,
) {
    let place = bar.place();
    let plain = crate::number::plain;
    let (min, max, at) = (plain(bar.min_ppt), plain(bar.max_ppt), plain(bar.at_ppt));
    let data =
        [("material", bar.material.as_str()), ("min", &min), ("max", &max), ("at", &at), ("place", place.word())];
    let tip = format!(
        "{}: {} ‰ in the proposal, from {} to {} ‰; {}{}",
        bar.material,
        dose(bar.at_ppt),
        dose(bar.min_ppt),
        dose(bar.max_ppt),
        place.word(),
        bar.usual_words()
    );
    canvas.group("bar", &data, &tip, |canvas| {
        canvas.touch(MARGIN, y - height / 2.0, RIGHT - MARGIN, height);
        let base = y + label.size * 0.35;
        let style = if place == Place::Needed { label.bold() } else { label };
        let name = style.shortened(&bar.material, NAMES);
        canvas.text(scale.start - 18.0, base, &name, style.end());
        let (from, to) = (scale.px(bar.min_ppt), scale.px(bar.max_ppt));
        let high = height * 0.36;
        canvas.rect(from, y - high / 2.0, (to - from).max(2.0), high, place.colour(), 0.55);
        if let Some(cap) = bar.cap_ppt.filter(|&cap| scale.has(cap)) {
            canvas.rect(scale.px(cap) - 1.0, y - height * 0.36, 2.0, height * 0.72, LIMIT, 1.0);
        }
        if let Some((least, most)) = bar.usual_ppt {
            usual(canvas, (least, most), y + height * 0.33, scale);
        }
        let radius = (height * 0.21).clamp(3.6, 5.8);
        let centre = (scale.px(bar.at_ppt), y);
        let (own, ink) = if bar.is_unusual() { (HIGH, HIGH) } else { (NOW, INK) };
        if bar.at_ppt > NOTHING {
            canvas.disc(centre, radius, own, Stroke::new(PAPER, 1.4));
        } else {
            canvas.disc(centre, radius - 0.6, PAPER, Stroke::new(SOFT, 1.5));
        }
        canvas.text(columns.at, base, &dose(bar.at_ppt), label.bold().colour(ink).end());
        canvas.text(columns.range, base, &bar.range(), label.colour(SOFT).end());
        if let Some(edge) = columns.loss {
            let loss = match bar.loss_without_points {
                Some(loss) => signed(-loss, if loss >= 9.95 { 0 } else { 1 }),
                None if bar.at_ppt > NOTHING => "—".to_owned(),
                None => number(0.0, 0),
            };
            let shown = if bar.at_ppt > NOTHING { loss.as_str() } else { "" };
            canvas.text(edge, base, shown, label.colour(SOFT).end());
        }
    });
}

/// The usual doses under a bar; an end beyond the scale has no stroke.
fn usual(canvas: &mut Canvas, (least, most): (f64, f64), y: f64, scale: &Scale) {
    let (from, to) = (scale.px(least).clamp(scale.start, scale.end), scale.px(most).clamp(scale.start, scale.end));
    canvas.line((from, y), (to, y), Stroke::new(SOFT, 1.2));
    for end in [least, most].into_iter().filter(|end| scale.has(*end)) {
        canvas.line((scale.px(end), y - 2.5), (scale.px(end), y + 2.5), Stroke::new(SOFT, 1.2));
    }
}
