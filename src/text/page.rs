//! The page that text is set on: its width, its ink, its paragraphs.

use anstyle::{AnsiColor, Style};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::escape::escaped;
use crate::results::Head;

/// How wide text may be, whether it may be coloured, and how much is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Page {
    /// Columns.
    pub width: usize,
    /// Whether escape sequences for colour may be written.
    pub colour: bool,
    /// Whether everything is told, or only what its reader needs first.
    pub full: bool,
    /// Whether every limit is told in the short form too.
    pub limits: bool,
    /// Whether the sources of the limits are told in the short form too.
    pub sources: bool,
}

/// What a piece of text is, and so how it is inked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ink {
    /// Ordinary text.
    #[default]
    Plain,
    /// A headline.
    Strong,
    /// The head of a section.
    Head,
    /// What can be read later.
    Faint,
    /// What is as it should be.
    Good,
    /// What wants attention.
    Alert,
}

impl Ink {
    fn style(self) -> Style {
        match self {
            Ink::Plain => Style::new(),
            Ink::Strong => Style::new().bold(),
            Ink::Head => Style::new().bold().fg_color(Some(AnsiColor::Cyan.into())),
            Ink::Faint => Style::new().dimmed(),
            Ink::Good => Style::new().fg_color(Some(AnsiColor::Green.into())),
            Ink::Alert => Style::new().bold().fg_color(Some(AnsiColor::Yellow.into())),
        }
    }
}

impl Default for Page {
    /// 80 columns, without colour, the short form.
    fn default() -> Self {
        Page { width: 80, colour: false, full: false, limits: false, sources: false }
    }
}

impl Page {
    /// Text in an ink; as it is where the page has no colour.
    pub fn ink(&self, text: &str, ink: Ink) -> String {
        let style = ink.style();
        if self.colour && ink != Ink::Plain && !text.is_empty() {
            format!("{style}{text}{style:#}")
        } else {
            text.to_owned()
        }
    }

    /// Adds a paragraph, wrapped at the width of the page: its first line
    /// begins with `first`, every other with as many blanks as `indent`.
    pub fn paragraph(&self, out: &mut String, first: &str, indent: usize, text: &str, ink: Ink) {
        for (at, line) in wrap(text, self.width.saturating_sub(indent.max(width(first)))).into_iter().enumerate() {
            let lead = if at == 0 { padded(first, indent) } else { " ".repeat(indent) };
            *out += &self.ink(&lead, Ink::Plain);
            *out += &self.ink(&line, ink);
            out.push('\n');
        }
    }

    /// Ends a short answer that shows limits: what `--full` would add to it, and
    /// which part of that can be had alone.
    pub fn options(&self, out: &mut String, what: &str) {
        if self.full {
            return;
        }
        let part = match (self.limits, self.sources) {
            (false, false) => ", --limits, --sources (of the limits)",
            (true, false) => ", --sources (of the limits)",
            (false, true) => ", --limits",
            (true, true) => "",
        };
        self.paragraph(out, "", 0, &format!("More: --full ({what}){part}."), Ink::Plain);
    }

    /// Adds a paragraph behind a label that stands out like the head of a
    /// section, wrapped at the width of the page; without a label it goes on below
    /// the one before.
    pub fn labelled(&self, out: &mut String, label: &str, text: &str, ink: Ink) {
        let indent = LABEL.max(if label.is_empty() { 0 } else { width(label) + 1 });
        for (at, line) in wrap(text, self.width.saturating_sub(indent)).into_iter().enumerate() {
            let label = if at == 0 { label } else { "" };
            *out += &self.ink(label, Ink::Head);
            *out += &" ".repeat(indent - width(label));
            *out += &self.ink(&line, ink);
            out.push('\n');
        }
    }

    /// Adds the title of a brief, or the brief's file where it has none.
    pub fn title(&self, out: &mut String, head: &Head) {
        self.title_alone(out, head);
        if let Some(views) = &head.judged_in {
            self.paragraph(out, "  ", 2, &format!("{}.", escaped(views)), Ink::Faint);
        }
    }

    /// The same without the views that formulas are judged in: for an answer that gives the
    /// figures of each.
    pub fn title_alone(&self, out: &mut String, head: &Head) {
        let title = head.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&head.brief);
        self.paragraph(out, "", 0, &escaped(title), Ink::Strong);
        if head.by_trials {
            let text = "By what trials taught, not by the palette as it is written.";
            self.paragraph(out, "  ", 2, text, Ink::Faint);
        }
    }

    /// Ends a short answer: what `--full` would add to it.
    pub fn full_adds(&self, out: &mut String, what: &str) {
        if !self.full {
            out.push('\n');
            self.paragraph(out, "", 0, &format!("--full adds {what}."), Ink::Faint);
        }
    }

    /// Adds the head of a section, with a blank line before it.
    pub fn head(&self, out: &mut String, text: &str) {
        out.push('\n');
        self.paragraph(out, "", 0, text, Ink::Head);
    }
}

/// Columns that a label takes before its paragraph.
const LABEL: usize = 10;

/// A text with blanks after it, up to so many columns.
pub fn padded(text: &str, columns: usize) -> String {
    format!("{text}{}", " ".repeat(columns.saturating_sub(width(text))))
}

/// Columns that a text takes on a terminal.
pub fn width(text: &str) -> usize {
    text.width()
}

/// Breaks a text into lines of at most `most` columns, between words where it
/// can be and inside words that are longer than a line.
pub fn wrap(text: &str, most: usize) -> Vec<String> {
    let most = most.max(8);
    let mut lines = Vec::new();
    let mut line = String::new();
    for mut word in words(text) {
        let fits = |line: &str, word: &str| width(line) + usize::from(!line.is_empty()) + width(word) <= most;
        if !fits(&line, &word) && !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        while width(&word) > most {
            let rest = word.split_off(cut(&word, most));
            lines.push(std::mem::replace(&mut word, rest));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line += &word;
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// The words of a text; a number and its percent or per mil are one.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match words.last_mut().filter(|_| word.starts_with(['%', '‰'])) {
            Some(number) => *number = format!("{number} {word}"),
            None => words.push(word.to_owned()),
        }
    }
    words
}

/// The byte before which a text fills `most` columns; at least one character.
fn cut(text: &str, most: usize) -> usize {
    let mut columns = 0;
    for (at, character) in text.char_indices() {
        columns += character.width().unwrap_or(0);
        if columns > most && at > 0 {
            return at;
        }
    }
    text.len()
}

/// A text of at most `most` columns, the end cut off where it is longer.
pub fn shortened(text: &str, most: usize) -> String {
    if width(text) <= most {
        return text.to_owned();
    }
    format!("{}…", text[..cut(text, most.saturating_sub(1).max(1))].trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_characters_take_two_columns() {
        let mut out = String::new();
        Page::default().paragraph(&mut out, "薔薇", 6, "rosy", Ink::Plain);
        assert_eq!(out, "薔薇  rosy\n");
    }

    #[test]
    fn wrapping() {
        assert_eq!(wrap("one two three four", 9), ["one two", "three", "four"]);
        assert_eq!(wrap("", 20), [""]);
        assert_eq!(wrap("computed 90.6 %, best", 14), ["computed", "90.6 %, best"]);
        assert_eq!(wrap("abcdefghijklmnop", 10), ["abcdefghij", "klmnop"]);
        assert_eq!(wrap("薔薇薔薇薔薇", 8), ["薔薇薔薇", "薔薇"]);
        assert_eq!(shortened("Phenylethyl alcohol", 10), "Phenyleth…");
    }
}
