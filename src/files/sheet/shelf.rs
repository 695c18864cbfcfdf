//! A sheet of materials read as a palette.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use super::cells::{Beside, Cells};
use super::columns::{Heading, KNOWN, Known, assigned, heading, in_percent, is_prefixed};
use super::number::{DecimalSign, Tells, tells};
use super::table::{Row, Setting, Table};
use super::{BottleUnit, ReadShelf, Reading, said, text};
use crate::escape::escaped;
use crate::files::fault::Sink;
use crate::files::form;
use crate::files::keys::{self, NumberKey};
use crate::files::palette::{DEFAULT_CURRENCY, DEFAULT_LASTING_PERCENT, DEFAULT_SCALE, NOTES};
use crate::files::snippet::short;
use crate::files::walk::REMARKS;
use crate::palette::{Descriptor, Material, Palette};
use crate::strength::Said;

const SETTINGS: &[&str] = &["#name", "#currency", "#scale", "#lasting_percent", "#remarks", "#decimal", "#meaning"];

/// Reads a shelf; of no use where the sink has faults afterwards.
pub(super) fn read(sink: &Sink<'_>, reading: &Reading) -> Option<ReadShelf> {
    let is_head =
        |cell: &str| matches!(reading.said(cell).unwrap_or_else(|| heading(cell, "")), Heading::Known(Known::Material));
    let table = Table::read(sink, reading.delimiter, SETTINGS, is_head)?;
    let settings = table.settings();
    let value = |key: &str| {
        let setting = settings.iter().find(|setting| setting.key == key)?;
        Some((setting.row, table.value(setting)?))
    };
    let text_of = |key: &str| value(key).map(|(_, (text, _))| text::decode(text));
    let name = text_of("#name").filter(|name| !name.trim().is_empty());
    let written = text_of("#currency").filter(|label| !label.trim().is_empty());
    let asked = reading.currency.clone();
    if let (Some(asked), Some(written)) = (&asked, &written)
        && asked != written
        && let Some((row, (_, at))) = value("#currency")
    {
        table.report(
            row,
            at,
            format!("the sheet is in {}", short(written)),
            format!("--currency says {}", short(asked)),
        );
    }
    let said = asked.or(written);
    let currency = (said.clone().unwrap_or_else(|| DEFAULT_CURRENCY.to_owned()), said.is_some());
    let mut cells = Cells {
        table: &table,
        sign: reading.decimal,
        evidence: String::new(),
        told: false,
        scale: DEFAULT_SCALE,
        currency: RefCell::new(currency),
        bottle: reading.bottle,
    };
    if let Some((row, (written, at))) = value("#decimal") {
        decimal(&mut cells, row, written, at);
    }
    if let Some((row, (written, at))) = value("#scale") {
        if cells.sign.is_none()
            && let Tells::Sign(sign) = tells(written, &keys::SCALE, keys::LARGEST_SCALE)
        {
            cells.sign = Some(sign);
            cells.evidence = format!("row {} has {}", row.number, short(written));
        }
        cells.scale = keys::LARGEST_SCALE;
        cells.scale = cells.number(row, at, &keys::SCALE, Beside::Nothing).unwrap_or(DEFAULT_SCALE);
    }
    let lasting_percent = value("#lasting_percent")
        .and_then(|(row, (_, at))| cells.number(row, at, &keys::LASTING_PERCENT, Beside::Nothing))
        .unwrap_or(DEFAULT_LASTING_PERCENT);
    let meanings = settings.iter().find(|setting| setting.key == "#meaning");
    let columns = Columns::read(&cells, meanings, reading);
    if !sink.is_clean() {
        // With the wrong headings every row would be wrong.
        return None;
    }
    if cells.bottle.is_none() && columns.of(Known::Bottle).is_some_and(|at| in_percent(table.head().cell(at))) {
        cells.bottle = Some(BottleUnit::Percent);
    }
    cells.settle(&columns.numbers());
    columns.no_repeated_prices(&cells);
    let mut materials = Vec::new();
    let mut first_of: BTreeMap<String, usize> = BTreeMap::new();
    let mut looks: BTreeMap<String, usize> = BTreeMap::new();
    let mut notes = Vec::new();
    let mut scored = vec![0; columns.descriptors.len()];
    let mut rows = Vec::new();
    for (count, row) in table.body().enumerate() {
        if count >= keys::MOST_MATERIALS {
            table.report(row, 0, "too many materials", format!("a palette holds at most {}", keys::MOST_MATERIALS));
            break;
        }
        columns.no_cell_without_heading(&cells, row);
        let material = material(&cells, &columns, row);
        if !material.name.is_empty()
            && let Some(first) = first_of.insert(material.name.clone(), row.number)
        {
            let at = columns.of(Known::Material).unwrap_or(0);
            let message = format!("there are two materials named \"{}\"", short(&material.name));
            table.report(row, at, message, format!("the other one is in row {first}"));
        }
        let look = form::folded(&material.name);
        if let Some(first) = looks.insert(look, materials.len())
            && let Some(other) = materials.get(first).map(|other: &Material| &other.name)
            && *other != material.name
        {
            let (a, b) = (escaped(other), escaped(&material.name));
            notes.push(format!(
                "rows {} and {}: \"{a}\" and \"{b}\" differ in capital letters, blanks or unseen characters alone",
                materials[first].place.line, row.number
            ));
        }
        for (scored, (at, _)) in scored.iter_mut().zip(&columns.descriptors) {
            *scored += usize::from(!row.cell(*at).is_empty());
        }
        materials.push(material);
        rows.push(row);
    }
    if rows.is_empty() {
        table.report(table.head(), 0, "there are no materials below the headings", "expected one row for each");
    }
    said::follow(&cells, columns.of(Known::StrengthOf), &rows, &mut materials);
    table.count_repeats();
    let currency = cells.currency.take().0;
    let descriptors = columns.descriptors.into_iter().map(|(_, descriptor)| descriptor).collect();
    let remarks = text_of("#remarks");
    let palette = Palette {
        file: sink.source.file.clone(),
        name,
        currency,
        scale: cells.scale,
        descriptors,
        lasting_percent,
        score_words: Vec::new(),
        materials,
        remarks,
        tied: None,
    };
    Some(ReadShelf { palette, scored, notes })
}

/// Reads how the sheet writes one half, which tells its decimal sign.
pub(super) fn decimal(cells: &mut Cells<'_>, row: &Row, written: &str, at: usize) {
    let sign = match written {
        "0.5" | ".5" => DecimalSign::Point,
        "0,5" | ",5" => DecimalSign::Comma,
        _ => return cells.report(row, at, format!("{} is not one half", short(written)), "expected 0.5 or 0,5"),
    };
    if cells.sign.is_some_and(|asked| asked != sign) {
        return cells.report(row, at, format!("the sheet writes one half as {written}"), "--decimal says otherwise");
    }
    cells.sign = Some(sign);
    cells.evidence = format!("row {} has {written}", row.number);
}

impl Reading {
    /// What the user says that a heading stands for.
    fn said(&self, cell: &str) -> Option<Heading> {
        let found = self.map.iter().find(|(heading, _)| is_heading(cell, heading));
        found.and_then(|(_, to)| assigned(cell, to))
    }
}

/// Whether a heading is the one that the user names.
fn is_heading(cell: &str, named: &str) -> bool {
    form::folded(cell) == form::folded(named)
}

/// Which column holds what.
struct Columns {
    known: Vec<(Known, usize)>,
    /// Columns that are left out.
    ignored: BTreeSet<usize>,
    /// Descriptors that nobody has called so: what is wrong in one of their
    /// cells may mean that the column is no smell.
    guessed: BTreeSet<usize>,
    descriptors: Vec<(usize, Descriptor)>,
    width: usize,
    blank: BTreeSet<usize>,
}

impl Columns {
    fn read(cells: &Cells<'_>, meanings: Option<&Setting<'_>>, reading: &Reading) -> Columns {
        let table = cells.table;
        let head = table.head();
        let mut columns = Columns {
            known: Vec::new(),
            ignored: BTreeSet::new(),
            guessed: BTreeSet::new(),
            descriptors: Vec::new(),
            width: 0,
            blank: BTreeSet::new(),
        };
        let named = reading.map.iter().map(|(heading, _)| heading).chain(&reading.ignore);
        for named in named.filter(|named| !head.iter().any(|cell| is_heading(cell, named))) {
            let hint = cells.hint(named, head.iter().filter(|cell| !cell.is_empty()).collect::<Vec<_>>());
            cells.report(head, 0, format!("no heading is called {}", short(named)), hint);
        }
        let mut names = BTreeSet::new();
        let meaning = |at: usize| meanings.filter(|row| row.at != at).map_or("", |row| row.row.cell(at));
        for (at, cell) in head.iter().enumerate() {
            columns.width = at + 1;
            let currency = cells.currency.borrow().0.clone();
            let said = reading.said(cell);
            let is_said = said.is_some() || !meaning(at).is_empty() || is_prefixed(cell);
            match said.unwrap_or_else(|| heading(cell, &currency)) {
                _ if reading.ignore.iter().any(|ignored| is_heading(cell, ignored)) => {
                    columns.ignored.insert(at);
                }
                _ if cell.is_empty() => {
                    columns.blank.insert(at);
                }
                Heading::Known(known) => {
                    if columns.of(known).is_some() {
                        cells.report(head, at, format!("the heading {} stands twice", short(cell)), "");
                    }
                    columns.known.push((known, at));
                    if !meaning(at).is_empty()
                        && let Some(row) = meanings
                    {
                        let help =
                            "only descriptors have a meaning; a descriptor of that name is headed `descriptor: ...`";
                        cells.report(row.row, at, format!("{} is no descriptor", short(cell)), help);
                    }
                }
                Heading::Unit(key, unit) => {
                    let help =
                        "expected the unit of palette.toml, or no brackets; a descriptor is headed `descriptor: ...`";
                    cells.report(head, at, format!("{} is not the unit of {key}", short(&unit)), help);
                }
                Heading::Near(name, key) if meaning(at).is_empty() => {
                    let help = format!("did you mean {key}? A descriptor is headed `descriptor: {}`", short(&name));
                    cells.report(head, at, format!("no heading is called {}", short(&name)), help);
                }
                Heading::Bookkeeping(name) if meaning(at).is_empty() => {
                    let help = format!(
                        "leave it out with --ignore \"{0}\", or say what it is with --map \"{0}=price\"; a smell is \
                         headed `descriptor: {0}`",
                        escaped(&name)
                    );
                    cells.report(head, at, format!("{} looks like bookkeeping, not like a smell", short(&name)), help);
                }
                Heading::Descriptor(name) | Heading::Near(name, _) | Heading::Bookkeeping(name) => {
                    if !is_said {
                        columns.guessed.insert(at);
                    }
                    if name.trim().is_empty() || name == REMARKS {
                        cells.report(head, at, "a descriptor cannot have this name", "expected a word");
                    } else if !names.insert(name.clone()) {
                        cells.report(head, at, format!("the descriptor {} stands twice", short(&name)), "");
                    }
                    let meaning = text::decode(meaning(at));
                    columns.descriptors.push((at, Descriptor { name, meaning }));
                }
            }
        }
        for (known, key) in [(Known::Material, "material"), (Known::Strength, "strength")] {
            if columns.of(known).is_none() {
                cells.report(
                    head,
                    0,
                    format!("there is no column `{key}`"),
                    "every material has a name and a strength; 0 is a carrier",
                );
            }
        }
        if columns.descriptors.is_empty() {
            let help = "every heading that is not a known one is a descriptor: rosy, fresh, ...";
            cells.report(head, 0, "there is no column for a descriptor", help);
        }
        if columns.descriptors.len() > keys::MOST_DESCRIPTORS {
            let help = format!("a palette holds at most {}", keys::MOST_DESCRIPTORS);
            cells.report(head, 0, "too many descriptors", help);
        }
        columns
    }

    /// The score in a cell. In a column that nobody has called a descriptor a
    /// fault asks whether it is one.
    fn score(&self, cells: &Cells<'_>, row: &Row, at: usize) -> Option<f64> {
        if self.guessed.contains(&at) && !row.cell(at).is_empty() && !cells.is_number(row, at, &keys::SCORE) {
            let heading = escaped(cells.table.head().cell(at));
            let help = format!(
                "{}; a column that is no smell is left out with --ignore \"{heading}\", a smell may be headed \
                 `descriptor: {heading}`",
                keys::SCORE.expected(Some(cells.scale))
            );
            cells.report(row, at, format!("{} is no score", short(row.cell(at))), help);
            return None;
        }
        cells.number(row, at, &keys::SCORE, Beside::Nothing)
    }

    /// Complains of a column that repeats the prices under another name.
    fn no_repeated_prices(&self, cells: &Cells<'_>) {
        const ENOUGH: usize = 3;
        let Some(price) = self.of(Known::Price) else { return };
        let table = cells.table;
        for &at in &self.guessed {
            let filled: Vec<&Row> = table.body().filter(|row| !row.cell(at).is_empty()).collect();
            if filled.len() >= ENOUGH && filled.iter().all(|row| row.cell(at) == row.cell(price)) {
                let heading = escaped(table.head().cell(at));
                let help =
                    format!("leave it out with --ignore \"{heading}\"; a smell is headed `descriptor: {heading}`");
                table.report(table.head(), at, format!("{} repeats the prices", short(&heading)), help);
            }
        }
    }

    fn of(&self, known: Known) -> Option<usize> {
        self.known.iter().find(|(other, _)| *other == known).map(|(_, at)| *at)
    }

    /// The columns of plain numbers, with their ranges.
    fn numbers(&self) -> Vec<(usize, &'static NumberKey)> {
        let known = self.known.iter().filter_map(|&(known, at)| Some((at, number_key(known)?)));
        known.chain(self.descriptors.iter().map(|(at, _)| (*at, &keys::SCORE))).collect()
    }

    fn no_cell_without_heading(&self, cells: &Cells<'_>, row: &Row) {
        let lost = |(at, cell): &(usize, &str)| !cell.is_empty() && (*at >= self.width || self.blank.contains(at));
        if self.blank.is_empty() && row.len() <= self.width {
            return;
        }
        for (at, cell) in row.iter().enumerate().filter(lost) {
            let help =
                "every column with something in it has a heading; a cell with the delimiter in it stands in quotes";
            cells.report(row, at, format!("{} stands under no heading", short(cell)), help);
        }
    }
}

fn number_key(known: Known) -> Option<&'static NumberKey> {
    Some(match known {
        Known::Strength => &keys::MATERIAL_STRENGTH,
        Known::Times => &keys::TIMES,
        Known::StrengthFactor => &keys::STRENGTH_FACTOR,
        Known::ScoreError => &keys::SCORE_ERROR,
        Known::Price => &keys::PRICE,
        Known::Min => &keys::MATERIAL_MIN,
        Known::Max => &keys::MATERIAL_MAX,
        Known::MaxInConcentrate => &keys::MAX_IN_CONCENTRATE,
        Known::MaxInProduct => &keys::MAX_IN_PRODUCT,
        Known::Step => &keys::MATERIAL_STEP,
        Known::Lasting => &keys::LASTING,
        Known::LastingFactor => &keys::LASTING_FACTOR,
        Known::MolarMass => &keys::MOLAR_MASS,
        Known::VapourPressure => &keys::VAPOUR_PRESSURE,
        Known::Stock => &keys::STOCK,
        _ => return None,
    })
}

fn material(cells: &Cells<'_>, columns: &Columns, row: &Row) -> Material {
    let number = |known, beside| columns.of(known).and_then(|at| cells.number(row, at, number_key(known)?, beside));
    let plain = |known| number(known, Beside::Nothing);
    let percent =
        |known| Some(crate::place::Placed { value: number(known, Beside::Percent)?, place: cells.place(row) });
    let dose = |known| columns.of(known).and_then(|at| cells.dose(row, at, number_key(known)?));
    let text = |known| columns.of(known).and_then(|at| cells.text(row, at));
    let name = text(Known::Material).unwrap_or_default();
    if let Some(at) = columns.of(Known::Material) {
        if name.trim().is_empty() {
            cells.report(row, at, "a material has no name", "every row that is not empty is a material");
        } else if name == REMARKS {
            cells.report(row, at, "a material cannot be named `remarks`", "that word is kept for free text");
        }
    }
    let (strength, said) = said::strength(cells, |known| columns.of(known), row);
    let strength_factor = match &said {
        Said::Number => plain(Known::StrengthFactor),
        other => other.own_factor(),
    };
    let formula = text(Known::Formula);
    if formula.is_some() {
        nothing_of_its_own(cells, columns, row);
    } else if let Some(at) = columns.of(Known::Strength)
        && row.cell(at).is_empty()
        && columns.of(Known::StrengthOf).is_none_or(|at| row.cell(at).is_empty())
    {
        cells.report(
            row,
            at,
            format!("\"{}\" has no strength", short(&name)),
            "expected its strength beside the others, by dilution; 0 for a carrier",
        );
    }
    let mut scores = vec![0.0; columns.descriptors.len()];
    for (score, &(at, _)) in scores.iter_mut().zip(&columns.descriptors) {
        *score = columns.score(cells, row, at).unwrap_or(0.0);
        if strength == Some(0.0) && *score > 0.0 {
            cells.report(row, at, "a carrier has no scores", "a strength of 0 says that it smells of nothing");
        }
    }
    let mut bottles = columns.of(Known::Bottle).map(|at| cells.bottles(row, at)).unwrap_or_default();
    if let (Some(carrier), Some(at)) = (text(Known::Carrier), columns.of(Known::Carrier)) {
        match &mut bottles[..] {
            [bottle] if bottle.carrier.is_none() => bottle.carrier = Some(carrier),
            _ => cells.report(
                row,
                at,
                "a carrier without its one bottle",
                "expected one percentage in `bottle` beside it",
            ),
        }
    }
    if bottles.iter().any(|bottle| bottle.carrier.as_ref() == Some(&name))
        && let Some(at) = columns.of(Known::Bottle)
    {
        let help = "the carrier of a bottle is another material, or any other text";
        cells.report(row, at, format!("\"{}\" is diluted in itself", short(&name)), help);
    }
    let (min, max) = (dose(Known::Min), dose(Known::Max));
    let fraction = bottles.first().map_or(1.0, |bottle| bottle.percent / 100.0);
    if let (Some(least), Some(most), Some(at)) = (&min, &max, columns.of(Known::Min))
        && (if fraction == 1.0 {
            least.value > most.value
        } else {
            least.value.as_f64() * fraction > most.value.as_f64()
        })
    {
        cells.report(row, at, "min lies above max", format!("min is {}, max is {}", least.value, most.value));
    }
    let usual = |known| columns.of(known).and_then(|at| cells.usual(row, at, known == Known::UsualInConcentrate));
    let (in_ppt, in_percent) = (usual(Known::Usual), usual(Known::UsualInConcentrate));
    if let (Some(_), Some(_), Some(at)) = (in_ppt, in_percent, columns.of(Known::UsualInConcentrate)) {
        cells.report(row, at, "`usual` and `usual_in_concentrate` say the same thing", "leave one of the two empty");
    }
    Material {
        name,
        place: cells.place(row),
        cas: columns
            .of(Known::Cas)
            .filter(|&at| !row.cell(at).is_empty())
            .and_then(|at| cells.cas(row, at, row.cell(at))),
        strength: strength.unwrap_or(1.0),
        strength_factor,
        said,
        scores,
        score_words: Vec::new(),
        score_error: plain(Known::ScoreError),
        price_per_kg: number(Known::Price, Beside::Money),
        min,
        max,
        max_in_concentrate_percent: percent(Known::MaxInConcentrate),
        max_in_product_percent: percent(Known::MaxInProduct),
        step: dose(Known::Step),
        usual: in_ppt.or(in_percent),
        tags: columns.of(Known::Tags).map(|at| cells.tags(row, at)).unwrap_or_default(),
        note: columns.of(Known::Note).and_then(|at| cells.note(row, at, &NOTES)),
        lasting_hours: plain(Known::Lasting),
        lasting_factor: plain(Known::LastingFactor),
        molar_mass: plain(Known::MolarMass),
        vapour_pressure: plain(Known::VapourPressure),
        natural: columns.of(Known::Natural).and_then(|at| cells.flag(row, at)).unwrap_or(false),
        constituents: columns.of(Known::Constituents).and_then(|at| cells.constituents(row, at)),
        bottles,
        packs: columns.of(Known::Packs).map(|at| cells.packs(row, at)).unwrap_or_default(),
        stock_grams: plain(Known::Stock),
        have: columns.of(Known::Have).and_then(|at| cells.flag(row, at)).unwrap_or(true),
        handling: text(Known::Handling),
        remarks: text(Known::Remarks),
        formula,
        base: None,
    }
}

/// Complains about cells of a base that say what follows from its formula.
fn nothing_of_its_own(cells: &Cells<'_>, columns: &Columns, row: &Row) {
    let keys = [Known::Strength, Known::StrengthOf, Known::Times, Known::Price, Known::Natural, Known::Constituents];
    let known = keys.into_iter().filter_map(|known| columns.of(known));
    let scores = columns.descriptors.iter().map(|(at, _)| *at);
    for at in known.chain(scores).filter(|at| !row.cell(*at).is_empty()) {
        cells.report(
            row,
            at,
            "this follows from the formula of a base",
            "leave the cell empty, or that of the formula",
        );
    }
}

/// The keys of the columns, for the documentation.
pub(super) fn known_keys() -> impl Iterator<Item = &'static str> {
    KNOWN.into_iter().map(|(_, key, _)| key)
}
