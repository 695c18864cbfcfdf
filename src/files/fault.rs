//! What is wrong with an input file, and how it is shown.

use std::cell::{Cell, RefCell};
use std::fmt;
use std::ops::Range;

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, Severity, SourceCode, ThemeCharacters, ThemeStyles,
};

use super::snippet::Snippet;
use super::source::Source;
use crate::escape::escaped;
use crate::place::Place;
use crate::store::Store;

/// Faults of one file beyond this many are counted but not kept.
const KEPT: usize = 200;
/// Columns of a rendered message.
const WIDTH: usize = 80;

/// One thing that is wrong with an input file.
#[derive(Clone, Debug)]
pub struct Fault {
    /// What is wrong, in one sentence; control characters are escaped already.
    pub message: String,
    /// What was expected, and the nearest known name where one is near.
    pub help: Option<String>,
    /// Where, unless the file could not be read at all.
    pub place: Option<Place>,
    snippet: Option<Snippet>,
}

impl Fault {
    /// A fault of a whole file.
    pub(super) fn bare(message: String) -> Fault {
        Fault { message, help: None, place: None, snippet: None }
    }

    /// A fault at a range of bytes in a line that is given as text.
    pub(super) fn in_line(message: String, place: Place, line: &str, wrong: Range<usize>) -> Fault {
        let snippet = Snippet::new(place.clone(), line, wrong);
        Fault { message, help: None, place: Some(place), snippet: Some(snippet) }
    }

    /// A fault at a range of bytes of a source; of a range of several lines
    /// the first is shown.
    pub(super) fn at(source: &Source, span: Range<usize>, message: String) -> Fault {
        let start = span.start.min(source.text.len());
        let line = source.line_range(source.line_of(start));
        let wrong = start.saturating_sub(line.start)..span.end.min(line.end).saturating_sub(line.start);
        Fault::in_line(message, source.place(start), &source.text[line], wrong)
    }

    /// The same fault with a help text.
    pub(super) fn help(mut self, help: String) -> Fault {
        self.help = Some(help);
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Fault {}

impl Diagnostic for Fault {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.help.as_ref().map(|help| Box::new(help) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.snippet.as_ref().map(|snippet| snippet as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let span = self.snippet.as_ref()?.span();
        Some(Box::new(std::iter::once(LabeledSpan::new_with_span(None, span))))
    }
}

/// All that is wrong with the files that were read together; never empty.
#[derive(Clone, Debug)]
pub struct Faults {
    faults: Vec<Fault>,
    /// Faults that were counted but not kept.
    more: usize,
    /// What could not be looked at because of the faults.
    notes: Vec<Note>,
}

impl Faults {
    /// The faults in the order of the files, and of the places in each.
    pub fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.faults.iter()
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.faults.len() + self.more
    }

    /// All the faults as text: each with file, line and column, the line it
    /// stands in, carets under what is wrong, and what was expected.
    pub fn render(&self, colour: bool) -> String {
        self.render_to_width(colour, WIDTH)
    }

    /// The same, wrapped at a width in columns.
    pub fn render_to_width(&self, colour: bool, width: usize) -> String {
        let styles = if colour { ThemeStyles::ansi() } else { ThemeStyles::none() };
        let characters = ThemeCharacters { error: "error:".into(), advice: "note:".into(), ..ThemeCharacters::ascii() };
        let handler = GraphicalReportHandler::new_themed(GraphicalTheme { characters, styles })
            .with_width(width)
            .with_links(false)
            .with_context_lines(0)
            .without_syntax_highlighting();
        let mut text = String::new();
        for fault in self.faults.iter() {
            if handler.render_report(&mut text, fault).is_err() {
                // A message must not be lost because its drawing failed.
                text += &format!("  error: {fault}\n");
            }
            text.push('\n');
        }
        for note in &self.notes {
            if handler.render_report(&mut text, note).is_err() {
                text += &format!("  note: {note}\n");
            }
            text.push('\n');
        }
        match (self.more, self.count()) {
            (0, 1) => text.truncate(text.trim_end().len()),
            (0, count) => text += &format!("{count} faults"),
            (more, count) => text += &format!("{count} faults, of which the last {more} are not shown"),
        }
        text.push('\n');
        text
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Faults {}

/// What could not be looked at because of faults.
#[derive(Clone, Debug)]
struct Note(String);

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Note {}

impl Diagnostic for Note {
    fn severity(&self) -> Option<Severity> {
        Some(Severity::Advice)
    }
}

/// Gathers what is wrong with one file while it is read.
#[derive(Debug)]
pub(super) struct Sink<'a> {
    /// The file.
    pub(super) source: &'a Source,
    /// Where the files are that it names.
    pub(super) store: &'a dyn Store,
    faults: RefCell<Vec<(usize, Fault)>>,
    more: Cell<usize>,
    /// Bytes that could not be understood; whatever is missing there is not
    /// worth a second message.
    pub(super) broken: Vec<Range<usize>>,
}

impl<'a> Sink<'a> {
    pub(super) fn new(source: &'a Source, store: &'a dyn Store) -> Sink<'a> {
        Sink { source, store, faults: RefCell::default(), more: Cell::new(0), broken: Vec::new() }
    }

    /// Takes a fault at a range of bytes.
    pub(super) fn report(&self, span: Range<usize>, message: impl Into<String>, help: impl Into<String>) {
        self.take(span, message, help);
    }

    /// The same; where the fault is kept, what it goes by for [`Sink::append`].
    pub(super) fn take(
        &self,
        span: Range<usize>,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Option<usize> {
        let mut faults = self.faults.borrow_mut();
        if faults.len() >= KEPT {
            self.more.set(self.more.get() + 1);
            return None;
        }
        let (start, help) = (span.start, help.into());
        let fault = Fault::at(self.source, span, message.into());
        faults.push((start, if help.is_empty() { fault } else { fault.help(help) }));
        Some(faults.len() - 1)
    }

    /// Says more of a fault that was taken.
    pub(super) fn append(&self, index: usize, more: &str) {
        if let Some((_, fault)) = self.faults.borrow_mut().get_mut(index) {
            fault.message += more;
        }
    }

    /// Takes a fault of the whole file, which is shown at its beginning.
    pub(super) fn report_file(&self, message: &str, help: &str) {
        self.report(0..0, message, help);
    }

    /// Whether further faults would not be kept: hints need not be looked for.
    pub(super) fn is_full(&self) -> bool {
        self.faults.borrow().len() >= KEPT
    }

    /// How many faults there are so far.
    pub(super) fn count(&self) -> usize {
        self.faults.borrow().len() + self.more.get()
    }

    /// Whether nothing is wrong so far.
    pub(super) fn is_clean(&self) -> bool {
        self.count() == 0
    }

    /// The faults in the order of the file, and how many more were not kept.
    pub(super) fn into_faults(self) -> (Vec<Fault>, usize) {
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|(start, _)| *start);
        // What the parser stumbles over twice is told once.
        faults.dedup_by(|(a, second), (b, first)| a == b && second.message == first.message);
        (faults.into_iter().map(|(_, fault)| fault).collect(), self.more.get())
    }
}

/// Gathers the faults of several files.
#[derive(Debug, Default)]
pub(super) struct Tally {
    faults: Vec<Fault>,
    more: usize,
    notes: Vec<Note>,
}

impl Tally {
    /// Adds one file's faults.
    pub(super) fn add(&mut self, (faults, more): (Vec<Fault>, usize)) {
        self.faults.extend(faults);
        self.more += more;
    }

    /// Adds what another tally gathered.
    pub(super) fn append(&mut self, other: Tally) {
        self.faults.extend(other.faults);
        self.more += other.more;
        self.notes.extend(other.notes);
    }

    /// How many faults there are so far.
    pub(super) fn count(&self) -> usize {
        self.faults.len() + self.more
    }

    /// Adds what could not be looked at.
    pub(super) fn note(&mut self, note: String) {
        self.notes.push(Note(escaped(&note)));
    }

    /// The value where nothing is wrong, else the faults.
    pub(super) fn finish<T>(self, value: Option<T>) -> Result<T, Faults> {
        match value {
            Some(value) if self.faults.is_empty() => Ok(value),
            // A file that gave no value has given a fault.
            _ => Err(Faults { faults: self.faults, more: self.more, notes: self.notes }),
        }
    }
}
