//! Cells of a sheet read as numbers, doses, words and lists, with complaints
//! that name row, column and cell.

use std::cell::RefCell;

use super::number::{self, DecimalSign, Tells, tells};
use super::table::{Row, Table};
use super::{BottleUnit, text};
use crate::files::decimal::Decimal;
use crate::files::keys::{self, Grain, NumberKey};
use crate::files::near;
use crate::files::snippet::short;
use crate::number::{plain, tidy};
use crate::palette::{Bottle, Cas, CasError, Note, Pack, Usual};
use crate::place::{Place, Placed};
use crate::units::Ppt;

/// What may stand beside a number in its cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Beside {
    Nothing,
    Percent,
    Money,
}

/// Reads the cells of a table.
pub(super) struct Cells<'t> {
    pub(super) table: &'t Table<'t>,
    /// How the sheet writes decimals, once that is settled.
    pub(super) sign: Option<DecimalSign>,
    /// Where that was read: a row and the cell.
    pub(super) evidence: String,
    /// Whether every cell that could be two numbers has been told.
    pub(super) told: bool,
    pub(super) scale: f64,
    /// The currency, and whether the sheet or the user has said it.
    pub(super) currency: RefCell<(String, bool)>,
    /// What a bottle's number without a percent sign counts, where that is said.
    pub(super) bottle: Option<BottleUnit>,
}

const SIGNS: [(&str, &[&str]); 5] = [
    ("\u{20ac}", &["EUR"]),
    ("\u{a3}", &["GBP"]),
    ("\u{a5}", &["JPY", "CNY"]),
    ("\u{20b9}", &["INR"]),
    ("$", &["USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN", "BRL"]),
];

impl Cells<'_> {
    pub(super) fn report(&self, row: &Row, column: usize, message: impl AsRef<str>, help: impl Into<String>) {
        self.table.report_once(row, column, message, help);
    }

    /// Finds out how the sheet writes decimals, and complains where nothing
    /// tells: `numbers` are the columns that hold some.
    pub(super) fn settle(&mut self, numbers: &[(usize, &'static NumberKey)]) {
        if self.sign.is_some() {
            return;
        }
        let mut open = Vec::new();
        for row in self.table.body() {
            for &(column, key) in numbers {
                let cell = row.cell(column);
                if !cell.contains(['.', ',']) {
                    continue;
                }
                match tells(bare(cell), key, self.scale) {
                    Tells::Nothing => {}
                    Tells::Either => open.push((row, column, key)),
                    Tells::Sign(sign) => {
                        self.sign = Some(sign);
                        self.evidence = format!("row {} has {}", row.number, short(cell));
                        return;
                    }
                }
            }
        }
        for (row, column, _) in open {
            self.report_either(row, column, bare(row.cell(column)));
        }
        self.told = true;
    }

    /// Complains that a number could be two, unless it could not.
    fn report_either(&self, row: &Row, column: usize, written: &str) {
        let [point, comma] = [DecimalSign::Point, DecimalSign::Comma].map(|sign| number::read(written, sign));
        let (Some(point), Some(comma)) = (point, comma) else { return };
        let message = format!("{} may be {point} or {comma}", short(row.cell(column)));
        self.report(row, column, message, "say how the sheet writes decimals: --decimal point or --decimal comma");
    }

    /// The decimal text of a number, with a point.
    fn decimal(&self, row: &Row, column: usize, key: &NumberKey, beside: Beside) -> Option<String> {
        let cell = row.cell(column);
        let expected = || key.expected(Some(self.scale));
        let written = match beside {
            Beside::Nothing => cell,
            Beside::Percent => cell.strip_suffix('%').unwrap_or(cell).trim_end(),
            Beside::Money => self.without_currency(row, column)?,
        };
        if self.sign.is_none() && matches!(tells(written, key, self.scale), Tells::Either) {
            if !self.told {
                self.report_either(row, column, written);
            }
            return None;
        }
        let sign = self.sign.unwrap_or(DecimalSign::Point);
        if let Some(decimal) = number::read(written, sign) {
            return Some(decimal);
        }
        if number::read(written, sign.other()).is_some() {
            let message = format!("{} has a decimal {}", short(cell), sign.other().word());
            let why = if self.evidence.is_empty() { "--decimal says otherwise" } else { &self.evidence };
            self.report(row, column, message, format!("the sheet writes decimals with a {}: {why}", sign.word()));
        } else if is_date(written) {
            self.report(
                row,
                column,
                format!("{} is a date", short(cell)),
                "a spreadsheet may have made one of a number; type the number again",
            );
        } else {
            self.report(row, column, format!("{} is not a number", short(cell)), expected());
        }
        None
    }

    /// A number in the range of a key; `None` for an empty cell.
    pub(super) fn number(&self, row: &Row, column: usize, key: &NumberKey, beside: Beside) -> Option<f64> {
        if row.cell(column).is_empty() {
            return None;
        }
        // Most cells are digits with at most one mark: a large sheet has half a
        // million of them.
        let value = match number::simple(row.cell(column), self.sign) {
            Some(value) => value,
            None => self.decimal(row, column, key, beside)?.parse().unwrap_or(f64::NAN),
        };
        if !value.is_finite() || !key.holds(value, self.scale) {
            let message = format!("{} is out of range", short(row.cell(column)));
            self.report(row, column, message, key.expected(Some(self.scale)));
            return None;
        }
        Some(value + 0.0)
    }

    /// Whether a cell is a number in the range of a key; nothing is said where it
    /// is none. A decimal sign that does not fit the sheet's is another matter.
    pub(super) fn is_number(&self, row: &Row, column: usize, key: &NumberKey) -> bool {
        let written = row.cell(column);
        let reads = |sign| number::read(written, sign).and_then(|decimal| decimal.parse::<f64>().ok());
        let values = [DecimalSign::Point, DecimalSign::Comma].map(reads);
        match self.sign {
            None => values.into_iter().flatten().any(|value| key.holds(value, self.scale)),
            Some(sign) => {
                let own = values[usize::from(sign == DecimalSign::Comma)];
                own.map_or(values.into_iter().flatten().next().is_some(), |value| key.holds(value, self.scale))
            }
        }
    }

    /// A dose, exactly as it is written.
    pub(super) fn dose(&self, row: &Row, column: usize, key: &NumberKey) -> Option<Placed<Ppt>> {
        let value = self.number(row, column, key, Beside::Nothing)?;
        let decimal = Decimal::read(&self.decimal(row, column, key, Beside::Nothing)?)?;
        if matches!(key.grain, Grain::Places(most) if decimal.places() > i64::from(most)) {
            self.report(row, column, format!("{} is too fine", short(row.cell(column))), key.expected(None));
            return None;
        }
        let dose = decimal.dose().unwrap_or_else(|| Ppt::from_ppt(value));
        if value > 0.0 && dose.is_zero() {
            self.report(
                row,
                column,
                format!("{} is too small", short(row.cell(column))),
                "doses are kept to nine decimal places",
            );
            return None;
        }
        Some(Placed { value: dose, place: self.place(row) })
    }

    /// The place of a row; the column is of no use in a sheet.
    pub(super) fn place(&self, row: &Row) -> Place {
        Place { file: self.table.sink.source.file.clone(), line: row.number, column: 1 }
    }

    /// A price without its currency, which has to be that of the sheet.
    fn without_currency<'r>(&self, row: &'r Row, column: usize) -> Option<&'r str> {
        let cell = row.cell(column).trim_end_matches("/kg").trim_end();
        let is_number = |c: char| c.is_ascii_digit() || "+-\u{2212}.,".contains(c);
        let Some(start) = cell.find(is_number) else { return Some(cell) };
        let end =
            cell.rfind(is_number).map_or(cell.len(), |at| at + cell[at..].chars().next().map_or(1, char::len_utf8));
        let (before, after) = (cell[..start].trim(), cell[end..].trim());
        let said = if before.is_empty() { after } else { before };
        if !before.is_empty() && !after.is_empty() {
            return Some(cell);
        }
        if said.is_empty() {
            return Some(&cell[start..end]);
        }
        let meant: Vec<&str> = match SIGNS.iter().find(|(sign, _)| *sign == said) {
            Some((_, labels)) => labels.to_vec(),
            None => vec![said],
        };
        let mut currency = self.currency.borrow_mut();
        let same = meant.iter().chain([&said]).any(|label| label.eq_ignore_ascii_case(&currency.0));
        if same {
            currency.1 = true;
        } else if !currency.1 && meant.len() == 1 && (meant[0] != said || is_label(said)) {
            *currency = (meant[0].to_uppercase(), true);
        } else if !currency.1 && meant.len() > 1 {
            let help = format!("one of {}: say which with --currency, or in a row #currency", meant.join(", "));
            self.report(row, column, format!("{} may be several currencies", short(row.cell(column))), help);
            return None;
        } else {
            let help = format!("the currency is {}; all prices of a palette are in one", short(&currency.0));
            self.report(row, column, format!("{} is in another currency, or no number", short(row.cell(column))), help);
            return None;
        }
        Some(&cell[start..end])
    }

    /// Yes or no; `None` for an empty cell.
    pub(super) fn flag(&self, row: &Row, column: usize) -> Option<bool> {
        match row.cell(column).to_lowercase().as_str() {
            "" => None,
            "yes" | "true" | "x" | "1" | "y" => Some(true),
            "no" | "false" | "0" | "n" => Some(false),
            _ => {
                self.report(
                    row,
                    column,
                    format!("{} is neither yes nor no", short(row.cell(column))),
                    "expected yes or no",
                );
                None
            }
        }
    }

    /// A text; `None` for an empty cell.
    pub(super) fn text(&self, row: &Row, column: usize) -> Option<String> {
        let cell = row.cell(column);
        (!cell.is_empty()).then(|| text::decode(cell))
    }

    /// When a material is mostly smelled.
    pub(super) fn note(&self, row: &Row, column: usize, notes: &[(&str, Note)]) -> Option<Note> {
        let cell = row.cell(column).to_lowercase();
        let found = notes.iter().find(|(word, _)| *word == cell);
        if found.is_none() && !cell.is_empty() {
            self.report(
                row,
                column,
                format!("{} is no note", short(row.cell(column))),
                "expected opening, heart or drydown",
            );
        }
        found.map(|(_, note)| *note)
    }

    /// A CAS number, with or without the word in front.
    pub(super) fn cas(&self, row: &Row, column: usize, written: &str) -> Option<Cas> {
        let digits = written.trim();
        let bare = if digits.get(..3).is_some_and(|word| word.eq_ignore_ascii_case("cas")) {
            digits[3..].trim_start_matches([':', ' ', '\u{a0}'])
        } else {
            digits
        };
        match Cas::parse(bare) {
            Ok(cas) => Some(cas),
            Err(CasError::CheckDigit { expected }) => {
                let message = format!("the check digit of CAS number {} does not hold", short(bare));
                self.report(row, column, message, format!("the other digits call for {expected} as the last"));
                None
            }
            Err(CasError::Form) => {
                let help = if is_date(bare) {
                    "a spreadsheet has made a date of a CAS number; write it as CAS 60-12-8"
                } else {
                    "expected the form CAS 60-12-8: 2 to 7 digits, 2 digits, 1 check digit"
                };
                self.report(row, column, format!("{} is not a CAS number", short(written)), help);
                None
            }
        }
    }

    /// The elements of a list.
    pub(super) fn list(&self, row: &Row, column: usize, commas: bool) -> Vec<String> {
        let Some(cell) = self.text(row, column) else { return Vec::new() };
        text::split(&cell, commas).unwrap_or_else(|| {
            let help = "elements stand between semicolons; one that holds a semicolon or a quote stands in quotes";
            self.report(row, column, "the list cannot be read", help);
            Vec::new()
        })
    }

    /// Labels, each once.
    pub(super) fn tags(&self, row: &Row, column: usize) -> Vec<String> {
        let mut tags: Vec<String> = Vec::new();
        for tag in self.list(row, column, true) {
            if tags.contains(&tag) {
                self.report(row, column, format!("\"{}\" stands twice", short(&tag)), "");
            } else if tag.trim().is_empty() {
                self.report(row, column, "a tag is empty", "expected a word");
            } else {
                tags.push(tag);
            }
        }
        tags
    }

    /// A number inside a list, where the sheet's decimal sign need not hold: a
    /// spreadsheet leaves texts as they are.
    fn inner(&self, row: &Row, column: usize, written: &str, key: &NumberKey) -> Option<f64> {
        let written = written.trim();
        let [point, comma] = [DecimalSign::Point, DecimalSign::Comma].map(|sign| number::read(written, sign));
        let decimal = match (tells(written, key, self.scale), point, comma) {
            (Tells::Either, Some(point), Some(comma)) => {
                let message = format!("{} may be {point} or {comma}", short(written));
                self.report(row, column, message, format!("write {point} without a mark, or with a fourth decimal"));
                return None;
            }
            (Tells::Sign(DecimalSign::Comma), _, comma) => comma,
            (_, point, comma) => point.or(comma),
        };
        let value = decimal
            .and_then(|decimal| decimal.parse::<f64>().ok())
            .filter(|value| value.is_finite() && key.holds(*value, self.scale));
        if value.is_none() {
            self.report(row, column, format!("{} is not in range", short(written)), key.expected(Some(self.scale)));
        }
        value.map(|value| value + 0.0)
    }

    /// Substances within a natural; `none` is analysed without a find.
    pub(super) fn constituents(&self, row: &Row, column: usize) -> Option<Vec<(Cas, f64)>> {
        let cell = row.cell(column);
        if cell.is_empty() {
            return None;
        }
        let mut found: Vec<(Cas, f64)> = Vec::new();
        if cell.eq_ignore_ascii_case("none") {
            return Some(found);
        }
        for element in self.list(row, column, false) {
            let Some((cas, percent)) = element.split_once(['=', ':']) else {
                self.report(
                    row,
                    column,
                    format!("{} is not a constituent", short(&element)),
                    "expected 97-53-0 = 0.9 %; or none",
                );
                continue;
            };
            let percent = percent.trim().trim_end_matches('%');
            if let (Some(cas), Some(percent)) =
                (self.cas(row, column, cas), self.inner(row, column, percent, &keys::CONSTITUENT))
            {
                if found.iter().any(|(other, _)| *other == cas) {
                    self.report(row, column, format!("{cas} stands twice"), "");
                } else {
                    found.push((cas, percent));
                }
            }
        }
        Some(found)
    }

    /// What stands on the shelf: `10 % in Dipropylene glycol; 50 %`.
    pub(super) fn bottles(&self, row: &Row, column: usize) -> Vec<Bottle> {
        let mut bottles = Vec::new();
        for element in self.list(row, column, false) {
            if element.trim().eq_ignore_ascii_case("neat") {
                bottles.push(Bottle { percent: 100.0, carrier: None });
                continue;
            }
            // `10 % in DPG`, `10% DPG` and `10 in DPG` say the same.
            let (percent, carrier) = match (element.split_once('%'), element.split_once(" in ")) {
                (Some((percent, rest)), _) => {
                    let named = rest.strip_prefix(" in ").unwrap_or(rest.trim());
                    let named = if named == "in" { "" } else { named };
                    (percent, (!rest.trim().is_empty()).then(|| named.to_owned()))
                }
                (None, Some((percent, carrier))) => (percent, Some(carrier.to_owned())),
                (None, None) => (element.as_str(), None),
            };
            let percent = if element.contains('%') {
                self.inner(row, column, percent, &keys::BOTTLE_PERCENT)
            } else {
                self.bare_bottle(row, column, percent.trim())
            };
            if carrier.as_ref().is_some_and(|carrier| carrier.trim().is_empty()) {
                self.report(row, column, "the carrier has no name", "expected 10 % in Dipropylene glycol");
            }
            bottles.extend(percent.map(|percent| Bottle { percent, carrier }));
        }
        bottles
    }

    /// A bottle's number without a percent sign, in percent: 0.1 may be a tenth
    /// of a percent or a tenth, a hundredfold apart.
    fn bare_bottle(&self, row: &Row, column: usize, written: &str) -> Option<f64> {
        let value = self.inner(row, column, written, &keys::BOTTLE_PERCENT)?;
        self.bottle_percent(row, column, written, value)
    }

    /// The percent that a number without a percent sign means.
    pub(super) fn bottle_percent(&self, row: &Row, column: usize, written: &str, value: f64) -> Option<f64> {
        let as_fraction = tidy(value * 100.0);
        match self.bottle {
            Some(BottleUnit::Percent) => Some(value),
            Some(BottleUnit::Fraction) if value <= 1.0 => Some(as_fraction),
            Some(BottleUnit::Fraction) => {
                let help = "expected at most 1, since --bottle says fraction; or write the percent sign";
                self.report(row, column, format!("{} is more than the whole", short(written)), help);
                None
            }
            None if value > 1.0 => Some(value),
            None => {
                let message = format!("{} may be {} % or {} %", short(written), plain(value), plain(as_fraction));
                let help = "say which: --bottle percent or --bottle fraction; or write the percent sign into the cells";
                self.report(row, column, message, help);
                None
            }
        }
    }

    /// What it is sold in: `5 g = 4; 25 g = 15`.
    pub(super) fn packs(&self, row: &Row, column: usize) -> Vec<Pack> {
        let mut packs = Vec::new();
        for element in self.list(row, column, false) {
            let Some((grams, price)) = element.split_once('=') else {
                self.report(
                    row,
                    column,
                    format!("{} is not a pack", short(&element)),
                    "expected grams and price: 5 g = 4",
                );
                continue;
            };
            let grams = self.inner(row, column, grams.trim().trim_end_matches('g'), &keys::PACK_GRAMS);
            let price = self.inner(row, column, price, &keys::PACK_PRICE);
            packs.extend(grams.zip(price).map(|(grams, price)| Pack { grams, price }));
        }
        if packs.len() > keys::MOST_PACKS {
            self.report(row, column, "too many packs", format!("a material has at most {}", keys::MOST_PACKS));
        }
        packs
    }

    /// Usual doses: `2 to 40`, or `0.2 to 4 %` of the concentrate.
    pub(super) fn usual(&self, row: &Row, column: usize, in_percent: bool) -> Option<Usual> {
        let cell = self.text(row, column)?;
        let (key, example) = if in_percent {
            (&keys::USUAL_IN_CONCENTRATE, "expected both ends: 0.2 to 4 %")
        } else {
            (&keys::USUAL, "expected both ends: 2 to 40")
        };
        let ends = [" to ", "..", "\u{2013}", "-", ";"].into_iter().find_map(|between| cell.split_once(between));
        let Some((least, most)) = ends.filter(|_| !is_date(&cell)) else {
            self.report(row, column, format!("{} is no usual dose", short(&cell)), example);
            return None;
        };
        let end = |written: &str| {
            let written = if in_percent { written.trim().trim_end_matches('%') } else { written };
            let units = Ppt::from_ppt(self.inner(row, column, written, key)?).units();
            Some(Ppt::from_units(if in_percent { units * Usual::PPT_PER_PERCENT } else { units }))
        };
        let (least, most) = (end(least)?, end(most)?);
        if least > most {
            self.report(row, column, format!("{} begins above its end", short(&cell)), example);
            return None;
        }
        Some(Usual { least, most, in_percent })
    }

    /// The nearest of some names, as a hint.
    pub(super) fn hint<'n>(&self, wanted: &str, known: impl IntoIterator<Item = &'n str> + Clone) -> String {
        if self.table.sink.is_full() { String::new() } else { near::hint(wanted, known) }
    }
}

/// A number without what may stand beside it.
fn bare(cell: &str) -> &str {
    let is_number = |c: char| c.is_ascii_digit() || ".,+-\u{2212}".contains(c);
    cell.trim_end_matches("/kg").trim_matches(|c: char| !is_number(c))
}

fn is_label(said: &str) -> bool {
    said.len() == 3 && said.bytes().all(|byte| byte.is_ascii_alphabetic())
}

/// Whether three whole numbers stand between marks, as in a date.
fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split(['-', '.', '/']).collect();
    parts.len() == 3
        && parts.iter().all(|part| (1..=4).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit()))
}
