//! Another palette held against the one that a brief names: a wishlist, another nose.

use toml::de::DeTable;

use super::fault::Sink;
use super::palette::{self, Shelf};
use super::snippet::short;
use super::walk::Table;
use crate::palette::Palette;

/// A palette that was read, and the one that it is held against.
#[derive(Clone, Copy)]
pub(super) struct Beside<'b> {
    /// Where faults go.
    pub(super) sink: &'b Sink<'b>,
    /// What was read.
    pub(super) root: &'b DeTable<'b>,
    /// What it is, for messages: "the wishlist".
    pub(super) called: &'b str,
    /// The palette that the brief names.
    pub(super) main: &'b Palette,
}

impl Beside<'_> {
    /// Complains where scores are on another scale.
    pub(super) fn same_scale(&self, shelf: &Shelf) {
        if shelf.palette.scale != self.main.scale {
            self.differs("scale", &shelf.palette.scale.to_string(), &self.main.scale.to_string());
        }
    }

    /// Complains of a key that is not as in the palette.
    pub(super) fn differs(&self, key: &'static str, own: &str, other: &str) {
        let called = self.called;
        let message = format!("the `{key}` of {called} is {}, that of the palette {}", short(own), short(other));
        let help = format!("expected the same `{key}` as in {}", self.main.file);
        match Table::root(self.sink, self.root).get(key) {
            Some(field) => field.report(message, help),
            None => self.sink.report_file(&message, &help),
        }
    }

    /// Where each of its descriptors stands in the palette; complains of those
    /// that the palette does not have.
    pub(super) fn descriptors(&self, shelf: &Shelf) -> Places {
        let table = Table::root(self.sink, self.root);
        if let Some(inner) = table.get("descriptors").filter(|field| field.is_table())
            && let Some(descriptors) = inner.table("[descriptors]")
        {
            descriptors.named().for_each(|entry| {
                palette::descriptor(entry, self.main);
            });
        }
        Places::of(&shelf.palette, self.main)
    }
}

/// Where each descriptor of one palette stands in another.
pub(super) struct Places {
    places: Vec<Option<usize>>,
    width: usize,
}

impl Places {
    /// Descriptors are told apart by name.
    pub(super) fn of(palette: &Palette, main: &Palette) -> Places {
        let place = |name: &str| main.descriptors.iter().position(|known| known.name == name);
        let places = palette.descriptors.iter().map(|own| place(&own.name)).collect();
        Places { places, width: main.descriptors.len() }
    }

    /// Scores in the other palette's order; those that it has no descriptor for are
    /// left out.
    pub(super) fn scores(&self, own: &[f64]) -> Vec<f64> {
        let mut scores = vec![0.0; self.width];
        for (place, score) in self.places.iter().zip(own) {
            if let Some(place) = place {
                scores[*place] = *score;
            }
        }
        scores
    }
}
