//! Reading tables key by key: a table knows which keys were asked for, and
//! complains of the others when it is closed.

use std::cell::RefCell;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::Sink;
use super::near;
use super::snippet::short;
use super::value::Field;
use crate::place::Place;

/// The key that may stand in every table, with any text.
pub(super) const REMARKS: &str = "remarks";

/// A table that is being read.
pub(super) struct Table<'a> {
    sink: &'a Sink<'a>,
    /// What the table is called in messages: `[[material]]`.
    name: String,
    /// Its header, or the text of an inline table.
    span: Range<usize>,
    /// Its entries in the order of the file.
    entries: Vec<Field<'a>>,
    asked: RefCell<Vec<&'static str>>,
}

impl<'a> Table<'a> {
    /// The whole document.
    pub(super) fn root(sink: &'a Sink<'a>, table: &'a DeTable<'a>) -> Table<'a> {
        Table::new(sink, String::new(), 0..0, table)
    }

    /// A table with its name in messages and where it stands.
    pub(super) fn new(sink: &'a Sink<'a>, name: String, span: Range<usize>, table: &'a DeTable<'a>) -> Table<'a> {
        let mut entries: Vec<Field<'a>> =
            table.iter().map(|(key, value)| Field::of_key(sink, key.get_ref(), key.span(), value)).collect();
        // The parser's table is ordered by name.
        entries.sort_by_key(|field| field.key_span.start);
        Table { sink, name, span, entries, asked: RefCell::default() }
    }

    /// The entry of a key, if there is one.
    pub(super) fn get(&self, key: &'static str) -> Option<&Field<'a>> {
        let mut asked = self.asked.borrow_mut();
        if !asked.contains(&key) {
            asked.push(key);
        }
        self.entries.iter().find(|field| field.key == key)
    }

    /// The entry of a key; a complaint where there is none.
    pub(super) fn require(&self, key: &'static str, what: &str) -> Option<&Field<'a>> {
        let field = self.get(key);
        if field.is_none() {
            self.missing(&format!("`{key}` is missing{}", self.within()), what);
        }
        field
    }

    /// Every entry but `remarks`, for a table whose keys are names.
    pub(super) fn named(&self) -> impl Iterator<Item = &Field<'a>> {
        self.entries.iter().filter(|field| field.key != REMARKS)
    }

    /// The free text of the table.
    pub(super) fn remarks(&self) -> Option<String> {
        self.entries.iter().find(|field| field.key == REMARKS)?.text().map(str::to_owned)
    }

    /// Complains of every key that nobody asked for, and of `remarks` that are
    /// no text.
    pub(super) fn close(&self) {
        self.remarks();
        let asked = self.asked.borrow();
        for field in self.named().filter(|field| !asked.contains(&field.key)) {
            let help = match near::nearest(field.key, asked.iter().copied().chain([REMARKS])) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("expected one of {}, {REMARKS}", asked.join(", ")),
            };
            self.sink.report(
                field.key_span.clone(),
                format!("unknown key `{}`{}", short(field.key), self.within()),
                help,
            );
        }
    }

    /// Closes a table whose keys are names: only its `remarks` are left to
    /// look at.
    pub(super) fn close_named(&self) {
        self.remarks();
    }

    /// Complains of something at the table's header.
    pub(super) fn report(&self, message: &str, help: &str) {
        self.sink.report(self.span.clone(), message, help);
    }

    /// Complains of something that is not there, unless the table holds a
    /// statement that could not be understood: it may be just that.
    pub(super) fn missing(&self, message: &str, help: &str) {
        let text = &self.sink.source.text;
        let end = text[self.span.end.min(text.len())..].find("\n[").map_or(text.len(), |at| self.span.end + at);
        let extent = self.span.start..end.max(self.span.end);
        if self.sink.broken.iter().any(|broken| broken.start < extent.end && extent.start < broken.end) {
            return;
        }
        if self.name.is_empty() {
            self.sink.report_file(message, help);
        } else {
            self.report(message, help);
        }
    }

    /// Where the table stands.
    pub(super) fn place(&self) -> Place {
        self.sink.source.place(self.span.start)
    }

    fn within(&self) -> String {
        if self.name.is_empty() { String::new() } else { format!(" in {}", self.name) }
    }
}

/// The tables of a key that may hold one table or a list of them.
pub(super) fn tables<'a>(field: &Field<'a>, name: &str) -> Vec<Table<'a>> {
    match field.value.get_ref() {
        DeValue::Array(items) => items.iter().filter_map(|item| table_of(field, item, name)).collect(),
        _ => table_of(field, field.value, name).into_iter().collect(),
    }
}

fn table_of<'a>(field: &Field<'a>, value: &'a Spanned<DeValue<'a>>, name: &str) -> Option<Table<'a>> {
    match value.get_ref() {
        DeValue::Table(table) => Some(Table::new(field.sink, name.to_owned(), value.span(), table)),
        _ => {
            field.element(value).wrong_type(&format!("a table {name}"));
            None
        }
    }
}
