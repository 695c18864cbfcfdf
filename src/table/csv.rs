//! Comma-separated values that a spreadsheet reads as they are meant.

use crate::escape::steers;
use crate::number::plain;

/// Rows of cells, written out after RFC 4180 with plain line feeds.
#[derive(Debug, Default)]
pub struct Csv {
    text: String,
}

impl Csv {
    /// A table with a head.
    pub fn new<S: AsRef<str>>(head: &[S]) -> Csv {
        let mut csv = Csv::default();
        csv.row(&head.iter().map(|title| text(title.as_ref())).collect::<Vec<_>>());
        csv
    }

    /// Adds a row of cells from [`text`] and [`number`].
    pub fn row(&mut self, cells: &[String]) {
        self.text += &cells.join(",");
        self.text.push('\n');
    }

    /// The whole table.
    pub fn finish(self) -> String {
        self.text
    }
}

/// A cell of text. One that a spreadsheet would take for a formula gets an
/// apostrophe in front; control characters are escaped.
pub fn text(value: &str) -> String {
    let is_formula = value.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let mut cell = String::from(if is_formula { "'" } else { "" });
    for character in value.chars() {
        if steers(character) { cell.extend(character.escape_default()) } else { cell.push(character) }
    }
    if cell.contains([',', '"']) || cell.trim() != cell { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

/// A cell with a number in full; empty where there is none.
pub fn number(value: Option<f64>) -> String {
    value.filter(|value| value.is_finite()).map(plain).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells() {
        assert_eq!(text("Rose oxide, cis"), "\"Rose oxide, cis\"");
        assert_eq!(text("5\" bottle"), "\"5\"\" bottle\"");
        for formula in ["=1+1", "+1", "-1", "@x"] {
            assert_eq!(text(formula), format!("'{formula}"));
        }
        assert_eq!(text("\tx\r\n"), "'\\tx\\r\\n");
        assert_eq!(text(" padded"), "\" padded\"");
        assert_eq!(number(Some(0.1)), "0.1");
        assert_eq!(number(Some(-1.0)), "-1");
        assert_eq!(number(None), "");
        let mut csv = Csv::new(&["a", "b"]);
        csv.row(&[text("x"), number(Some(2.0))]);
        assert_eq!(csv.finish(), "a,b\nx,2\n");
    }
}
