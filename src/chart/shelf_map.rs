//! A shelf in two dimensions: who smells like whom.

use super::Chart;
use super::kit::canvas::{BODY, Canvas, SMALL, Stroke};
use super::kit::colour::{AXIS, GRID, HUES, INK, OTHERS, PAPER, SOFT};
use super::kit::crowd::{Crowd, Key};
use super::kit::frame::{self, Mark, Piece, key, words};
use super::kit::plane::Plane;
use super::kit::scale::Scale;
use super::kit::words::{brief, count, percent};
use super::kit::{MARGIN, WIDTH};
use crate::portable::Portable;

/// A direction in which the materials differ.
#[derive(Clone, Debug, PartialEq)]
pub struct MapAxis {
    /// The part of all differences along it, in percent.
    pub explains_percent: f64,
    /// Descriptors that grow along it, the most first.
    pub more: Vec<String>,
    /// Descriptors that shrink along it, the most first.
    pub less: Vec<String>,
}

/// A material on the map.
#[derive(Clone, Debug, PartialEq)]
pub struct MapPlace {
    /// The material.
    pub material: String,
    /// The descriptor that it smells of most.
    pub strongest: String,
    /// Its place along the axes.
    pub at: (f64, f64),
}

/// The input of the chart.
#[derive(Clone, Debug, PartialEq)]
pub struct ShelfMap {
    /// What the shelf is called.
    pub shelf: String,
    /// Two axes, or fewer.
    pub axes: Vec<MapAxis>,
    /// The materials.
    pub places: Vec<MapPlace>,
}

/// Edges of the plot in pixels.
const LEFT: f64 = MARGIN + 26.0;
const RIGHT: f64 = WIDTH - MARGIN - 26.0;
const HEIGHT: f64 = 620.0;
/// Descriptors with a hue of their own.
const NAMED: usize = 5;
/// Descriptors named at an end of an axis.
const WORDS: usize = 3;

impl ShelfMap {
    fn finding(&self) -> String {
        let ends = |axis: &MapAxis| {
            let word = |words: &[String]| words.first().map_or_else(|| "the rest".to_owned(), |word| brief(word));
            format!("from {} to {}", word(&axis.less), word(&axis.more))
        };
        match &self.axes[..] {
            [] => "The materials do not differ in character".to_owned(),
            [only] => format!("The shelf runs {}", ends(only)),
            [first, second, ..] => {
                let both = percent(first.explains_percent + second.explains_percent);
                format!("The shelf runs {}, then {}: {both} % of all differences", ends(first), ends(second))
            }
        }
    }

    /// The descriptors that most materials smell of most, each with its hue.
    fn hues(&self) -> Vec<(&str, &'static str)> {
        let mut counts: Vec<(&str, usize)> = Vec::new();
        for place in &self.places {
            match counts.iter_mut().find(|(word, _)| *word == place.strongest) {
                Some((_, number)) => *number += 1,
                None => counts.push((&place.strongest, 1)),
            }
        }
        counts.sort_by_key(|&(_, number)| std::cmp::Reverse(number));
        counts.into_iter().zip(HUES).take(NAMED).map(|((word, _), hue)| (word, hue)).collect()
    }

    fn description(&self) -> String {
        let place = |place: &MapPlace| format!("{}, most of all {}", place.material, place.strongest);
        let places: Vec<String> = self.places.iter().take(40).map(place).collect();
        format!(
            "{}: {} on a map of characters. {}",
            self.shelf,
            count(self.places.len(), "material", "materials"),
            places.join("; ")
        )
    }

    fn subtitle(&self) -> Vec<Piece> {
        let text = format!("{}: what stands close together smells alike, by its scores. Smells most of", self.shelf);
        let hues = self.hues();
        let mut pieces = vec![words(&text)];
        pieces.extend(hues.iter().map(|(word, hue)| key(Mark::Disc(hue), word, INK)));
        if self.places.iter().any(|place| !hues.iter().any(|(word, _)| *word == place.strongest)) {
            pieces.push(key(Mark::Disc(OTHERS), "something else", SOFT));
        }
        pieces
    }

    /// Both axes in the same units, so that distances are true.
    fn scales(&self, top: f64) -> Plane {
        let span = |of: fn(&MapPlace) -> f64| {
            let low = self.places.iter().map(of).fold(0.0, f64::min);
            (low, self.places.iter().map(of).fold(0.0, f64::max))
        };
        let ((x0, x1), (y0, y1)) = (span(|place| place.at.0), span(|place| place.at.1));
        let (wide, high) = (RIGHT - LEFT, HEIGHT);
        let unit = (1.12 * (x1 - x0) / wide).max(1.12 * (y1 - y0) / high).max(1e-6);
        let around = |low: f64, high: f64, pixels: f64| {
            let middle = (low + high) / 2.0;
            (middle - unit * pixels / 2.0, middle + unit * pixels / 2.0)
        };
        let ((xl, xr), (yl, yh)) = (around(x0, x1, wide), around(y0, y1, high));
        Plane { x: Scale::linear(xl, xr, LEFT, RIGHT), y: Scale::linear(yl, yh, top + HEIGHT, top) }
    }

    /// What grows towards each edge.
    fn edges(&self, canvas: &mut Canvas, plane: &Plane) {
        let (top, floor) = (plane.y.end, plane.y.start);
        let (x0, y0) = plane.place((0.0, 0.0));
        canvas.line((LEFT, y0), (RIGHT, y0), Stroke::new(GRID, 1.0));
        canvas.line((x0, top), (x0, floor), Stroke::new(GRID, 1.0));
        for (from, to) in [
            ((LEFT, top), (RIGHT, top)),
            ((LEFT, floor), (RIGHT, floor)),
            ((LEFT, top), (LEFT, floor)),
            ((RIGHT, top), (RIGHT, floor)),
        ] {
            canvas.line(from, to, Stroke::new(AXIS, 1.0));
        }
        let said = |words: &[String], most: f64| {
            let words: Vec<String> = words.iter().take(WORDS).map(|word| brief(word)).collect();
            BODY.bold().shortened(&format!("more {}", words.join(", ")), most)
        };
        let (across, down) = ((LEFT + RIGHT) / 2.0, (top + floor) / 2.0);
        let style = BODY.bold().middle().colour(SOFT);
        if let Some(axis) = self.axes.first() {
            canvas.text(LEFT - 10.0, down, &said(&axis.less, HEIGHT), style.turned(-90.0));
            canvas.text(RIGHT + 10.0, down, &said(&axis.more, HEIGHT), style.turned(90.0));
        }
        if let Some(axis) = self.axes.get(1) {
            canvas.text(across, top - 10.0, &said(&axis.more, RIGHT - LEFT), style);
            canvas.text(across, floor + 21.0, &said(&axis.less, RIGHT - LEFT), style);
        }
    }

    /// The materials; gives the key of the names that found no room.
    fn materials(&self, canvas: &mut Canvas, plane: &Plane) -> Key {
        let hues = self.hues();
        let mut crowd = Crowd::new((LEFT + 4.0, plane.y.end + 4.0, RIGHT - 4.0, plane.y.start - 4.0));
        for place in &self.places {
            let (x, y) = plane.place(place.at);
            crowd.take((x - 5.5, y - 5.5, x + 5.5, y + 5.5));
        }
        // Those that stand apart are named first.
        let mut order: Vec<&MapPlace> = self.places.iter().collect();
        let far = |place: &MapPlace| place.at.0.hypotenuse(place.at.1);
        order.sort_by(|a, b| far(b).total_cmp(&far(a)));
        let mut key = Key::default();
        for place in order {
            let at = plane.place(place.at);
            let hue = hues.iter().find(|(word, _)| *word == place.strongest).map_or(OTHERS, |(_, hue)| hue);
            let (x, y) = (crate::number::plain(place.at.0), crate::number::plain(place.at.1));
            let data = [("material", place.material.as_str()), ("x", &x), ("y", &y), ("strongest", &place.strongest)];
            let tip = format!("{}: most of all {}", place.material, place.strongest);
            canvas.group("place", &data, &tip, |canvas| {
                canvas.disc(at, 5.0, hue, Stroke::new(PAPER, 1.0));
                let style = SMALL.colour(INK);
                let name = style.shortened(&place.material, 190.0);
                crowd.named(canvas, at, &name, style, &mut key);
            });
        }
        key
    }
}

impl Chart for ShelfMap {
    fn name(&self) -> &'static str {
        "shelf-map"
    }

    fn draw(&self, canvas: &mut Canvas) {
        let top = frame::head(canvas, &self.finding(), &self.subtitle(), &self.description());
        if self.places.is_empty() {
            return frame::foot(canvas, top + 16.0, "No material has scores.");
        }
        let plane = self.scales(top + 22.0);
        self.edges(canvas, &plane);
        let key = self.materials(canvas, &plane);
        let shown: Vec<String> = self.axes.iter().map(|axis| percent(axis.explains_percent)).collect();
        let note = match &shown[..] {
            [] => "All characters are the same.".to_owned(),
            [only] => format!("Across: {only} % of all differences between the characters."),
            [across, up, ..] => format!(
                "Across: {across} % of all differences between the characters; up: {up} %. The rest is not seen here: \
                 what stands together may still differ in it."
            ),
        };
        let y = key.draw(canvas, plane.y.start + 48.0);
        frame::foot(canvas, y, &note);
    }
}
