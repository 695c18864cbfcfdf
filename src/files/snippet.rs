//! The quoted line under a message: one line, cut to a window around what is
//! wrong, with nothing in it that could steer a terminal.

use std::ops::Range;

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

use crate::escape::escaped;
use crate::place::Place;

/// A quoted line is cut to about this many characters.
const WINDOW: usize = 64;
/// Characters that are kept before what is wrong when a line is cut.
const BEFORE: usize = 16;

/// One line of a file with a range to underline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Snippet {
    place: Place,
    text: String,
    underline: Range<usize>,
}

impl Snippet {
    /// Quotes a line; `wrong` is the range of its bytes to underline.
    pub(super) fn new(place: Place, line: &str, wrong: Range<usize>) -> Snippet {
        let wrong = floor(line, wrong.start)..floor(line, wrong.end.max(wrong.start));
        // The window is found by walking from the fault, so that only the
        // quoted part of a huge line is ever looked at.
        let before = line[..wrong.start].char_indices().rev().nth(BEFORE - 1).map_or(0, |(at, _)| at);
        let whole = line.len() <= WINDOW;
        let from = if whole { 0 } else { before };
        let to = line[from..].char_indices().nth(WINDOW).map_or(line.len(), |(at, _)| from + at);
        let wrong = wrong.start..wrong.end.min(to);

        let mut text = String::from(if from > 0 { "... " } else { "" });
        text += &escaped(&line[from..wrong.start]);
        let start = text.len();
        text += &escaped(&line[wrong.clone()]);
        let end = text.len();
        text += &escaped(&line[wrong.end..to]);
        if to < line.len() {
            text += " ...";
        }
        if start == text.len() {
            // A caret needs something to stand under, also at the end of a line.
            text.push(' ');
        }
        Snippet { place, text, underline: start..end.max(start + 1) }
    }

    /// The range to underline.
    pub(super) fn span(&self) -> SourceSpan {
        self.underline.clone().into()
    }
}

impl SourceCode for Snippet {
    fn read_span<'a>(
        &'a self,
        _span: &SourceSpan,
        _lines_before: usize,
        _lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let span = SourceSpan::from(0..self.text.len());
        let (line, column) = (self.place.line - 1, self.place.column - 1);
        let file = escaped(&self.place.file);
        Ok(Box::new(MietteSpanContents::new_named(file, self.text.as_bytes(), span, line, column, 1)))
    }
}

/// A name for a message: escaped, and cut where it is very long.
pub(super) fn short(name: &str) -> String {
    let longest = 60;
    match name.char_indices().nth(longest) {
        Some((cut, _)) => format!("{}...", escaped(&name[..cut])),
        None => escaped(name),
    }
}

fn floor(line: &str, offset: usize) -> usize {
    let mut offset = offset.min(line.len());
    while !line.is_char_boundary(offset) {
        offset -= 1;
    }
    offset
}

#[cfg(test)]
mod tests {
    use super::*;

    fn snippet(line: &str, wrong: Range<usize>) -> Snippet {
        Snippet::new(Place { file: "x".into(), line: 1, column: 1 }, line, wrong)
    }

    #[test]
    fn long_lines_are_cut_around_the_fault() {
        let line = format!("{}WRONG{}", "a".repeat(100_000), "b".repeat(100_000));
        let cut = snippet(&line, 100_000..100_005);
        assert!(cut.text.len() < 100, "{}", cut.text);
        assert_eq!(&cut.text[cut.underline.clone()], "WRONG");
        let all = snippet(&line, 0..line.len());
        assert!(all.text.len() < 100, "{}", all.text);
    }

    #[test]
    fn control_characters_are_escaped() {
        let clean = snippet("name = \"\u{1b}[31m\u{202e}x\"\r", 7..8);
        assert_eq!(clean.text, "name = \"\\u{1b}[31m\\u{202e}x\"\\r");
        assert_eq!(snippet("", 0..0).text, " ");
        assert_eq!(snippet("é", 1..1).underline, 0..1);
    }
}
