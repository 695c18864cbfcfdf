//! A second palette: what could be bought besides. It is read as a palette and
//! held against the one that a brief names.

use std::path::Path;

use toml::de::DeTable;

use super::beside::{Beside, Places};
use super::fault::{Sink, Tally};
use super::palette::{self, Shelf};
use super::reach::read_path;
use super::snippet::short;
use super::source::Source;
use crate::palette::Palette;
use crate::store::Store;

/// The files that the materials of a shelf stand in.
pub(super) struct Origins {
    shelf: Source,
    wishlist: Option<Source>,
    /// Index of the first material of the wishlist.
    first_wished: usize,
}

impl Origins {
    /// Where everything stands in one file.
    pub(super) fn new(shelf: Source, materials: usize) -> Origins {
        Origins { shelf, wishlist: None, first_wished: materials }
    }

    /// The file of a material.
    pub(super) fn of(&self, material: usize) -> &Source {
        match &self.wishlist {
            Some(wishlist) if material >= self.first_wished => wishlist,
            _ => &self.shelf,
        }
    }

    /// Adds the materials of a wishlist to a shelf, each as one that could be
    /// bought.
    pub(super) fn add_wishlist(&mut self, shelf: &mut Shelf, store: &dyn Store, path: &Path, others: &mut Tally) {
        let main = &shelf.palette;
        let against = shelf.names_known.then_some(main);
        let Some((source, wished)) = read_path(store, path, others, |sink, root| read(sink, root, against)) else {
            return;
        };
        shelf.sound &= wished.sound;
        let places = Places::of(&wished.palette, main);
        for mut material in wished.palette.materials {
            material.scores = places.scores(&material.scores);
            material.have = false;
            shelf.palette.materials.push(material);
        }
        shelf.spans.extend(wished.spans);
        self.wishlist = Some(source);
    }
}

/// Reads a wishlist; `main` is the palette that it is held against, where
/// that is known.
fn read(sink: &Sink<'_>, root: &DeTable<'_>, main: Option<&Palette>) -> Shelf {
    let mut shelf = palette::read(sink, root);
    let Some(main) = main else { return shelf };
    let beside = Beside { sink, root, called: "the wishlist", main };
    if shelf.palette.currency != main.currency {
        let quoted = |currency: &str| format!("\"{currency}\"");
        beside.differs("currency", &quoted(&shelf.palette.currency), &quoted(&main.currency));
    }
    beside.same_scale(&shelf);
    beside.descriptors(&shelf);
    for (material, span) in shelf.palette.materials.iter().zip(&shelf.spans) {
        if let Some(other) = main.materials.iter().find(|other| other.name == material.name) {
            let message = format!("\"{}\" is in the palette already", short(&material.name));
            sink.report(
                span.clone(),
                message,
                format!("the other one is on line {} of {}", other.place.line, main.file),
            );
        }
    }
    shelf.sound = sink.is_clean();
    shelf
}
