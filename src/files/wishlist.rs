//! A second palette: what could be bought besides. It is read as a palette and
//! held against the one that a brief names.

use std::path::Path;

use toml::de::DeTable;

use super::fault::{Sink, Tally};
use super::palette::{self, Shelf};
use super::reach::read_path;
use super::snippet::short;
use super::source::Source;
use super::walk::Table;
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
        // Descriptors are told apart by name: the scores move to the shelf's.
        let places: Vec<Option<usize>> = wished
            .palette
            .descriptors
            .iter()
            .map(|own| main.descriptors.iter().position(|known| known.name == own.name))
            .collect();
        let width = main.descriptors.len();
        for mut material in wished.palette.materials {
            let mut scores = vec![0.0; width];
            for (place, score) in places.iter().zip(&material.scores) {
                if let Some(place) = place {
                    scores[*place] = *score;
                }
            }
            material.scores = scores;
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
    let table = Table::root(sink, root);
    let differs = |key: &'static str, own: &str, other: &str| {
        let message = format!("the `{key}` of the wishlist is {}, that of the palette {}", short(own), short(other));
        let help = format!("expected the same `{key}` as in {}", main.file);
        match table.get(key) {
            Some(field) => field.report(message, help),
            None => sink.report_file(&message, &help),
        }
    };
    if shelf.palette.currency != main.currency {
        differs("currency", &format!("\"{}\"", shelf.palette.currency), &format!("\"{}\"", main.currency));
    }
    if shelf.palette.scale != main.scale {
        differs("scale", &shelf.palette.scale.to_string(), &main.scale.to_string());
    }
    if let Some(inner) = table.get("descriptors").filter(|field| field.is_table())
        && let Some(descriptors) = inner.table("[descriptors]")
    {
        descriptors.named().for_each(|entry| {
            palette::descriptor(entry, main);
        });
    }
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
