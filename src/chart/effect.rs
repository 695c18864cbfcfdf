//! Strength against the price of its effect.

use super::Chart;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, GRID, HUES, INK, OTHERS, PAPER, SOFT};
use super::kit::crowd::{Crowd, Key};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::plane::Plane;
use super::kit::scale::{Scale, Steps};
use super::kit::words::{brief, count, dose, label, sentence, tick};
use super::kit::{MARGIN, WIDTH};
use crate::portable::Portable;
use crate::sentences::said::marked;

/// A material with a strength and a price.
#[derive(Clone, Debug, PartialEq)]
pub struct EffectPoint {
    /// The material.
    pub material: String,
    /// Strength per unit mass, by dilution, above 0.
    pub strength: f64,
    /// Whether the strength is a word or a comparison, and no number.
    pub is_loose: bool,
    /// Price per kg for a unit of strength, above 0.
    pub effect: f64,
    /// `opening`, `heart` or `drydown`.
    pub note: Option<String>,
}

impl EffectPoint {
    fn strength_shown(&self) -> String {
        marked(&dose(self.strength), self.is_loose)
    }
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct EffectChart {
    /// What the shelf is called.
    pub shelf: String,
    /// Label of the currency.
    pub currency: String,
    /// The materials.
    pub points: Vec<EffectPoint>,
    /// Materials that have no price, or one of 0.
    pub without_price: usize,
}

/// Edges of the plot in pixels.
const LEFT: f64 = MARGIN + 74.0;
const RIGHT: f64 = WIDTH - MARGIN;
const HEIGHT: f64 = 560.0;
const NOTES: [(&str, &str); 3] = [("opening", HUES[2]), ("heart", HUES[0]), ("drydown", HUES[4])];

/// The hue of a note.
fn hue(note: Option<&str>) -> &'static str {
    NOTES.iter().find(|(word, _)| note == Some(word)).map_or(OTHERS, |(_, hue)| hue)
}

/// Whole decades around some quantities.
fn decades(values: impl Iterator<Item = f64> + Clone, start: f64, end: f64) -> Scale {
    let least = values.clone().fold(f64::INFINITY, f64::min).max(1e-300);
    let most = values.fold(0.0, f64::max).max(least);
    let from = 10f64.power(least.decimal_logarithm().floor());
    let to = 10f64.power(most.decimal_logarithm().ceil()).max(from * 10.0);
    Scale { from, to, start, end, steps: Steps::Log }
}

/// A round quantity on an axis; very small ones with an exponent.
fn round(value: f64) -> String {
    if value < 9e-7 { format!("{value:.0e}").replace('-', "\u{2212}") } else { tick(value) }
}

impl EffectChart {
    fn finding(&self) -> String {
        let by_effect = |a: &&EffectPoint, b: &&EffectPoint| a.effect.total_cmp(&b.effect);
        let (Some(least), Some(most)) = (self.points.iter().min_by(by_effect), self.points.iter().max_by(by_effect))
        else {
            return "No material has both a strength and a price".to_owned();
        };
        let cheap = sentence(&brief(&least.material));
        if self.points.len() == 1 {
            return format!("{cheap}: {} {} per kg for a unit of strength", dose(least.effect), label(&self.currency));
        }
        // Two digits of it are more than the scores of strength deserve.
        let ratio = most.effect / least.effect;
        let unit = 10f64.power(ratio.decimal_logarithm().floor() - 1.0);
        let times = tick((ratio / unit).round() * unit);
        format!("{cheap} has the cheapest effect; that of {} costs {times} times as much", brief(&most.material))
    }

    fn description(&self) -> String {
        let point = |point: &EffectPoint| {
            format!("{}: strength {}, effect {}", point.material, point.strength_shown(), dose(point.effect))
        };
        let points: Vec<String> = self.points.iter().take(40).map(point).collect();
        format!("{}: strength against cost per unit of strength. {}", self.shelf, points.join("; "))
    }

    fn subtitle(&self) -> Vec<Piece> {
        let text = format!(
            "{}: what one unit of strength costs. Low is cheap in use; right is strong. Smelled in the",
            self.shelf
        );
        let mut pieces = vec![words(&text)];
        let has = |note: Option<&str>| self.points.iter().any(|point| point.note.as_deref() == note);
        pieces.extend(
            NOTES.iter().filter(|(word, _)| has(Some(word))).map(|(word, hue)| key(Mark::Disc(hue), word, INK)),
        );
        if has(None) {
            pieces.push(key(Mark::Disc(OTHERS), "not said", SOFT));
        }
        pieces
    }

    fn axes(&self, canvas: &mut Canvas, plane: &Plane) {
        let floor = plane.y.start;
        for value in plane.y.ticks(12) {
            let y = plane.y.px(value);
            canvas.line((LEFT, y), (RIGHT, y), Stroke::new(GRID, 1.0));
            canvas.text(LEFT - 9.0, y + 4.5, &round(value), SMALL.end());
        }
        for value in plane.x.ticks(12) {
            let x = plane.x.px(value);
            canvas.line((x, floor), (x, floor + 5.0), Stroke::new(AXIS, 1.0));
            canvas.text(x.clamp(LEFT, RIGHT - 16.0), floor + 20.0, &round(value), SMALL.middle());
        }
        canvas.line((LEFT, floor), (RIGHT, floor), Stroke::new(AXIS, 1.2));
        canvas.text((LEFT + RIGHT) / 2.0, floor + 40.0, "strength, by dilution", SMALL.middle());
    }

    /// Lines of one price per kg, each named at its lower end where there is
    /// room.
    fn prices(&self, canvas: &mut Canvas, plane: &Plane) -> Vec<((f64, f64), String)> {
        let prices = || self.points.iter().map(|point| point.strength * point.effect);
        let (low, high) = (prices().fold(f64::INFINITY, f64::min), prices().fold(0.0, f64::max));
        let mut names = Vec::new();
        for power in low.decimal_logarithm().floor() as i32..=high.decimal_logarithm().ceil() as i32 {
            let per_kg = 10f64.powi(power);
            let from = plane.x.from.max(per_kg / plane.y.to);
            let to = plane.x.to.min(per_kg / plane.y.from);
            let at = |strength: f64| plane.place((strength, per_kg / strength));
            if to > from * 1.001 {
                canvas.path(&[at(from), at(to)], Stroke::dashed(GRID, 1.2));
                let (x, y) = at(to);
                names.push(((x - 14.0, y - 14.0), format!("{} {}/kg", round(per_kg), label(&self.currency))));
            }
        }
        names
    }
}

impl Chart for EffectChart {
    fn name(&self) -> &'static str {
        "effect"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        if self.points.is_empty() {
            return frame::foot(canvas, top + 16.0, "There is nothing to draw.");
        }
        let top = top + 28.0;
        let plane = Plane {
            x: decades(self.points.iter().map(|point| point.strength), LEFT, RIGHT),
            y: decades(self.points.iter().map(|point| point.effect), top + HEIGHT, top),
        };
        canvas.text(
            MARGIN,
            top - 14.0,
            &format!("price of a unit of strength, {} per kg", label(&self.currency)),
            SMALL,
        );
        self.axes(canvas, &plane);
        let prices = self.prices(canvas, &plane);
        let mut crowd = Crowd::new((LEFT + 4.0, top + 2.0, RIGHT - 2.0, top + HEIGHT - 4.0));
        for point in &self.points {
            let (x, y) = plane.place((point.strength, point.effect));
            crowd.take((x - 5.5, y - 5.5, x + 5.5, y + 5.5));
        }
        // The cheapest effects are named first, then the dearest.
        let mut order: Vec<&EffectPoint> = self.points.iter().collect();
        let middle = (plane.y.from * plane.y.to).logarithm() / 2.0;
        let apart = |point: &EffectPoint| (point.effect.logarithm() - middle).abs();
        order.sort_by(|a, b| apart(b).total_cmp(&apart(a)));
        let mut key = Key::default();
        for point in order {
            let at = plane.place((point.strength, point.effect));
            let (strength, effect) = (crate::number::plain(point.strength), crate::number::plain(point.effect));
            let data = [("material", point.material.as_str()), ("strength", &strength), ("effect", &effect)];
            let tip = format!(
                "{}: strength {}, {} {}/kg for a unit",
                point.material,
                point.strength_shown(),
                dose(point.effect),
                self.currency
            );
            canvas.group("point", &data, &tip, |canvas| {
                canvas.disc(at, 5.0, hue(point.note.as_deref()), Stroke::new(PAPER, 1.0));
                let style = SMALL.colour(INK);
                let name = style.shortened(&marked(&point.material, point.is_loose), 190.0);
                crowd.named(canvas, at, &name, style, &mut key);
            });
        }
        for (at, name) in prices {
            crowd.beside(canvas, at, &name, BODY.size(12.0).colour(SOFT));
        }
        let mut note =
            "Dashed: materials of one price per kg. A weak accord needs more of itself, so price alone misleads."
                .to_owned();
        if self.without_price > 0 {
            note += &format!(" Without a price above 0: {}.", count(self.without_price, "material", "materials"));
        }
        if self.points.iter().any(|point| point.is_loose) {
            note += " ~: a strength from a word or a comparison.";
        }
        let y = key.draw(canvas, plane.y.start + 66.0);
        frame::foot(canvas, y, &note);
    }
}
