//! One value and its key: read as a text, a number, a dose, a word, a list.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeInteger, DeValue};

use super::decimal::Decimal;
use super::fault::Sink;
use super::keys::{Grain, LARGEST_SCALE, NumberKey, Upper};
use super::near;
use super::snippet::short;
use super::walk::Table;
use crate::palette::{Cas, CasError};
use crate::place::{Place, Placed};
use crate::units::Ppt;

/// A value with the key it stands under.
#[derive(Clone)]
pub(super) struct Field<'a> {
    /// Where complaints go.
    pub(super) sink: &'a Sink<'a>,
    /// The key.
    pub(super) key: &'a str,
    /// Where the key stands; that of the value for an element of a list.
    pub(super) key_span: Range<usize>,
    /// The value.
    pub(super) value: &'a Spanned<DeValue<'a>>,
}

impl<'a> Field<'a> {
    /// An entry of a table.
    pub(super) fn of_key(
        sink: &'a Sink<'a>,
        key: &'a str,
        key_span: Range<usize>,
        value: &'a Spanned<DeValue<'a>>,
    ) -> Field<'a> {
        Field { sink, key, key_span, value }
    }

    /// An element of the list that this field is.
    pub(super) fn element(&self, value: &'a Spanned<DeValue<'a>>) -> Field<'a> {
        Field { sink: self.sink, key: self.key, key_span: value.span(), value }
    }

    /// Where the key stands.
    pub(super) fn place(&self) -> Place {
        self.sink.source.place(self.key_span.start)
    }

    /// A value with the place of this key.
    pub(super) fn placed<T>(&self, value: T) -> Placed<T> {
        Placed { value, place: self.place() }
    }

    /// Complains of the value.
    pub(super) fn report(&self, message: impl Into<String>, help: impl Into<String>) {
        self.sink.report(self.value.span(), message, help);
    }

    /// Complains of the key.
    pub(super) fn report_key(&self, message: impl Into<String>, help: impl Into<String>) {
        self.sink.report(self.key_span.clone(), message, help);
    }

    /// Complains that the value is of the wrong type.
    pub(super) fn wrong_type(&self, expected: &str) {
        let found = match self.value.get_ref() {
            DeValue::String(_) => "a text in quotes",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        let expected = expected.strip_prefix("expected ").unwrap_or(expected);
        self.report(format!("`{}` is {found}", short(self.key)), format!("expected {expected}"));
    }

    /// Whether the value is a table.
    pub(super) fn is_table(&self) -> bool {
        self.value.get_ref().is_table()
    }

    /// The value as text.
    pub(super) fn text(&self) -> Option<&'a str> {
        match self.value.get_ref() {
            DeValue::String(text) => Some(text),
            _ => {
                self.wrong_type("a text in quotes");
                None
            }
        }
    }

    /// The value as a text that is not empty.
    pub(super) fn name(&self) -> Option<&'a str> {
        let text = self.text()?;
        if text.trim().is_empty() {
            self.report(format!("`{}` is empty", short(self.key)), "expected a text");
            return None;
        }
        Some(text)
    }

    /// The value as true or false.
    pub(super) fn flag(&self) -> Option<bool> {
        match self.value.get_ref() {
            DeValue::Boolean(flag) => Some(*flag),
            _ => {
                self.wrong_type("true or false");
                None
            }
        }
    }

    /// The value as one of a few words.
    pub(super) fn word<T: Copy>(&self, words: &[(&str, T)]) -> Option<T> {
        self.word_beside("", words)
    }

    /// The same where a number may stand as well.
    pub(super) fn word_or_number<T: Copy>(&self, words: &[(&str, T)]) -> Option<T> {
        self.word_beside("a number, or ", words)
    }

    fn word_beside<T: Copy>(&self, beside: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text()?;
        let known = words.iter().find(|(word, _)| *word == text);
        if known.is_none() {
            let list = words.iter().map(|(word, _)| format!("\"{word}\"")).collect::<Vec<_>>().join(", ");
            let near = near::nearest(text, words.iter().map(|(word, _)| *word));
            let near = near.map_or(String::new(), |near| format!("; did you mean \"{near}\"?"));
            let message = format!("\"{}\" is not a value of `{}`", short(text), short(self.key));
            self.report(message, format!("expected {beside}one of {list}{near}"));
        }
        known.map(|(_, value)| *value)
    }

    /// The value as a table.
    pub(super) fn table(&self, name: &str) -> Option<Table<'a>> {
        match self.value.get_ref() {
            DeValue::Table(table) => Some(Table::new(self.sink, name.to_owned(), self.table_span(), table)),
            _ => {
                self.wrong_type("a table");
                None
            }
        }
    }

    /// What stands for the whole table in a message: its header, or its key
    /// where it is an inline table.
    fn table_span(&self) -> Range<usize> {
        let span = self.value.span();
        if self.sink.source.text[span.clone()].starts_with('[') { span } else { self.key_span.start..span.end }
    }

    /// The elements of a list.
    pub(super) fn list(&self, of: &str) -> Option<Vec<Field<'a>>> {
        match self.value.get_ref() {
            DeValue::Array(items) => Some(items.iter().map(|item| self.element(item)).collect()),
            _ => {
                self.wrong_type(&format!("a list of {of}"));
                None
            }
        }
    }

    /// The same as [`Field::texts`], of a list that is not empty.
    pub(super) fn some_texts(&self, of: &str, single: bool) -> Option<Vec<(Field<'a>, &'a str)>> {
        if self.value.get_ref().as_array().is_some_and(|items| items.is_empty()) {
            self.report(format!("`{}` is an empty list", short(self.key)), format!("expected {of}"));
            return None;
        }
        self.texts(of, single)
    }

    /// The elements of a list of different texts; one text stands for a list
    /// of one where `single` allows it.
    pub(super) fn texts(&self, of: &str, single: bool) -> Option<Vec<(Field<'a>, &'a str)>> {
        let fields = match self.value.get_ref() {
            DeValue::String(_) if single => vec![self.clone()],
            _ => self.list(of)?,
        };
        let mut texts: Vec<(Field<'a>, &'a str)> = Vec::with_capacity(fields.len());
        let mut seen = std::collections::BTreeSet::new();
        for field in fields {
            let Some(text) = field.name() else { continue };
            if seen.insert(text) {
                texts.push((field, text));
            } else {
                field.report(format!("\"{}\" stands twice in `{}`", short(text), short(self.key)), "");
            }
        }
        Some(texts)
    }

    /// The value as a number in the range of a key.
    pub(super) fn number(&self, key: &NumberKey) -> Option<f64> {
        self.number_on_scale(key, None)
    }

    /// The same where the range may depend on the palette's scale.
    pub(super) fn number_on_scale(&self, key: &NumberKey, scale: Option<f64>) -> Option<f64> {
        let value = match self.value.get_ref() {
            DeValue::Integer(integer) => integer_value(integer),
            // A hand-written exponent may be beyond what a number can hold;
            // it reads as infinite then, and is refused as such.
            DeValue::Float(float) => float.as_str().parse().unwrap_or(f64::NAN),
            _ => {
                self.wrong_type(&key.expected(scale));
                return None;
            }
        };
        let written = || short(&self.sink.source.text[self.value.span()]);
        if !value.is_finite() {
            self.report(format!("`{}` is not a finite number", short(self.key)), key.expected(scale));
            return None;
        }
        let whole = key.grain != Grain::Whole || value.fract() == 0.0;
        if !whole || !key.holds(value, scale.unwrap_or(LARGEST_SCALE)) {
            self.report(format!("`{}` is out of range: {}", short(self.key), written()), key.expected(scale));
            return None;
        }
        // Zero with a sign would come out of reports as -0.
        Some(value + 0.0)
    }

    /// The value as a whole number in the range of a key.
    pub(super) fn whole(&self, key: &NumberKey) -> Option<usize> {
        debug_assert!(key.grain == Grain::Whole && matches!(key.upper, Upper::To(_)));
        self.number(key).map(|value| value as usize)
    }

    /// The value as a dose in the range of a key, exactly as it is written.
    pub(super) fn dose(&self, key: &NumberKey) -> Option<Ppt> {
        let value = self.number(key)?;
        let written = || short(&self.sink.source.text[self.value.span()]);
        let decimal = match self.value.get_ref() {
            DeValue::Float(float) => Decimal::read(float.as_str()),
            _ => None,
        };
        let too_fine =
            |decimal: &Decimal| matches!(key.grain, Grain::Places(most) if decimal.places() > i64::from(most));
        if decimal.as_ref().is_some_and(too_fine) {
            self.report(format!("`{}` is too fine: {}", short(self.key), written()), key.expected(None));
            return None;
        }
        let dose = decimal.and_then(|decimal| decimal.dose()).unwrap_or_else(|| Ppt::from_ppt(value));
        if value > 0.0 && dose.is_zero() {
            self.report(
                format!("`{}` is too small: {}", short(self.key), written()),
                "doses are kept to nine decimal places",
            );
            return None;
        }
        Some(dose)
    }

    /// The value as a CAS number.
    pub(super) fn cas(&self) -> Option<Cas> {
        let text = self.text()?;
        self.parse_cas(text, self.value.span())
    }

    /// The key as a CAS number.
    pub(super) fn key_cas(&self) -> Option<Cas> {
        self.parse_cas(self.key, self.key_span.clone())
    }

    fn parse_cas(&self, text: &str, span: Range<usize>) -> Option<Cas> {
        match Cas::parse(text) {
            Ok(cas) => Some(cas),
            Err(CasError::CheckDigit { expected }) => {
                let message = format!("the check digit of CAS number {} does not hold", short(text));
                self.sink.report(span, message, format!("the other digits call for {expected} as the last"));
                None
            }
            Err(CasError::Form) => {
                let message = format!("\"{}\" is not a CAS number", short(text));
                self.sink.report(
                    span,
                    message,
                    "expected the form \"60-12-8\": 2 to 7 digits, 2 digits, 1 check digit",
                );
                None
            }
        }
    }
}

fn integer_value(integer: &DeInteger<'_>) -> f64 {
    match i128::from_str_radix(integer.as_str(), integer.radix()) {
        Ok(value) => value as f64,
        // So long a number is out of every range.
        Err(_) if integer.as_str().starts_with('-') => f64::MIN,
        Err(_) => f64::MAX,
    }
}
