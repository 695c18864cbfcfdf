//! Palettes and formulas as sheets that can be read back.

use csv::{QuoteStyle, WriterBuilder};

use super::Writing;
use super::columns::{KNOWN, Known, of_descriptor};
use super::number::{self, DecimalSign};
use super::text::{encode, join};
use crate::files::formula::BASES;
use crate::files::palette::{DEFAULT_LASTING_PERCENT, NOTES};
use crate::formula::Formula;
use crate::number::plain;
use crate::palette::{Bottle, Material, Palette, Usual};
use crate::strength::{Said, THRESHOLDS, Times};
use crate::units::Ppt;

/// Rows of cells, with a mark of UTF-8 at the beginning: older spreadsheets
/// take a file without one for something else.
struct Sheet {
    writer: csv::Writer<Vec<u8>>,
}

impl Sheet {
    fn new(writing: &Writing) -> Sheet {
        let writer = WriterBuilder::new()
            .delimiter(writing.delimiter)
            .quote_style(QuoteStyle::Necessary)
            .flexible(true)
            .from_writer("\u{feff}".as_bytes().to_vec());
        Sheet { writer }
    }

    fn row<S: AsRef<str>>(&mut self, cells: &[S]) {
        // Writing to memory cannot fail.
        let _ = self.writer.write_record(cells.iter().map(|cell| cell.as_ref().as_bytes()));
    }

    fn finish(self) -> Vec<u8> {
        self.writer.into_inner().unwrap_or_default()
    }
}

/// A palette as a sheet: one row a material.
pub fn palette_sheet(palette: &Palette, writing: &Writing) -> Vec<u8> {
    let mut sheet = Sheet::new(writing);
    let sign = writing.decimal;
    let mut setting = |key: &str, value: Option<&String>| {
        if let Some(value) = value {
            sheet.row(&[key, &encode(value)]);
        }
    };
    setting("#name", palette.name.as_ref());
    setting("#currency", Some(&palette.currency));
    setting("#remarks", palette.remarks.as_ref());
    sheet.row(&["#decimal", &number::cell(0.5, sign)]);
    sheet.row(&["#scale", &number::cell(palette.scale, sign)]);
    if palette.lasting_percent != DEFAULT_LASTING_PERCENT {
        sheet.row(&["#lasting_percent", &number::cell(palette.lasting_percent, sign)]);
    }
    let is_used =
        |known: &Known| always(*known) || palette.materials.iter().any(|it| !cell(*known, it, sign).is_empty());
    // The carriers stand with their bottles.
    let known: Vec<(Known, &str)> = KNOWN
        .into_iter()
        .filter(|(known, ..)| *known != Known::Carrier && is_used(known))
        .map(|(known, key, _)| (known, key))
        .collect();
    let mut meanings = vec![String::new(); known.len()];
    meanings[0] = "#meaning".to_owned();
    let meaning = |text: &String| if text.is_empty() { String::new() } else { encode(text) };
    meanings.extend(palette.descriptors.iter().map(|descriptor| meaning(&descriptor.meaning)));
    sheet.row(&meanings);
    let headings = known.iter().map(|(_, key)| (*key).to_owned());
    let headings: Vec<String> =
        headings.chain(palette.descriptors.iter().map(|descriptor| of_descriptor(&descriptor.name))).collect();
    sheet.row(&headings);
    for material in &palette.materials {
        let cells = known.iter().map(|(known, _)| cell(*known, material, sign));
        // Scores of a base follow from its formula.
        let is_said = |score: f64| score > 0.0 && material.formula.is_none();
        let score = |score: &f64| if is_said(*score) { number::cell(*score, sign) } else { String::new() };
        let cells: Vec<String> = cells.chain(material.scores.iter().map(score)).collect();
        sheet.row(&cells);
    }
    sheet.finish()
}

/// Columns that a person would look for even where they are empty.
fn always(known: Known) -> bool {
    matches!(known, Known::Material | Known::Cas | Known::Strength | Known::Price)
}

fn cell(known: Known, material: &Material, sign: DecimalSign) -> String {
    let number = |value: Option<f64>| value.map(|value| number::cell(value, sign)).unwrap_or_default();
    let dose = |value: &Option<crate::place::Placed<crate::units::Ppt>>| {
        value.as_ref().map(|dose| number::written(&dose.value.to_string(), sign)).unwrap_or_default()
    };
    let percent = |value: &Option<crate::place::Placed<f64>>| number(value.as_ref().map(|percent| percent.value));
    let text = |value: &Option<String>| value.as_deref().map(encode).unwrap_or_default();
    // Inside a list a spreadsheet changes nothing, so a point is as good.
    let inner = |value: f64| number::cell(value, DecimalSign::Point);
    let list = |elements: Vec<String>| if elements.is_empty() { String::new() } else { encode(&join(&elements)) };
    // Words between the ends: 2-40 would be a day to a spreadsheet.
    let usual = |in_percent: bool| match material.usual.filter(|usual| usual.in_percent == in_percent) {
        None => String::new(),
        Some(Usual { least, most, in_percent: false }) => format!("{least} to {most}"),
        Some(Usual { least, most, in_percent: true }) => {
            let [least, most] = [least, most].map(|end| Ppt::from_units(end.units() / Usual::PPT_PER_PERCENT));
            format!("{least} to {most} %")
        }
    };
    let follows = matches!(known, Known::Strength | Known::Price | Known::Constituents | Known::Natural);
    if material.formula.is_some() && follows {
        return String::new();
    }
    match known {
        Known::Material => encode(&material.name),
        Known::Cas => material.cas.as_ref().map(|cas| format!("CAS {cas}")).unwrap_or_default(),
        Known::Strength => match &material.said {
            Said::Number => number(Some(material.strength)),
            Said::Word { word, .. } => word.word().to_owned(),
            Said::Of { .. } => String::new(),
        },
        Known::StrengthOf => match &material.said {
            Said::Of { of, .. } => encode(of),
            _ => String::new(),
        },
        Known::Times => match &material.said {
            Said::Of { times: Times::Number(times), .. } => number(Some(*times)),
            Said::Of { times: Times::Thresholds, .. } => THRESHOLDS.to_owned(),
            _ => String::new(),
        },
        Known::StrengthFactor => number(material.said.written_factor(material.strength_factor)),
        Known::ScoreError => number(material.score_error),
        Known::Price => number(material.price_per_kg),
        Known::Min => dose(&material.min),
        Known::Max => dose(&material.max),
        Known::MaxInConcentrate => percent(&material.max_in_concentrate_percent),
        Known::MaxInProduct => percent(&material.max_in_product_percent),
        Known::Step => dose(&material.step),
        Known::Usual => usual(false),
        Known::UsualInConcentrate => usual(true),
        Known::Tags => list(material.tags.clone()),
        Known::Note => {
            NOTES.iter().find(|(_, note)| Some(*note) == material.note).map_or("", |(word, _)| word).to_owned()
        }
        Known::Lasting => number(material.lasting_hours),
        Known::LastingFactor => number(material.lasting_factor),
        Known::MolarMass => number(material.molar_mass),
        Known::VapourPressure => number(material.vapour_pressure),
        Known::Natural => (if material.natural { "yes" } else { "" }).to_owned(),
        Known::Constituents => match &material.constituents {
            None => String::new(),
            Some(none) if none.is_empty() => "none".to_owned(),
            Some(some) => list(some.iter().map(|(cas, percent)| format!("{cas} = {} %", inner(*percent))).collect()),
        },
        Known::Bottle => {
            let bottle = |bottle: &Bottle| match &bottle.carrier {
                Some(carrier) => format!("{} % in {carrier}", inner(bottle.percent)),
                None => format!("{} %", inner(bottle.percent)),
            };
            list(material.bottles.iter().map(bottle).collect())
        }
        Known::Carrier => String::new(),
        Known::Packs => {
            list(material.packs.iter().map(|pack| format!("{} g = {}", inner(pack.grams), inner(pack.price))).collect())
        }
        Known::Stock => number(material.stock_grams),
        Known::Have => (if material.have { "" } else { "no" }).to_owned(),
        Known::Handling => text(&material.handling),
        Known::Formula => text(&material.formula),
        Known::Remarks => text(&material.remarks),
    }
}

/// A formula as a sheet: one row a material, the largest part first.
pub fn formula_sheet(formula: &Formula, palette: &Palette, writing: &Writing) -> Vec<u8> {
    let mut sheet = Sheet::new(writing);
    if let Some(title) = &formula.title {
        sheet.row(&["#title", &encode(title)]);
    }
    let basis = BASES.iter().find(|(_, basis)| *basis == formula.basis).map_or("neat", |(word, _)| word);
    sheet.row(&["#basis", basis]);
    sheet.row(&["#decimal", &number::cell(0.5, writing.decimal)]);
    sheet.row(&["material", "parts"]);
    let mut parts: Vec<_> =
        formula.parts.iter().filter_map(|(at, dose)| Some((palette.materials.get(*at)?, *dose))).collect();
    parts.sort_by_key(|&(material, dose)| (std::cmp::Reverse(dose), &material.name));
    for (material, dose) in parts {
        sheet.row(&[encode(&material.name), number::written(&dose.to_string(), writing.decimal)]);
    }
    sheet.finish()
}

/// A price in full, for a note.
pub(super) fn grams(value: f64) -> String {
    plain((value * 1e6).round() / 1e6)
}
