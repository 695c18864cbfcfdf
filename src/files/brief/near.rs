//! A known formula that a brief stays near to: `[near]`.

use std::path::Path;

use super::Known;
use crate::brief::{MovedBy, Near};
use crate::files::fault::Tally;
use crate::files::reach::read_named;
use crate::files::value::Field;
use crate::files::{composition, keys};

const MOVED_BY: [(&str, MovedBy); 2] =
    [(MovedBy::Odour.word(), MovedBy::Odour), (MovedBy::Parts.word(), MovedBy::Parts)];

/// The table, with the composition that it names.
pub(super) fn near(
    field: &Field<'_>,
    folder: &Path,
    known: &Known<'_>,
    others: &mut Tally,
    warnings: &mut Vec<String>,
) -> Option<Near> {
    let table = field.table("[near]")?;
    let named = table.require("formula", "expected the path of a known formula, relative to the brief");
    let by = table.get("by").and_then(|field| field.word(&MOVED_BY)).unwrap_or_default();
    let number = |key, range| table.get(key).and_then(|field| Some(field.placed(field.number(range)?)));
    let (within, give) = (number("within", &keys::NEAR_WITHIN), number("give", &keys::NEAR_GIVE));
    if table.get("within").is_none() && table.get("give").is_none() {
        table.missing("neither `within` nor `give` is given, so nothing is asked", "expected `within`, `give` or both");
    }
    table.close();
    let inner = named?;
    let palette = known.shelf.names_known.then_some(known.palette());
    let read =
        read_named(inner, folder, inner.name()?, others, |sink, root| composition::read(sink, root, palette, warnings));
    let composition = read.and_then(|(_, read)| read)?;
    if let Some(palette) = palette.filter(|_| known.shelf.sound) {
        let smells = |part: &crate::composition::Component| {
            part.material.is_some_and(|material| !palette.materials[material].is_carrier())
        };
        if !composition.parts.iter().any(smells) {
            let help = "expected a formula of which at least one part that smells is in the palette";
            inner.report("nothing of this formula is on the shelf", help);
            return None;
        }
    }
    Some(Near { place: field.place(), composition, by, within, give })
}
