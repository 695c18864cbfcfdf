//! Files that are reached from the command line, or from a key of another file.

use std::path::Path;

use toml::de::DeTable;

use super::fault::{Fault, Sink, Tally};
use super::source::{ReadError, Source};
use super::syntax;
use super::value::Field;
use crate::escape::escaped;
use crate::place::Place;
use crate::store::Store;

/// Reads the file at a path; its faults go to the tally.
pub(super) fn read_path<T>(
    store: &dyn Store,
    path: &Path,
    tally: &mut Tally,
    read: impl FnOnce(&Sink<'_>, &DeTable<'_>) -> T,
) -> Option<(Source, T)> {
    match Source::read(store, path) {
        Ok(source) => Some(read_source(store, source, tally, read)),
        Err(error) => {
            tally.add((vec![fault(path, error)], 0));
            None
        }
    }
}

/// Reads a text as if it stood in the file at a path.
pub(super) fn read_text<T>(
    store: &dyn Store,
    path: &Path,
    text: String,
    tally: &mut Tally,
    read: impl FnOnce(&Sink<'_>, &DeTable<'_>) -> T,
) -> T {
    read_source(store, Source::new(&path.to_string_lossy(), text), tally, read).1
}

/// Reads a file that a key names, relative to a folder. Where it cannot be
/// read at all the complaint stands at the key.
pub(super) fn read_named<T>(
    field: &Field<'_>,
    folder: &Path,
    named: &str,
    tally: &mut Tally,
    read: impl FnOnce(&Sink<'_>, &DeTable<'_>) -> T,
) -> Option<(Source, T)> {
    let (path, store) = (folder.join(named), field.sink.store);
    match Source::read(store, &path) {
        Ok(source) => Some(read_source(store, source, tally, read)),
        Err(ReadError::Unreadable { message }) => {
            let shown = escaped(&path.to_string_lossy());
            field.report(format!("{shown} {message}"), "a path is relative to the file that names it");
            None
        }
        Err(error) => {
            tally.add((vec![fault(&path, error)], 0));
            None
        }
    }
}

fn read_source<T>(
    store: &dyn Store,
    source: Source,
    tally: &mut Tally,
    read: impl FnOnce(&Sink<'_>, &DeTable<'_>) -> T,
) -> (Source, T) {
    let mut sink = Sink::new(&source, store);
    let value = syntax::parse(&mut sink, read);
    tally.add(sink.into_faults());
    (source, value)
}

pub(super) fn fault(path: &Path, error: ReadError) -> Fault {
    let shown = path.to_string_lossy();
    match error {
        ReadError::Unreadable { message } => Fault::bare(format!("{} {message}", escaped(&shown))),
        ReadError::NotUtf8 { line, column, byte, text, at, utf16 } => {
            let place = Place { file: shown.as_ref().into(), line, column };
            let message = format!("the file is not UTF-8: byte 0x{byte:02X}");
            // The replacement character that stands for the byte.
            let wrong = at..at + char::REPLACEMENT_CHARACTER.len_utf8();
            let help = if utf16 { "it looks like UTF-16; save it as UTF-8" } else { "save it as UTF-8" };
            Fault::in_line(message, place, &text, wrong).help(help.into())
        }
    }
}
