//! Published compositions beside a palette, for reading.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::results::compositions::CompositionLine;

/// What is said of each, under a head of its own; nothing where there is none.
pub fn compositions(lines: &[CompositionLine], page: &Page, out: &mut String) {
    if lines.is_empty() {
        return;
    }
    page.head(out, "Published compositions beside your numbers");
    for line in lines {
        let ink = if line.is_at_odds() { Ink::Alert } else { Ink::Plain };
        page.paragraph(out, "  ", 2, &escaped(&line.code), Ink::Strong);
        for sentence in &line.sentences {
            page.paragraph(out, "  - ", 4, &escaped(sentence), ink);
        }
    }
}
