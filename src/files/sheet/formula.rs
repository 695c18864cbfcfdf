//! A sheet of parts, grams or drops read as a formula.

use std::cell::RefCell;
use std::collections::BTreeMap;

use super::cells::{Beside, Cells};
use super::columns::in_percent;
use super::export::grams;
use super::shelf::decimal;
use super::table::{Row, Table};
use super::{BottleUnit, Reading, text};
use crate::brief::Basis;
use crate::files::fault::Sink;
use crate::files::formula::BASES;
use crate::files::keys;
use crate::files::snippet::short;
use crate::formula::Formula;
use crate::palette::Palette;
use crate::units::Ppt;

const SETTINGS: &[&str] = &["#title", "#basis", "#decimal", "#remarks"];

/// What the amounts of a sheet count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Count {
    /// Parts of a formula.
    Parts,
    /// Grams poured from the bottles.
    Grams,
    /// Drops from the bottles.
    Drops,
}

/// A formula from a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadSheet {
    /// The formula.
    pub formula: Formula,
    /// What was made of the amounts, in a sentence; none for parts.
    pub note: Option<String>,
}

fn count_of(cell: &str) -> Option<Count> {
    match cell.to_lowercase().as_str() {
        "parts" | "ppt" | "\u{2030}" | "parts (\u{2030})" | "parts (ppt)" => Some(Count::Parts),
        "grams" | "g" | "grams (g)" => Some(Count::Grams),
        "drops" => Some(Count::Drops),
        _ => None,
    }
}

fn is_material(cell: &str) -> bool {
    ["material", "name"].contains(&cell.to_lowercase().as_str())
}

/// Reads a formula; of no use where the sink has faults afterwards.
pub(super) fn read(sink: &Sink<'_>, palette: &Palette, reading: &Reading) -> Option<ReadSheet> {
    let table = Table::read(sink, reading.delimiter, SETTINGS, is_material)?;
    let settings = table.settings();
    let value = |key: &str| {
        let setting = settings.iter().find(|setting| setting.key == key)?;
        Some((setting.row, table.value(setting)?))
    };
    let mut cells = Cells {
        table: &table,
        sign: reading.decimal,
        evidence: String::new(),
        told: false,
        scale: palette.scale,
        currency: RefCell::default(),
        bottle: reading.bottle,
    };
    if let Some((row, (written, at))) = value("#decimal") {
        decimal(&mut cells, row, written, at);
    }
    let mut basis = Basis::Neat;
    if let Some((row, (written, at))) = value("#basis") {
        match BASES.iter().find(|(word, _)| word.eq_ignore_ascii_case(written)) {
            Some((_, found)) => basis = *found,
            None => table.report(row, at, format!("{} is no basis", short(written)), "expected neat or bottle"),
        }
    }
    let columns = columns(&table)?;
    check_units(&table, &columns, reading, value("#basis").is_some());
    let mut numbers = vec![(columns.amount, &keys::PART)];
    numbers.extend(columns.bottle.map(|at| (at, &keys::BOTTLE_PERCENT)));
    if cells.bottle.is_none() && columns.bottle.is_some_and(|at| in_percent(table.head().cell(at))) {
        cells.bottle = Some(BottleUnit::Percent);
    }
    cells.settle(&numbers);

    let names: BTreeMap<&str, usize> =
        palette.materials.iter().enumerate().map(|(at, it)| (it.name.as_str(), at)).collect();
    let mut amounts: BTreeMap<usize, Amount> = BTreeMap::new();
    for row in table.body() {
        let found = material(&cells, &columns, row, &names, palette);
        let amount = cells.number(row, columns.amount, &keys::PART, Beside::Nothing);
        let percent = columns.bottle.and_then(|at| {
            let written = row.cell(at);
            let value = cells.number(row, at, &keys::BOTTLE_PERCENT, Beside::Percent)?;
            if written.contains('%') { Some(value) } else { cells.bottle_percent(row, at, written, value) }
        });
        if row.cell(columns.amount).is_empty() {
            table.report(row, columns.amount, "there is no amount", "expected a number; 0 leaves the material out");
        }
        let (Some(material), Some(amount)) = (found, amount) else { continue };
        let dose = cells.dose(row, columns.amount, &keys::PART).map(|dose| dose.value).unwrap_or_default();
        let fraction = percent.map_or(palette.materials[material].usual_fraction(), |percent| percent / 100.0);
        let entry = amounts.entry(material).or_default();
        if entry.rows > 0 && columns.bottle.is_none() {
            table.report(
                row,
                columns.material,
                format!("\"{}\" stands twice", short(row.cell(columns.material))),
                "several bottles of a material need a column `bottle`",
            );
        }
        entry.rows += 1;
        entry.parts = entry.parts + dose;
        entry.poured += amount;
        entry.neat += amount * fraction;
    }
    let poured: f64 = amounts.values().map(|amount| amount.poured).sum();
    let neat: f64 = amounts.values().map(|amount| amount.neat).sum();
    if sink.is_clean() && poured <= 0.0 {
        table.report(table.head(), columns.amount, "the formula has no parts", "expected at least one amount above 0");
    }
    if poured > keys::LARGEST_SUM_PPT as f64 {
        table.report(table.head(), columns.amount, "the amounts add up to more than a formula can hold", "");
    }
    table.count_repeats();
    if !sink.is_clean() {
        return None;
    }
    let title = value("#title").map(|(_, (title, _))| text::decode(title));
    let whole = |amount: &Amount| Ppt::from_ppt(amount.neat / neat * 1000.0);
    let parts = |of: &dyn Fn(&Amount) -> Ppt| {
        amounts.iter().map(|(at, amount)| (*at, of(amount))).filter(|(_, dose)| *dose > Ppt::ZERO).collect()
    };
    let formula = |basis, parts| Formula { file: None, title: title.clone(), basis, parts };
    Some(match columns.count {
        Count::Parts => ReadSheet { formula: formula(basis, parts(&|amount| amount.parts)), note: None },
        Count::Grams | Count::Drops => {
            let drop = reading.drop_grams.filter(|_| columns.count == Count::Drops);
            let per = drop.unwrap_or(1.0);
            let from = drop.map_or(String::new(), |drop| format!("{} drops of {} g: ", grams(poured), grams(drop)));
            let note = format!("{from}{} g poured, {} g of it neat material", grams(poured * per), grams(neat * per));
            ReadSheet { formula: formula(Basis::Neat, parts(&whole)).rescaled(), note: Some(note) }
        }
    })
}

#[derive(Clone, Copy, Debug, Default)]
struct Amount {
    rows: usize,
    parts: Ppt,
    poured: f64,
    neat: f64,
}

struct Columns {
    material: usize,
    amount: usize,
    count: Count,
    bottle: Option<usize>,
}

fn columns(table: &Table<'_>) -> Option<Columns> {
    let head = table.head();
    let (mut material, mut amount, mut bottle) = (None, None, None);
    let twice = |at: usize, cell: &str, is_taken: bool| {
        if is_taken {
            table.report(
                head,
                at,
                format!("{} is one heading too many", short(cell)),
                "expected material, then parts, grams or drops",
            );
        }
    };
    for (at, cell) in head.iter().enumerate().filter(|(_, cell)| !cell.is_empty()) {
        if is_material(cell) {
            twice(at, cell, material.is_some());
            material = Some(at);
        } else if let Some(count) = count_of(cell) {
            twice(at, cell, amount.is_some());
            amount = Some((at, count));
        } else if ["bottle", "bottle (%)", "bottle %"].contains(&cell.to_lowercase().as_str()) {
            twice(at, cell, bottle.is_some());
            bottle = Some(at);
        } else {
            let known = ["material", "parts", "grams", "drops", "bottle"];
            table.report(
                head,
                at,
                format!("no heading is called {}", short(cell)),
                crate::files::near::hint(cell, known),
            );
        }
    }
    if amount.is_none() {
        table.report(head, 0, "there is no column for the amounts", "expected one of parts, grams, drops");
    }
    let (amount, count) = amount?;
    Some(Columns { material: material?, amount, count, bottle })
}

fn check_units(table: &Table<'_>, columns: &Columns, reading: &Reading, has_basis: bool) {
    let say = |message: &str, help: &str| table.report(table.head(), columns.amount, message, help);
    match (columns.count, reading.drop_grams) {
        (Count::Drops, None) => say("these are drops", "say what one weighs, in grams: --drop-mass 0.02"),
        (Count::Parts | Count::Grams, Some(_)) => say("these are no drops", "--drop-mass goes with a column `drops`"),
        _ => {}
    }
    if columns.count == Count::Parts && columns.bottle.is_some() {
        say("parts have no bottle", "a column `bottle` goes with grams or drops");
    }
    if columns.count != Count::Parts && has_basis {
        say("grams and drops have no basis", "they are what was poured, and become neat parts");
    }
}

fn material(
    cells: &Cells<'_>,
    columns: &Columns,
    row: &Row,
    names: &BTreeMap<&str, usize>,
    palette: &Palette,
) -> Option<usize> {
    let name = cells.text(row, columns.material).unwrap_or_default();
    let found = names.get(name.as_str()).copied();
    if found.is_none() {
        let is_sum = ["total", "sum", "summe", "somme", "totale"].contains(&name.to_lowercase().trim_end_matches(':'));
        let help = if is_sum || name.is_empty() {
            "leave out the row with the sum".to_owned()
        } else {
            cells.hint(&name, palette.materials.iter().map(|material| material.name.as_str()))
        };
        cells.table.report(
            row,
            columns.material,
            format!("no material of the palette is named \"{}\"", short(&name)),
            help,
        );
    }
    for (at, cell) in row.iter().enumerate() {
        let known = at == columns.material || at == columns.amount || columns.bottle == Some(at);
        if !known && !cell.is_empty() && cells.table.head().cell(at).is_empty() {
            cells.report(
                row,
                at,
                format!("{} stands under no heading", short(cell)),
                "every column with something in it has a heading",
            );
        }
    }
    found
}
