//! Columns that line up.

use super::page::{Ink, Page, width, wrap};

/// On which side of its column a cell stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// Rows of cells. The first column gives way and wraps where the page is too
/// narrow; nothing that is a number is ever cut.
#[derive(Clone, Debug)]
pub struct Table {
    sides: Vec<Side>,
    rows: Vec<(Ink, Vec<String>)>,
}

/// Blanks before a table.
const INDENT: usize = 2;
/// Blanks between columns.
const GAP: usize = 2;
/// The narrowest that the first column may become.
const NARROWEST: usize = 16;

impl Table {
    /// A table whose columns stand on these sides.
    pub fn new(sides: &[Side]) -> Table {
        Table { sides: sides.to_vec(), rows: Vec::new() }
    }

    /// Adds a row; missing cells are empty.
    pub fn row(&mut self, ink: Ink, cells: Vec<String>) {
        self.rows.push((ink, cells));
    }

    /// Adds the table to a text.
    pub fn write(&self, out: &mut String, page: &Page) {
        let widths = self.widths(page);
        for (ink, cells) in &self.rows {
            let first = cells.first().map_or("", String::as_str);
            for (at, piece) in wrap(first, widths.first().copied().unwrap_or(0)).iter().enumerate() {
                let mut line = String::new();
                for (column, (&side, &wide)) in self.sides.iter().zip(&widths).enumerate() {
                    let cell = match (column, at) {
                        (0, _) => piece.as_str(),
                        (_, 0) => cells.get(column).map_or("", String::as_str),
                        _ => "",
                    };
                    let blanks = " ".repeat(wide.saturating_sub(width(cell)));
                    line += &" ".repeat(if column == 0 { INDENT } else { GAP });
                    match side {
                        Side::Left => line += &format!("{cell}{blanks}"),
                        Side::Right => line += &format!("{blanks}{cell}"),
                    }
                }
                let text = line.trim_end();
                let start = text.len() - text.trim_start().len();
                *out += &text[..start];
                *out += &page.ink(&text[start..], *ink);
                out.push('\n');
            }
        }
    }

    fn widths(&self, page: &Page) -> Vec<usize> {
        let cell = |row: &(Ink, Vec<String>), column: usize| row.1.get(column).map_or(0, |cell| width(cell));
        let widest = |column: usize| self.rows.iter().map(|row| cell(row, column)).max().unwrap_or(0);
        let mut widths: Vec<usize> = (0..self.sides.len()).map(widest).collect();
        let rest: usize = INDENT + widths.iter().skip(1).map(|wide| wide + GAP).sum::<usize>();
        if let Some(first) = widths.first_mut() {
            *first = (*first).min(page.width.saturating_sub(rest).max(NARROWEST));
        }
        widths
    }
}

/// Numbers of a right-aligned column so that their decimal points line up.
/// Blanks stand for the decimals that a number does not have.
pub fn aligned(numbers: &[String]) -> Vec<String> {
    let decimals = |text: &str| text.split_once('.').map_or(0, |(_, decimals)| decimals.chars().count() + 1);
    let most = numbers.iter().map(|text| decimals(text)).max().unwrap_or(0);
    numbers.iter().map(|text| format!("{text}{}", " ".repeat(most - decimals(text)))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_line_up() {
        let numbers = ["412", "0.6", "12.25"].map(str::to_owned);
        assert_eq!(aligned(&numbers), ["412   ", "0.6 ", "12.25"]);
    }

    #[test]
    fn first_column_wraps_and_nothing_trails() {
        let mut table = Table::new(&[Side::Left, Side::Right]);
        table.row(Ink::Plain, vec!["Trichloromethyl phenyl carbinyl acetate".into(), "12".into()]);
        table.row(Ink::Plain, vec!["Rose".into()]);
        let mut out = String::new();
        table.write(&mut out, &Page { width: 30, ..Page::default() });
        assert_eq!(out, "  Trichloromethyl phenyl    12\n  carbinyl acetate\n  Rose\n");
    }
}
