//! Reading a file whole, and knowing where in it a byte stands.

use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use crate::place::Place;
use crate::store::Store;

/// Files bigger than this many bytes are refused.
pub const LARGEST_FILE: u64 = 16 * 1024 * 1024;

/// Characters are counted once for every block of this many bytes, so that a
/// column far out on a very long line is found without reading that line again.
const BLOCK: usize = 1024;

/// The text of one input file.
#[derive(Debug)]
pub(super) struct Source {
    /// The file's path, as the user reaches it.
    pub(super) file: Arc<str>,
    /// All of it.
    pub(super) text: String,
    /// Byte offset at which each line begins.
    lines: Vec<usize>,
    /// Characters that begin before each multiple of `BLOCK`.
    blocks: Vec<usize>,
}

/// Why a file could not be read.
#[derive(Debug)]
pub(super) enum ReadError {
    /// It cannot be opened, is no file, or is too big.
    Unreadable {
        /// What is wrong, as the end of a sentence that begins with the path.
        message: String,
    },
    /// The bytes are not UTF-8.
    NotUtf8 {
        /// Line of the first wrong byte, counted from 1.
        line: usize,
        /// Column of the first wrong byte in characters, counted from 1.
        column: usize,
        /// The first wrong byte.
        byte: u8,
        /// Its line, with a replacement character for what could not be read.
        text: String,
        /// Byte offset in `text` at which the wrong byte stood.
        at: usize,
        /// Whether the file begins with the mark of UTF-16.
        utf16: bool,
    },
}

impl Source {
    /// Reads a file.
    pub(super) fn read(store: &dyn Store, path: &Path) -> Result<Source, ReadError> {
        let bytes = store.bytes(path, LARGEST_FILE);
        let bytes = bytes.map_err(|why| ReadError::Unreadable { message: why.to_string() })?;
        match String::from_utf8(bytes) {
            Ok(text) => Ok(Source::new(&path.to_string_lossy(), text)),
            Err(error) => Err(not_utf8(error.utf8_error().valid_up_to(), error.as_bytes())),
        }
    }

    /// A source from text. Its characters are brought into their composed form
    /// (Unicode NFC), so that names that look the same are the same, whichever
    /// keyboard or spreadsheet wrote their accents.
    pub(super) fn new(file: &str, text: String) -> Source {
        let text = super::form::composed(text);
        let lines = std::iter::once(0).chain(text.bytes().enumerate().filter(|b| b.1 == b'\n').map(|b| b.0 + 1));
        let lines = lines.collect();
        let mut blocks = Vec::with_capacity(text.len() / BLOCK + 1);
        let mut characters = 0;
        for block in text.as_bytes().chunks(BLOCK) {
            blocks.push(characters);
            characters += begun(block);
        }
        blocks.push(characters);
        Source { file: file.into(), text, lines, blocks }
    }

    /// Index of the line that holds a byte, counted from 0.
    pub(super) fn line_of(&self, offset: usize) -> usize {
        self.lines.partition_point(|&start| start <= offset).saturating_sub(1)
    }

    /// The bytes of a line, counted from 0, without its end.
    pub(super) fn line_range(&self, line: usize) -> Range<usize> {
        let start = self.lines.get(line).copied().unwrap_or(self.text.len());
        let end = self.lines.get(line + 1).map_or(self.text.len(), |next| next - 1);
        let end = if self.text.as_bytes()[start..end].ends_with(b"\r") { end - 1 } else { end };
        start..end
    }

    /// How many lines there are.
    pub(super) fn line_count(&self) -> usize {
        self.lines.len()
    }

    /// The place of a byte.
    pub(super) fn place(&self, offset: usize) -> Place {
        let offset = offset.min(self.text.len());
        let line = self.line_of(offset);
        let start = self.line_range(line).start;
        let column = self.characters_before(offset).saturating_sub(self.characters_before(start));
        Place { file: self.file.clone(), line: line + 1, column: column + 1 }
    }

    /// Characters that begin before a byte.
    fn characters_before(&self, offset: usize) -> usize {
        let block = offset / BLOCK;
        self.blocks[block] + begun(&self.text.as_bytes()[block * BLOCK..offset])
    }
}

/// How many characters begin among these bytes of UTF-8.
fn begun(bytes: &[u8]) -> usize {
    bytes.iter().filter(|byte| (**byte & 0xC0) != 0x80).count()
}

fn not_utf8(at: usize, bytes: &[u8]) -> ReadError {
    let start = bytes[..at].iter().rposition(|byte| *byte == b'\n').map_or(0, |newline| newline + 1);
    let end = bytes[at..].iter().position(|byte| *byte == b'\n').map_or(bytes.len(), |newline| at + newline);
    ReadError::NotUtf8 {
        line: bytes[..at].iter().filter(|byte| **byte == b'\n').count() + 1,
        column: begun(&bytes[start..at]) + 1,
        byte: bytes.get(at).copied().unwrap_or_default(),
        text: String::from_utf8_lossy(&bytes[start..end]).into_owned(),
        at: at - start,
        utf16: bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_count_characters() {
        let source = Source::new("x", "a\r\nöö = 1\n\n".into());
        let at = |offset| {
            let place = source.place(offset);
            (place.line, place.column)
        };
        assert_eq!(at(0), (1, 1));
        assert_eq!(at(3), (2, 1));
        assert_eq!(at(source.text.find('=').unwrap()), (2, 4));
        assert_eq!(at(source.text.len()), (4, 1));
        assert_eq!(source.line_range(0), 0..1);
        assert_eq!(source.line_range(3), source.text.len()..source.text.len());
    }

    #[test]
    fn places_on_a_long_line() {
        let source = Source::new("x", "é".repeat(5000));
        for character in [0, 511, 512, 513, 4999, 5000] {
            assert_eq!(source.place(2 * character).column, character + 1);
        }
    }
}
