//! Tables as comma-separated values that a spreadsheet reads as they are meant:
//! RFC 4180 with plain line feeds.

use crate::escape::steers;
use crate::number::plain;
use crate::table::{Cell, Table};

/// A table with its head, a line for each row.
pub fn text(table: &Table) -> String {
    let mut out = String::new();
    let mut line = |cells: Vec<String>| {
        out += &cells.join(",");
        out.push('\n');
    };
    line(table.head.iter().map(|title| quoted(title)).collect());
    for row in &table.rows {
        line(row.iter().map(cell).collect());
    }
    out
}

fn cell(cell: &Cell) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(text) => quoted(text),
        Cell::Number(number) if number.is_finite() => plain(*number),
        Cell::Number(_) => String::new(),
        Cell::Dose(dose) => dose.to_string(),
        Cell::Count(count) => count.to_string(),
        Cell::Truth(truth) => truth.to_string(),
    }
}

/// A text that a spreadsheet would take for a formula gets an apostrophe in
/// front; control characters are escaped.
fn quoted(value: &str) -> String {
    let is_formula = value.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let mut cell = String::from(if is_formula { "'" } else { "" });
    for character in value.chars() {
        if steers(character) { cell.extend(character.escape_default()) } else { cell.push(character) }
    }
    if cell.contains([',', '"']) || cell.trim() != cell { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Ppt;

    #[test]
    fn cells() {
        assert_eq!(quoted("Rose oxide, cis"), "\"Rose oxide, cis\"");
        assert_eq!(quoted("5\" bottle"), "\"5\"\" bottle\"");
        for formula in ["=1+1", "+1", "-1", "@x"] {
            assert_eq!(quoted(formula), format!("'{formula}"));
        }
        assert_eq!(quoted("\tx\r\n"), "'\\tx\\r\\n");
        assert_eq!(quoted(" padded"), "\" padded\"");
        assert_eq!(cell(&Cell::from(0.1)), "0.1");
        assert_eq!(cell(&Cell::from(-1.0)), "-1");
        assert_eq!(cell(&Cell::from(f64::NAN)), "");
        assert_eq!(cell(&Cell::from(None::<f64>)), "");
        assert_eq!(cell(&Cell::from(Ppt::from_ppt(0.6))), "0.6");
        assert_eq!(cell(&Cell::from(true)), "true");
    }

    #[test]
    fn a_short_row_is_filled_up() {
        let mut table = Table::new(["a", "b", "c"]);
        table.row(vec![Cell::from("x"), Cell::from(2.0)]);
        assert_eq!(text(&table), "a,b,c\nx,2,\n");
    }
}
