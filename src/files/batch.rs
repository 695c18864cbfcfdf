//! batch.toml: what was weighed. Read together with the palette that it names.

use std::path::Path;

use toml::de::DeTable;
use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, Table as EditTable, Value};

use super::alone::named_palette;
use super::fault::{Faults, Sink, Tally};
use super::formula::{self, BASES};
use super::keys;
use super::reach::read_path;
use super::trials::date;
use super::value::Field;
use super::walk::{Table, tables};
use super::write::relative;
use crate::batch::{Batch, PouredLine};
use crate::brief::Basis;
use crate::formula::Formula;
use crate::number::{plain, significant};
use crate::palette::Palette;
use crate::store::{Disk, Store};

/// A share of a number by which what the file says of the whole vessel may
/// differ from what its lines add up to: three digits were written.
const ROUNDED: f64 = 0.002;
/// Grams by which it may differ besides.
const ROUNDED_GRAMS: f64 = 0.0005;

/// What a command was given to make a product of.
#[derive(Clone, Debug)]
pub enum Mixed {
    /// A formula, which nobody says was weighed.
    Formula(Formula),
    /// What was weighed.
    Batch(Batch),
}

/// Reads a formula or a batch, whichever a file is, and the palette that it
/// names; with what is no fault, but may not be what was meant. A file with a
/// `[[line]]` is a batch.
///
/// # Errors
/// All the faults of both files.
pub fn load_mixed_in(store: &dyn Store, path: &Path) -> Result<(Palette, Mixed, Vec<String>), Faults> {
    let (mut tally, mut own) = (Tally::default(), Tally::default());
    let mut warnings = Vec::new();
    let read = read_path(store, path, &mut own, |sink, root| {
        let shelf = named_palette(sink, root, path, &mut tally);
        let known = shelf.as_ref().filter(|shelf| shelf.names_known).map(|shelf| &shelf.palette);
        let mixed = match is_batch(root) {
            true => Mixed::Batch(read(sink, root, known, &mut warnings)),
            false => Mixed::Formula(formula::read(sink, root, known, &mut warnings).formula),
        };
        (shelf.map(|shelf| shelf.palette), mixed)
    });
    tally.append(own);
    // A file without a palette has a fault and does not come this far.
    let named = read.and_then(|(_, (palette, mixed))| Some((palette?, mixed)));
    let (palette, mixed) = tally.finish(named)?;
    Ok((palette, mixed, warnings))
}

/// Whether a document is a batch.
pub(super) fn is_batch(root: &DeTable<'_>) -> bool {
    root.iter().any(|(key, _)| key.get_ref() == "line")
}

/// Reads a batch; `None` for the shelf where no names are known.
pub(super) fn read(
    sink: &Sink<'_>,
    root: &DeTable<'_>,
    palette: Option<&Palette>,
    warnings: &mut Vec<String>,
) -> Batch {
    let root = Table::root(sink, root);
    let text = |key| root.get(key).and_then(Field::text).map(str::to_owned);
    let (title, label) = (text("title"), text("label"));
    let when = root.get("date").and_then(date);
    let formula = root.get("formula").and_then(Field::name).map(str::to_owned);
    let basis = root.get("basis").and_then(|field| field.word(&BASES)).unwrap_or_default();
    if let (Some(named), Some(palette)) = (root.get("palette").and_then(Field::name), palette) {
        warnings.extend(formula::other_palette(sink, named, palette));
    }
    let poured = root.require("line", "expected a table [[line]] for each thing that was poured");
    let tables = poured.map(|field| tables(field, "[[line]]")).unwrap_or_default();
    if let (Some(field), true) = (poured, tables.is_empty() && sink.is_clean()) {
        field.report_key("nothing was poured", "expected at least one [[line]]");
    }
    let lines: Vec<PouredLine> = tables.iter().filter_map(|table| line(table, basis, palette)).collect();
    let top_up = root.get("top_up").and_then(|field| top_up(field));
    let batch = Batch {
        file: Some(sink.source.file.clone()),
        title,
        label,
        date: when,
        formula,
        basis,
        lines,
        top_up,
        remarks: root.remarks(),
    };
    agree(&root, &batch, palette.is_some());
    root.close();
    batch
}

/// One thing that was poured.
fn line(table: &Table<'_>, basis: Basis, palette: Option<&Palette>) -> Option<PouredLine> {
    let named = table.require("material", "expected a material of the palette: material = \"Linalool\"");
    let grams = table.require("grams", "expected what was poured: grams = 1.234");
    let bottle = table.get("bottle").map(|field| bottle(field));
    table.close();
    let material = named.and_then(|field| formula::material(field, field.name()?, false, palette?));
    let grams = grams.and_then(|field| field.number(&keys::BATCH_GRAMS));
    let (percent, carrier) = bottle.unwrap_or(Some((100.0, None)))?;
    let (material, palette) = (material?, palette?);
    let usual = 100.0 * palette.materials[material].usual_fraction();
    if basis == Basis::Bottle && (percent - usual).abs() > 1e-9 * usual {
        let message = format!("this batch counts what is poured from usual bottles, and this one holds {percent} %");
        table.report(&message, &format!("the palette's usual bottle holds {} %", plain(usual)));
    }
    Some(PouredLine { material, percent, carrier, grams: grams? })
}

/// Percent and carrier of a bottle; a complaint where there is none.
fn bottle(field: &Field<'_>) -> Option<(f64, Option<String>)> {
    let table = field.table("bottle")?;
    let percent = table.require("percent", "expected bottle = { percent = 10, carrier = \"...\" }");
    let carrier = table.get("carrier").and_then(Field::name).map(str::to_owned);
    table.close();
    Some((percent?.number(&keys::BATCH_PERCENT)?, carrier))
}

fn top_up(field: &Field<'_>) -> Option<(String, f64)> {
    let table = field.table("[top_up]")?;
    let carrier = table.require("carrier", "expected what filled the vessel up: carrier = \"...\"");
    let grams = table.require("grams", "expected how much of it: grams = 5");
    table.close();
    Some((carrier?.name()?.to_owned(), grams?.number(&keys::TOP_UP_GRAMS)?))
}

/// What the file says of the whole vessel must be what its lines add up to;
/// where a line was wrong, nobody knows.
fn agree(root: &Table<'_>, batch: &Batch, known: bool) {
    let concentration = root.get("concentration");
    let said = concentration.and_then(|field| field.number(&keys::BATCH_CONCENTRATION));
    let carriers = root.get("carriers").and_then(|field| field.table("[carriers]"));
    let count = root.get("line").map_or(0, |field| field.value.get_ref().as_array().map_or(1, |lines| lines.len()));
    let sound = known && !batch.lines.is_empty() && batch.lines.len() == count;
    if let (Some(field), Some(said), true) = (concentration, said, sound) {
        let is = batch.concentration_percent();
        if (said - is).abs() > ROUNDED * is {
            let (said, is) = (plain(said), significant(is, 4, 0, 6));
            field.report(
                format!("`concentration` says {said} %, the lines make {is} %"),
                "write what the lines make, or leave `concentration` out",
            );
        }
    }
    let Some(table) = carriers else { return };
    let brought = batch.carriers();
    for entry in table.named() {
        let said = entry.number(&keys::BATCH_CARRIER);
        let is = brought.iter().find(|(name, _)| name == entry.key).map_or(0.0, |(_, grams)| *grams);
        if let (Some(said), true) = (said, sound)
            && (said - is).abs() > ROUNDED * is + ROUNDED_GRAMS
        {
            let (said, is) = (plain(said), plain(is));
            entry.report(
                format!("[carriers] says {said} g, the bottles and [top_up] bring {is} g"),
                "write what they bring, or leave [carriers] out",
            );
        }
    }
    if sound {
        for (name, grams) in &brought {
            if table.named().all(|entry| entry.key != name) {
                let message = format!("[carriers] does not name {}, of which {} g are in it", name, plain(*grams));
                table.report(&message, "name all carriers, or leave [carriers] out");
            }
        }
    }
    table.close_named();
}

/// The text of batch.toml for a batch that will land at `path`; the path of its
/// formula is written as seen from there.
pub fn batch_text(batch: &Batch, palette: &Palette, path: &Path) -> String {
    batch_text_in(&Disk, batch, palette, path)
}

/// The same for any store.
pub fn batch_text_in(store: &dyn Store, batch: &Batch, palette: &Palette, path: &Path) -> String {
    let mut document = DocumentMut::new();
    let root = document.as_table_mut();
    let mut set = |key: &str, value: Value| {
        root.insert(key, Item::Value(value));
    };
    if let Some(title) = &batch.title {
        set("title", title.as_str().into());
    }
    if let Some(label) = &batch.label {
        set("label", label.as_str().into());
    }
    if let Some(date) = batch.date {
        set("date", date.to_string().parse().unwrap_or_else(|_| date.to_string().into()));
    }
    if let Some(formula) = &batch.formula {
        set("formula", relative(store, Path::new(formula), path).into());
    }
    set("palette", relative(store, Path::new(&*palette.file), path).into());
    set("basis", BASES.iter().find(|(_, basis)| *basis == batch.basis).map_or("neat", |(word, _)| word).into());
    set("concentration", number(six_digits(batch.concentration_percent())));
    let mut lines = ArrayOfTables::new();
    for line in &batch.lines {
        let mut table = EditTable::new();
        table.insert("material", Item::Value(palette.materials[line.material].name.as_str().into()));
        if line.percent < 100.0 {
            let mut bottle = InlineTable::new();
            bottle.insert("percent", number(line.percent));
            if let Some(carrier) = &line.carrier {
                bottle.insert("carrier", carrier.as_str().into());
            }
            table.insert("bottle", Item::Value(bottle.into()));
        }
        table.insert("grams", Item::Value(number(line.grams)));
        lines.push(table);
    }
    root.insert("line", Item::ArrayOfTables(lines));
    if let Some((carrier, grams)) = &batch.top_up {
        let mut table = EditTable::new();
        table.insert("carrier", Item::Value(carrier.as_str().into()));
        table.insert("grams", Item::Value(number(*grams)));
        root.insert("top_up", Item::Table(table));
    }
    let carriers = batch.carriers();
    if !carriers.is_empty() {
        let mut table = EditTable::new();
        for (name, grams) in &carriers {
            table.insert(name, Item::Value(number(*grams)));
        }
        root.insert("carriers", Item::Table(table));
    }
    format!("{HEAD}{document}")
}

/// What stands at the head of a batch that permil writes.
const HEAD: &str = "\
# What was weighed. Where the balance showed something else, correct `grams` and
# leave `concentration` and [carriers] out: they follow from the lines.

";

/// As many digits as anybody reads.
fn six_digits(value: f64) -> f64 {
    significant(value, 6, 0, 9).parse().unwrap_or(value)
}

fn number(value: f64) -> Value {
    plain(value).parse().unwrap_or_else(|_| value.into())
}
