//! A reader for the MPS files of the published programmes: names without
//! spaces, continuous columns, one objective.

use std::collections::HashMap;

use permil::model::programme::{Programme, Relation};

/// Reads ROWS, COLUMNS, RHS, RANGES and BOUNDS. The objective is the first row
/// of kind N; other N rows are dropped.
pub fn read(text: &str) -> Result<Programme, String> {
    let mut reader = Reader::default();
    let mut section = String::new();
    for (number, line) in text.lines().enumerate() {
        if line.trim().is_empty() || line.starts_with('*') {
            continue;
        }
        let words: Vec<&str> = line.split_whitespace().collect();
        if !line.starts_with(' ') {
            section = words[0].to_owned();
            continue;
        }
        reader.line(&section, &words).map_err(|what| format!("line {}: {what}", number + 1))?;
    }
    Ok(reader.programme)
}

#[derive(Default)]
struct Reader {
    programme: Programme,
    objective: Option<String>,
    /// Index of each row; `None` for an objective that is not used.
    rows: HashMap<String, Option<usize>>,
    columns: HashMap<String, usize>,
}

impl Reader {
    fn line(&mut self, section: &str, words: &[&str]) -> Result<(), String> {
        match section {
            "ROWS" => self.row(words),
            "COLUMNS" => self.entries(words),
            "RHS" => pairs(words)?.into_iter().try_for_each(|(row, value)| self.rhs(row, value)),
            "RANGES" => pairs(words)?.into_iter().try_for_each(|(row, value)| self.range(row, value)),
            "BOUNDS" => self.bound(words),
            _ => Err(format!("section {section} is not read")),
        }
    }

    fn row(&mut self, words: &[&str]) -> Result<(), String> {
        let [kind, name] = words else { return Err("a row has a kind and a name".to_owned()) };
        let relation = match *kind {
            "N" => {
                self.objective.get_or_insert_with(|| (*name).to_owned());
                self.rows.insert((*name).to_owned(), None);
                return Ok(());
            }
            "L" => Relation::AtMost,
            "G" => Relation::AtLeast,
            "E" => Relation::Equal,
            other => return Err(format!("row kind {other}")),
        };
        let index = self.programme.row(Vec::new(), relation, 0.0);
        self.rows.insert((*name).to_owned(), Some(index));
        Ok(())
    }

    fn entries(&mut self, words: &[&str]) -> Result<(), String> {
        let name = words[0];
        let column = match self.columns.get(name) {
            Some(&column) => column,
            None => {
                let column = self.programme.column(0.0, 0.0, f64::INFINITY);
                self.columns.insert(name.to_owned(), column);
                column
            }
        };
        for (row, value) in pairs(words)? {
            if self.objective.as_deref() == Some(row) {
                self.programme.columns[column].cost = value;
            } else if let Some(row) = self.find_row(row)? {
                self.programme.rows[row].coefficients.push((column, value));
            }
        }
        Ok(())
    }

    fn rhs(&mut self, row: &str, value: f64) -> Result<(), String> {
        if let Some(row) = self.find_row(row)? {
            self.programme.rows[row].rhs = value;
        }
        Ok(())
    }

    /// A range turns a row into two: the second carries the other end. For an
    /// equation the sign says on which side of the right-hand side it lies.
    fn range(&mut self, row: &str, value: f64) -> Result<(), String> {
        let Some(row) = self.find_row(row)? else { return Ok(()) };
        let first = &mut self.programme.rows[row];
        let coefficients = first.coefficients.clone();
        let rhs = first.rhs;
        if first.relation == Relation::Equal {
            first.relation = if value >= 0.0 { Relation::AtLeast } else { Relation::AtMost };
        }
        let (relation, other_end) = match first.relation {
            Relation::AtMost => (Relation::AtLeast, rhs - value.abs()),
            _ => (Relation::AtMost, rhs + value.abs()),
        };
        self.programme.row(coefficients, relation, other_end);
        Ok(())
    }

    fn bound(&mut self, words: &[&str]) -> Result<(), String> {
        let (kind, column) = match words {
            [kind, _, column] | [kind, _, column, _] => (*kind, *column),
            _ => return Err("a bound has a kind, a set, a column and mostly a value".to_owned()),
        };
        let index = *self.columns.get(column).ok_or_else(|| format!("no column {column}"))?;
        let value = words.get(3).map(|word| number(word)).transpose()?.ok_or("a bound without a value");
        let column = &mut self.programme.columns[index];
        match kind {
            "UP" => column.upper = value?,
            "LO" => column.lower = value?,
            "FX" => (column.lower, column.upper) = (value?, value?),
            "FR" => (column.lower, column.upper) = (f64::NEG_INFINITY, f64::INFINITY),
            "MI" => column.lower = f64::NEG_INFINITY,
            "PL" => column.upper = f64::INFINITY,
            other => return Err(format!("bound kind {other}")),
        }
        Ok(())
    }

    fn find_row(&self, name: &str) -> Result<Option<usize>, String> {
        self.rows.get(name).copied().ok_or_else(|| format!("no row {name}"))
    }
}

/// The (name, value) pairs after the first word.
fn pairs<'a>(words: &[&'a str]) -> Result<Vec<(&'a str, f64)>, String> {
    match words {
        [_, name, value] => Ok(vec![(name, number(value)?)]),
        [_, name, value, second, other] => Ok(vec![(name, number(value)?), (second, number(other)?)]),
        _ => Err("one or two pairs of a name and a value are expected".to_owned()),
    }
}

fn number(word: &str) -> Result<f64, String> {
    word.parse().map_err(|_| format!("{word} is not a number"))
}
