//! What other noses make of the shelf: `noses` and `nose`.

use std::path::Path;
use std::sync::Arc;

use toml::de::DeTable;

use super::Known;
use crate::brief::Brief;
use crate::files::beside::Beside;
use crate::files::fault::{Sink, Tally};
use crate::files::near;
use crate::files::palette;
use crate::files::reach::read_named;
use crate::files::snippet::short;
use crate::files::value::Field;
use crate::files::walk::Table;
use crate::nose::{Heed, Impression, Nose};
use crate::palette::Palette;
use crate::place::Placed;

/// Reads the palettes of other noses and whose numbers the brief goes by.
pub(super) fn noses(root: &Table<'_>, folder: &Path, known: &Known<'_>, others: &mut Tally, brief: &mut Brief) {
    let listed = root.get("noses");
    if let Some(field) = listed {
        brief.noses.push(Nose::own(known.palette()));
        let texts = field.some_texts("the path of another palette, relative to the brief, or several", true);
        for (field, named) in texts.unwrap_or_default() {
            let main = known.shelf.names_known.then_some(known.palette());
            let read = read_named(&field, folder, named, others, |sink, root| read(sink, root, main));
            let Some(nose) = read.and_then(|(source, nose)| Some(named_by(nose?, &source.file))) else { continue };
            let taken = Heed::WORDS.iter().any(|(word, _)| *word == &*nose.name);
            if taken || brief.noses.iter().any(|other| other.name == nose.name) {
                let message = format!("a nose cannot be called \"{}\"", short(&nose.name));
                let why = if taken { "`nose` has a meaning of its own for it" } else { "another has that name" };
                field.report(message, format!("{why}: give its file another `name`"));
                continue;
            }
            brief.noses.push(nose);
        }
    }
    if let Some(field) = root.get("nose") {
        let heed = heed(field, &brief.noses, listed.is_some());
        brief.nose = heed.map(|heed| Placed { value: heed, place: field.place() });
    }
}

/// Whose numbers a value means.
fn heed(field: &Field<'_>, noses: &[Nose], are_listed: bool) -> Option<Heed> {
    let text = field.name()?;
    if let Some((_, heed)) = Heed::WORDS.iter().find(|(word, _)| *word == text) {
        if !are_listed {
            field.report_key("`nose` stands without `noses`", "`noses` names the palettes of other noses");
            return None;
        }
        return Some(*heed);
    }
    let found = noses.iter().position(|nose| &*nose.name == text);
    if found.is_none() {
        let known = Heed::WORDS.iter().map(|(word, _)| *word).chain(noses.iter().map(|nose| &*nose.name));
        field.report(format!("no nose is called \"{}\"", short(text)), near::hint(text, known));
    }
    found.map(Heed::One)
}

/// A nose whose shelf has no name of its own is called as its file is.
fn named_by(nose: Nose, file: &str) -> Nose {
    if !nose.name.is_empty() {
        return nose;
    }
    let stem = Path::new(file).file_stem().map(|stem| stem.to_string_lossy().into_owned());
    Nose { name: stem.unwrap_or_default().into(), ..nose }
}

/// Reads a nose's palette; `main` is the one that it is held against, where that is
/// known. `None` where something is wrong.
fn read(sink: &Sink<'_>, root: &DeTable<'_>, main: Option<&Palette>) -> Option<Nose> {
    let shelf = palette::read(sink, root);
    let main = main?;
    let beside = Beside { sink, root, called: "this nose", main };
    beside.same_scale(&shelf);
    let places = beside.descriptors(&shelf);
    let mut impressions: Vec<Option<Impression>> = vec![None; main.materials.len()];
    for (material, span) in shelf.palette.materials.iter().zip(&shelf.spans) {
        let Some(at) = main.materials.iter().position(|known| known.name == material.name) else {
            let names = main.materials.iter().map(|known| known.name.as_str());
            let message = format!("no material of the palette is named \"{}\"", short(&material.name));
            sink.report(span.clone(), message, near::hint(&material.name, names));
            continue;
        };
        if main.materials[at].is_carrier() && !material.is_carrier() {
            let message = format!("\"{}\" is odourless in the palette", short(&material.name));
            sink.report(span.clone(), message, "expected strength = 0 here too, or a strength there");
        }
        let scores = places.scores(&material.scores);
        impressions[at] = Some(Impression { scores, ..Impression::of(material) });
    }
    let name = shelf.palette.name.as_deref().unwrap_or_default();
    (shelf.sound && sink.is_clean()).then(|| Nose {
        name: name.into(),
        file: Arc::clone(&shelf.palette.file),
        impressions,
    })
}
