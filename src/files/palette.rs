//! palette.toml.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::base;
use super::fault::Sink;
use super::keys;
use super::near;
use super::rule::{ordered, ordered_doses};
use super::said;
use super::snippet::short;
use super::value::Field;
use super::walk::{REMARKS, Table, tables};
use crate::palette::{Bottle, Cas, Descriptor, Material, Note, Pack, Palette, Usual};
use crate::strength::Said;
use crate::units::Ppt;

/// A palette as far as it could be read.
#[derive(Clone)]
pub(super) struct Shelf {
    /// What was read; of no use but for its names unless `sound`.
    pub(super) palette: Palette,
    /// Where each material is named.
    pub(super) spans: Vec<Range<usize>>,
    /// Whether every name in it could be read, so that names elsewhere can be
    /// held against it.
    pub(super) names_known: bool,
    /// Whether nothing is wrong with it.
    pub(super) sound: bool,
    /// Materials that are bases: which, and where their formula is named.
    pub(super) bases: Vec<(usize, Range<usize>)>,
}

impl Shelf {
    /// What stands for a palette that could not be read.
    pub(super) fn unknown() -> Shelf {
        let palette = Palette {
            file: "".into(),
            name: None,
            currency: DEFAULT_CURRENCY.into(),
            scale: DEFAULT_SCALE,
            descriptors: Vec::new(),
            lasting_percent: DEFAULT_LASTING_PERCENT,
            score_words: Vec::new(),
            materials: Vec::new(),
            remarks: None,
            tied: None,
        };
        Shelf { palette, spans: Vec::new(), names_known: false, sound: false, bases: Vec::new() }
    }
}

pub(super) const NOTES: [(&str, Note); 3] =
    [("opening", Note::Opening), ("heart", Note::Heart), ("drydown", Note::Drydown)];
pub(super) const DEFAULT_CURRENCY: &str = "EUR";
pub(super) const DEFAULT_SCALE: f64 = 10.0;
pub(super) const DEFAULT_LASTING_PERCENT: f64 = 100.0;

/// Reads a palette, and the formulas of its bases.
pub(super) fn read(sink: &Sink<'_>, root: &DeTable<'_>) -> Shelf {
    let mut shelf = read_as_written(sink, root);
    base::fill(sink, &mut shelf);
    shelf.sound = sink.is_clean();
    shelf
}

/// Reads a palette; its bases have nothing of their formulas yet.
pub(super) fn read_as_written(sink: &Sink<'_>, root: &DeTable<'_>) -> Shelf {
    let root = Table::root(sink, root);
    let name = root.get("name").and_then(Field::name).map(str::to_owned);
    let currency = root.get("currency").and_then(Field::name).unwrap_or(DEFAULT_CURRENCY).to_owned();
    let scale = root.get("scale").and_then(|field| field.number(&keys::SCALE)).unwrap_or(DEFAULT_SCALE);
    let lasting_percent = root
        .get("lasting_percent")
        .and_then(|field| field.number(&keys::LASTING_PERCENT))
        .unwrap_or(DEFAULT_LASTING_PERCENT);
    let descriptors = root
        .require("descriptors", "expected a table of the descriptors and their meanings: rosy = \"rose petals\"")
        .map(descriptors)
        .unwrap_or_default();
    let score_words = root.get("score_words").map(|field| said::score_words(field, scale)).unwrap_or_default();
    let mut shelf = Shelf {
        palette: Palette {
            file: sink.source.file.clone(),
            name,
            currency,
            scale,
            descriptors,
            lasting_percent,
            score_words,
            materials: Vec::new(),
            remarks: root.remarks(),
            tied: None,
        },
        spans: Vec::new(),
        names_known: false,
        sound: false,
        bases: Vec::new(),
    };
    let materials = root.require("material", "a palette has at least one [[material]]");
    let mut first_of: BTreeMap<&str, usize> = BTreeMap::new();
    let listed = materials.map(|field| tables(field, "[[material]]")).unwrap_or_default();
    if let (Some(field), true) = (materials, listed.is_empty() && sink.is_clean()) {
        field.report_key("the palette has no materials", "expected at least one [[material]]");
    }
    if listed.len() > keys::MOST_MATERIALS {
        root.report("too many materials", &format!("a palette holds at most {}", keys::MOST_MATERIALS));
    }
    let readable = sink.broken.is_empty() && !shelf.palette.descriptors.is_empty() && !listed.is_empty();
    shelf.names_known = readable;
    let mut followed: Vec<Option<Range<usize>>> = Vec::new();
    for table in listed.iter().take(keys::MOST_MATERIALS) {
        let (material, named) = material(table, &shelf.palette);
        let Some(named) = named else {
            shelf.names_known = false;
            continue;
        };
        if let Some(first) = first_of.insert(named.0, table.place().line) {
            let message = format!("there are two materials named \"{}\"", short(named.0));
            sink.report(named.1.clone(), message, format!("the other one is on line {first}"));
            continue;
        }
        followed.push(table.get("strength_of").map(|field| field.value.span()));
        if let Some(field) = table.get("formula") {
            shelf.bases.push((shelf.palette.materials.len(), field.value.span()));
        }
        shelf.palette.materials.push(material);
        shelf.spans.push(named.1);
    }
    check_bottles(sink, &shelf);
    if shelf.names_known {
        said::follow(sink, &mut shelf.palette, &followed);
    }
    root.close();
    shelf.sound = sink.is_clean();
    shelf
}

fn descriptors(field: &Field<'_>) -> Vec<Descriptor> {
    let Some(table) = field.table("[descriptors]") else { return Vec::new() };
    let mut descriptors = Vec::new();
    for entry in table.named() {
        if entry.key.trim().is_empty() {
            entry.report_key("a descriptor has no name", "expected a word");
        }
        let meaning = entry.text().unwrap_or_default().to_owned();
        descriptors.push(Descriptor { name: entry.key.to_owned(), meaning });
    }
    if descriptors.len() > keys::MOST_DESCRIPTORS {
        table.report("too many descriptors", &format!("a palette holds at most {}", keys::MOST_DESCRIPTORS));
        descriptors.truncate(keys::MOST_DESCRIPTORS);
    }
    if descriptors.is_empty() {
        table.missing("[descriptors] is empty", "expected at least one descriptor: rosy = \"rose petals\"");
    }
    table.close_named();
    descriptors
}

/// A material, and its name with the place of it where it has one.
fn material<'a>(table: &Table<'a>, palette: &Palette) -> (Material, Option<(&'a str, Range<usize>)>) {
    let named = table.require("name", "every material has a name").and_then(|field| {
        let name = field.name()?;
        if name == REMARKS {
            field.report("a material cannot be named `remarks`", "that word is kept for free text");
        }
        Some((name, field.value.span()))
    });
    let number = |key, range| table.get(key).and_then(|field| field.number(range));
    let placed = |key, range| table.get(key).and_then(|field| Some(field.placed(field.number(range)?)));
    let dose = |key, range| table.get(key).and_then(|field| Some(field.placed(field.dose(range)?)));
    let (strength, said) = match table.get("formula") {
        None => said::strength(table),
        Some(_) => {
            base::nothing_of_its_own(table);
            (None, Said::Number)
        }
    };
    let strength_factor = match &said {
        Said::Number => number("strength_factor", &keys::STRENGTH_FACTOR),
        other => other.own_factor(),
    };
    let (scores, score_words) = scores(table, palette, strength == Some(0.0));
    let material = Material {
        name: named.as_ref().map_or(String::new(), |(name, _)| (*name).to_owned()),
        place: table.place(),
        cas: table.get("cas").and_then(Field::cas),
        strength: strength.unwrap_or(1.0),
        strength_factor,
        said,
        scores,
        score_words,
        score_error: table
            .get("score_error")
            .and_then(|field| field.number_on_scale(&keys::SCORE_ERROR, Some(palette.scale))),
        price_per_kg: number("price", &keys::PRICE),
        min: dose("min", &keys::MATERIAL_MIN),
        max: dose("max", &keys::MATERIAL_MAX),
        max_in_concentrate_percent: placed("max_in_concentrate", &keys::MAX_IN_CONCENTRATE),
        max_in_product_percent: placed("max_in_product", &keys::MAX_IN_PRODUCT),
        step: dose("step", &keys::MATERIAL_STEP),
        usual: usual(table),
        tags: table.get("tags").map(tags).unwrap_or_default(),
        note: table.get("note").and_then(|field| field.word(&NOTES)),
        lasting_hours: number("lasting", &keys::LASTING),
        lasting_factor: number("lasting_factor", &keys::LASTING_FACTOR),
        molar_mass: number("molar_mass", &keys::MOLAR_MASS),
        vapour_pressure: number("vapour_pressure", &keys::VAPOUR_PRESSURE),
        natural: table.get("natural").and_then(Field::flag).unwrap_or(false),
        constituents: table.get("constituents").and_then(constituents),
        bottles: table.get("bottle").map(bottles).unwrap_or_default(),
        packs: table.get("packs").map(packs).unwrap_or_default(),
        stock_grams: number("stock", &keys::STOCK),
        have: table.get("have").and_then(Field::flag).unwrap_or(true),
        handling: table.get("handling").and_then(Field::text).map(str::to_owned),
        remarks: table.remarks(),
        formula: table.get("formula").and_then(Field::name).map(str::to_owned),
        base: None,
    };
    // In a brief whose parts count what is poured, min counts the bottle's
    // content and max the neat material: the two meet only after dilution.
    let fraction = material.usual_fraction();
    if fraction == 1.0 {
        ordered_doses(table, "min", "max", &material.min, &material.max);
    } else if let (Some(min), Some(max)) = (&material.min, &material.max) {
        ordered(table, "min", "max", Some(min.value.as_f64() * fraction), Some(max.value.as_f64()));
    }
    table.close();
    (material, named)
}

/// The usual doses, in ppt or in percent of the concentrate.
fn usual(table: &Table<'_>) -> Option<Usual> {
    let (in_ppt, in_percent) = (table.get("usual"), table.get("usual_in_concentrate"));
    if let (Some(one), Some(other)) = (in_ppt, in_percent) {
        let line = one.place().line;
        other.report_key(
            "`usual` and `usual_in_concentrate` say the same thing",
            format!("leave one of the two out; `usual` is on line {line}"),
        );
    }
    let read = |field: &Field<'_>, key: &keys::NumberKey| {
        let ends = field.list("two numbers: the least and the greatest usual dose")?;
        let [least, most] = &ends[..] else {
            let message = format!("`{}` has {} of two ends", field.key, ends.len());
            field.report(message, "expected the least and the greatest usual dose: [2, 40]");
            return None;
        };
        let (least_dose, most_dose) = (least.dose(key), most.dose(key));
        let (least_dose, most_dose) = (least_dose?, most_dose?);
        if least_dose > most_dose {
            let message = format!("`{}` begins above its end: {least_dose} > {most_dose}", field.key);
            least.report(message, "expected the lower end first");
            return None;
        }
        Some((least_dose, most_dose))
    };
    let in_percent = in_percent.and_then(|field| read(field, &keys::USUAL_IN_CONCENTRATE));
    let in_ppt = in_ppt.and_then(|field| read(field, &keys::USUAL));
    in_ppt.map(|(least, most)| Usual { least, most, in_percent: false }).or_else(|| {
        let ppt = |percent: Ppt| Ppt::from_units(percent.units() * Usual::PPT_PER_PERCENT);
        in_percent.map(|(least, most)| Usual { least: ppt(least), most: ppt(most), in_percent: true })
    })
}

/// The scores, and which of them were given in which of the palette's words.
fn scores(table: &Table<'_>, palette: &Palette, carrier: bool) -> (Vec<f64>, Vec<(usize, usize)>) {
    let mut scores = vec![0.0; palette.descriptors.len()];
    let mut in_words = Vec::new();
    let Some(inner) = table.get("scores").and_then(|field| field.table("scores")) else { return (scores, in_words) };
    for entry in inner.named() {
        let (score, word) = said::score(entry, palette);
        let Some(index) = descriptor(entry, palette) else { continue };
        scores[index] = score.unwrap_or(0.0);
        in_words.extend(word.map(|word| (index, word)));
        if carrier && scores[index] > 0.0 {
            entry.report("a carrier has no scores", "strength = 0 says that it smells of nothing");
        }
    }
    inner.close_named();
    (scores, in_words)
}

/// The descriptor that a key names.
pub(super) fn descriptor(entry: &Field<'_>, palette: &Palette) -> Option<usize> {
    let index = palette.descriptors.iter().position(|descriptor| descriptor.name == entry.key);
    if index.is_none() {
        let names = palette.descriptors.iter().map(|descriptor| descriptor.name.as_str());
        let message = format!("no descriptor is named `{}`", short(entry.key));
        let hint = if entry.sink.is_full() { String::new() } else { near::hint(entry.key, names) };
        entry.report_key(message, hint);
    }
    index
}

fn tags(field: &Field<'_>) -> Vec<String> {
    field.texts("tags", false).unwrap_or_default().into_iter().map(|(_, tag)| tag.to_owned()).collect()
}

fn constituents(field: &Field<'_>) -> Option<Vec<(Cas, f64)>> {
    let table = field.table("constituents")?;
    let mut constituents = Vec::new();
    for entry in table.named() {
        let (cas, percent) = (entry.key_cas(), entry.number(&keys::CONSTITUENT));
        if let (Some(cas), Some(percent)) = (cas, percent) {
            constituents.push((cas, percent));
        }
    }
    table.close_named();
    Some(constituents)
}

fn bottles(field: &Field<'_>) -> Vec<Bottle> {
    if matches!(field.value.get_ref(), DeValue::Array(items) if items.is_empty()) {
        field.report("`bottle` is an empty list", "expected a bottle: { percent = 10, carrier = \"...\" }");
    }
    let mut bottles = Vec::new();
    for table in tables(field, "bottle") {
        let percent = table.require("percent", "expected how much of the bottle is neat material, in percent by mass");
        let percent = percent.and_then(|field| field.number(&keys::BOTTLE_PERCENT));
        let carrier = table.get("carrier").and_then(Field::name).map(str::to_owned);
        table.close();
        if let Some(percent) = percent {
            bottles.push(Bottle { percent, carrier });
        }
    }
    bottles
}

fn packs(field: &Field<'_>) -> Vec<Pack> {
    if matches!(field.value.get_ref(), DeValue::Array(items) if items.is_empty()) {
        field.report("`packs` is an empty list", "expected a pack: { grams = 5, price = 4 }");
    }
    let mut packs = Vec::new();
    for table in tables(field, "packs") {
        let number = |key, range, what| table.require(key, what).and_then(|field| field.number(range));
        let grams = number("grams", &keys::PACK_GRAMS, "expected how many grams of neat material a pack holds");
        let price = number("price", &keys::PACK_PRICE, "expected the price of the whole pack");
        table.close();
        if let (Some(grams), Some(price)) = (grams, price) {
            packs.push(Pack { grams, price });
        }
    }
    if packs.len() > keys::MOST_PACKS {
        field.report("too many packs", format!("a material has at most {}", keys::MOST_PACKS));
    }
    packs
}

/// A material cannot be diluted in itself.
fn check_bottles(sink: &Sink<'_>, shelf: &Shelf) {
    for (material, span) in shelf.palette.materials.iter().zip(&shelf.spans) {
        if material.bottles.iter().any(|bottle| bottle.carrier.as_deref() == Some(&material.name)) {
            let message = format!("\"{}\" is diluted in itself", short(&material.name));
            sink.report(span.clone(), message, "the carrier of a bottle is another material, or any other text");
        }
    }
}
