//! A sheet as rows of cells, and where in its file each cell stands.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::Range;

use csv::{ReaderBuilder, StringRecord};

use crate::files::fault::Sink;
use crate::files::near;
use crate::files::snippet::short;

/// Marks that part the cells of a row.
pub(super) const DELIMITERS: [(u8, &str); 3] = [(b',', "comma"), (b';', "semicolon"), (b'\t', "tab")];

/// One row, as the spreadsheet counts it.
pub(super) struct Row {
    /// Counted from 1, empty rows included.
    pub(super) number: usize,
    /// The byte at which it begins.
    start: usize,
    cells: StringRecord,
}

impl Row {
    /// A cell without the blanks around it; empty where the row has none.
    pub(super) fn cell(&self, column: usize) -> &str {
        self.cells.get(column).map_or("", str::trim)
    }

    /// Its cells without the blanks around them.
    pub(super) fn iter(&self) -> impl Iterator<Item = &str> {
        self.cells.iter().map(str::trim)
    }

    /// How many cells it has.
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    fn is_empty(&self) -> bool {
        self.iter().all(str::is_empty)
    }
}

/// A row that says something of the sheet: `#scale`, then its value.
pub(super) struct Setting<'t> {
    pub(super) key: &'static str,
    pub(super) row: &'t Row,
    /// The column of the key.
    pub(super) at: usize,
}

/// A sheet.
pub(super) struct Table<'a> {
    pub(super) sink: &'a Sink<'a>,
    delimiter: u8,
    rows: Vec<Row>,
    /// Index of the row of headings.
    head: usize,
    /// The keys that a row above the headings may have.
    settings: &'static [&'static str],
    /// What was told of a column once, by the column and the kind of fault.
    told: RefCell<BTreeMap<(usize, String), Told>>,
}

/// A fault of a column that may stand in many of its rows.
#[derive(Debug)]
struct Told {
    /// What it goes by in the sink; `None` where it was not kept.
    index: Option<usize>,
    /// Rows after the first that have it, and the first of these.
    more: usize,
    next_row: usize,
}

impl<'a> Table<'a> {
    /// Reads the cells of a file. Without a delimiter the one is taken with
    /// which the headings can be read.
    pub(super) fn read(
        sink: &'a Sink<'a>,
        delimiter: Option<u8>,
        settings: &'static [&'static str],
        is_head: impl Fn(&str) -> bool,
    ) -> Option<Table<'a>> {
        let mut start = if sink.source.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        let mut first_row = 1;
        let mut told = delimiter;
        // Some spreadsheets want to be told: `sep=;` in a line of its own.
        let text = &sink.source.text[start..];
        let line = text.split('\n').next().unwrap_or_default();
        if let [b's' | b'S', b'e' | b'E', b'p' | b'P', b'=', mark] = *line.trim_end_matches('\r').as_bytes() {
            told = told.or(Some(mark));
            start += (line.len() + 1).min(text.len());
            first_row = 2;
        }
        let tried: Vec<u8> = told.map_or_else(|| DELIMITERS.map(|(mark, _)| mark).to_vec(), |mark| vec![mark]);
        let mut fitting = Vec::new();
        for mark in tried {
            let (rows, head) = rows(&sink.source.text, start, mark, first_row, settings, true);
            if head.is_some_and(|head| rows[head].iter().any(&is_head) && rows[head].cells.len() > 1) {
                fitting.push(mark);
            }
        }
        let [delimiter] = fitting[..] else {
            let (message, help) = if fitting.is_empty() {
                let first = "the first row that does not begin with # has to hold the headings, one of them `material`";
                ("the headings cannot be read", first)
            } else {
                ("more than one mark could part the cells", "say which: --delimiter comma, semicolon or tab")
            };
            let at = rows(&sink.source.text, start, told.unwrap_or(b','), first_row, settings, true);
            let at = at.1.map_or(start, |head| skip_breaks(&sink.source.text, at.0[head].start));
            let line = sink.source.line_range(sink.source.line_of(at));
            sink.report(at..line.end.max(at), message, help);
            return None;
        };
        let (rows, head) = rows(&sink.source.text, start, delimiter, first_row, settings, false);
        let table = Table { sink, delimiter, rows, head: head?, settings, told: RefCell::default() };
        if let Some(cell) = table.rows.last().and_then(|row| table.spans(row, usize::MAX).1) {
            sink.report(cell, "a quote is opened here and never closed", "a quote inside a cell is written twice");
            return None;
        }
        Some(table)
    }

    /// The headings.
    pub(super) fn head(&self) -> &Row {
        &self.rows[self.head]
    }

    /// The rows that are neither settings nor headings nor empty.
    pub(super) fn body(&self) -> impl Iterator<Item = &Row> {
        let is_body =
            |(at, row): &(usize, &Row)| *at > self.head && !row.is_empty() && setting(row, self.settings).is_none();
        self.rows.iter().enumerate().filter(is_body).map(|(_, row)| row)
    }

    /// The rows with a key, each key once; complains of unknown keys.
    pub(super) fn settings(&self) -> Vec<Setting<'_>> {
        let mut found: Vec<Setting<'_>> = Vec::new();
        for (index, row) in self.rows.iter().enumerate() {
            let Some((at, key)) = setting(row, self.settings).filter(|_| index != self.head) else { continue };
            let Some(key) = key else {
                let written = row.cell(at);
                let known = self.settings.iter().copied();
                let hint = near::nearest(written, known.clone()).map_or_else(
                    || {
                        format!(
                            "known: {}; a name that begins so is written '#name",
                            known.collect::<Vec<_>>().join(", ")
                        )
                    },
                    |near| format!("did you mean {near}?"),
                );
                self.report(row, at, format!("nothing is called {}", short(written)), hint);
                continue;
            };
            if found.iter().any(|other| other.key == key) {
                self.report(row, at, format!("{key} stands twice"), "");
                continue;
            }
            found.push(Setting { key, row, at });
        }
        found
    }

    /// The one value of a setting and its column; complains of several.
    pub(super) fn value<'t>(&self, setting: &Setting<'t>) -> Option<(&'t str, usize)> {
        let mut values = setting.row.iter().enumerate().filter(|(at, cell)| *at != setting.at && !cell.is_empty());
        let (at, value) = values.next()?;
        if let Some((more, _)) = values.next() {
            let message = format!("{} has more than one value", setting.key);
            self.report(setting.row, more, message, "expected one; a text with the delimiter in it stands in quotes");
            return None;
        }
        Some((value, at))
    }

    /// Complains of a cell below the headings: of each kind of fault that a
    /// column has the first is shown, and the rest is counted.
    pub(super) fn report_once(&self, row: &Row, column: usize, message: impl AsRef<str>, help: impl Into<String>) {
        let help = help.into();
        if row.number <= self.head().number {
            return self.report(row, column, message, help);
        }
        let cell = row.cell(column);
        // What is wrong, without the cell that it is wrong in and its numbers.
        let kind = if cell.is_empty() { help.clone() } else { message.as_ref().replace(&short(cell), "") };
        let kind = kind.replace(|c: char| c.is_ascii_digit() || ".,".contains(c), "");
        if let Some(told) = self.told.borrow_mut().get_mut(&(column, kind.clone())) {
            told.next_row = if told.more == 0 { row.number } else { told.next_row };
            told.more += 1;
            return;
        }
        let index = self.take(row, column, message, help);
        self.told.borrow_mut().insert((column, kind), Told { index, more: 0, next_row: 0 });
    }

    /// Says of every fault that was told once how many rows have it.
    pub(super) fn count_repeats(&self) {
        for told in self.told.take().into_values() {
            let (Some(index), 1..) = (told.index, told.more) else { continue };
            let rows = if told.more == 1 {
                format!(", and the same in row {}", told.next_row)
            } else {
                format!(", and the same in {} more rows, the next of them row {}", told.more, told.next_row)
            };
            self.sink.append(index, &rows);
        }
    }

    /// Complains of a cell, by its row and its heading.
    pub(super) fn report(&self, row: &Row, column: usize, message: impl AsRef<str>, help: impl Into<String>) {
        self.take(row, column, message, help);
    }

    fn take(&self, row: &Row, column: usize, message: impl AsRef<str>, help: impl Into<String>) -> Option<usize> {
        if self.sink.is_full() {
            // Counted, and not looked up.
            return self.sink.take(0..0, "", "");
        }
        let heading = self.head().cell(column);
        let place = if std::ptr::eq(row, self.head()) || heading.is_empty() || heading == row.cell(column) {
            format!("row {}", row.number)
        } else {
            format!("row {}, column `{}`", row.number, short(heading))
        };
        let spans = self.spans(row, column).0;
        let span = spans.get(column).or(spans.last()).cloned().unwrap_or(row.start..row.start);
        self.sink.take(span, format!("{place}: {}", message.as_ref()), help)
    }

    /// The bytes of the cells of a row up to a column, and those of one whose
    /// quote is not closed.
    fn spans(&self, row: &Row, to: usize) -> (Vec<Range<usize>>, Option<Range<usize>>) {
        let text = &self.sink.source.text;
        let mut at = skip_breaks(text, row.start);
        let bytes = text.as_bytes();
        let mut spans = Vec::new();
        while spans.len() <= to {
            let start = at;
            let mut quoted = bytes.get(at) == Some(&b'"');
            at += usize::from(quoted);
            while let Some(&byte) = bytes.get(at) {
                match byte {
                    b'"' if quoted && bytes.get(at + 1) == Some(&b'"') => at += 1,
                    b'"' if quoted => quoted = false,
                    b'\n' | b'\r' if !quoted => break,
                    _ if byte == self.delimiter && !quoted => break,
                    _ => {}
                }
                at += 1;
            }
            spans.push(start..at);
            if quoted {
                return (spans, Some(start..at));
            }
            if bytes.get(at) != Some(&self.delimiter) {
                break;
            }
            at += 1;
        }
        (spans, None)
    }
}

fn skip_breaks(text: &str, from: usize) -> usize {
    let rest = &text[from.min(text.len())..];
    from + rest.len() - rest.trim_start_matches(['\n', '\r']).len()
}

/// The column of a key and the key, where a row is a setting; `None` for a key
/// that nobody knows.
fn setting(row: &Row, known: &[&'static str]) -> Option<(usize, Option<&'static str>)> {
    let is_key = |cell: &str| known.iter().copied().find(|key| cell.eq_ignore_ascii_case(key));
    let hash = row.iter().enumerate().filter(|(_, cell)| cell.starts_with('#'));
    for (at, cell) in hash {
        if let Some(key) = is_key(cell) {
            return Some((at, Some(key)));
        }
    }
    let first = row.iter().enumerate().find(|(_, cell)| !cell.is_empty())?;
    first.1.starts_with('#').then_some((first.0, None))
}

/// The rows, all or up to the headings, and the index of those.
fn rows(
    text: &str,
    start: usize,
    delimiter: u8,
    first_row: usize,
    settings: &[&'static str],
    up_to_head: bool,
) -> (Vec<Row>, Option<usize>) {
    let body = &text.as_bytes()[start..];
    let mut reader = ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(body);
    let (mut rows, mut head) = (Vec::new(), None);
    let mut cells = StringRecord::new();
    let mut number = first_row;
    // Reading from memory cannot fail, and the text is UTF-8 already.
    while let Ok(true) = reader.read_record(&mut cells) {
        let begin = start + cells.position().map_or(0, |position| position.byte() as usize);
        // Empty lines are no records, but rows to a spreadsheet.
        let gap = &text.as_bytes()[begin..skip_breaks(text, begin)];
        let skipped = gap.iter().filter(|byte| **byte == b'\n').count();
        let after_return = begin > start && text.as_bytes()[begin - 1] == b'\r' && gap.first() == Some(&b'\n');
        number += skipped - usize::from(after_return);
        let row = Row { number, start: begin, cells: cells.clone() };
        number += 1;
        if head.is_none() && !row.is_empty() && setting(&row, settings).is_none() {
            head = Some(rows.len());
        }
        rows.push(row);
        if up_to_head && head.is_some() {
            break;
        }
    }
    (rows, head)
}
