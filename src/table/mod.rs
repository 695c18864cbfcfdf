//! Answers as rows of typed cells, one table each. How a cell is written is the
//! business of a format (`formats/csv.rs`).

mod adjust;
mod buy;
mod check;
mod compare;
mod doubt;
mod journal;
mod learn;
mod leeway;
mod next;
mod next_law;
mod product;
mod propose;
mod push;
mod replace;
mod shelf;
mod starts;
mod strengths;
mod strip;
mod tradeoff;
mod usual;
mod verify;
mod weigh;

pub use adjust::adjust;
pub use buy::buy;
pub use check::check;
pub use compare::compare;
pub use doubt::doubt;
pub use journal::journal;
pub use learn::learn;
pub use leeway::leeway;
pub use next::next;
pub use next_law::next_law;
pub use product::product;
pub use propose::propose;
pub use push::push;
pub use replace::replace;
pub use shelf::shelf;
pub use starts::starts;
pub use strengths::strengths;
pub use strip::strip;
pub use tradeoff::tradeoff;
pub use verify::verify;
pub use weigh::weigh;

use crate::units::Ppt;

/// A head and rows that are as long as it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// The titles of the columns: keys, with no unit that the key does not say.
    pub head: Vec<String>,
    /// The rows.
    pub rows: Vec<Vec<Cell>>,
}

/// What one cell holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing: not known, or not asked.
    Empty,
    /// Words or a name, as they are.
    Text(String),
    /// A number in full; one that is not finite is not known.
    Number(f64),
    /// A dose in parts per thousand, to its last decimal.
    Dose(Ppt),
    /// How many.
    Count(usize),
    /// Yes or no.
    Truth(bool),
}

impl Table {
    /// A table without rows.
    pub fn new<S: Into<String>>(head: impl IntoIterator<Item = S>) -> Table {
        Table { head: head.into_iter().map(Into::into).collect(), rows: Vec::new() }
    }

    /// Adds a row; cells that it does not come to are empty.
    pub fn row(&mut self, mut cells: Vec<Cell>) {
        debug_assert!(cells.len() <= self.head.len(), "a row is longer than its head: {cells:?}");
        cells.resize(self.head.len(), Cell::Empty);
        self.rows.push(cells);
    }
}

/// A row of whatever a cell can be made of.
macro_rules! cells {
    ($($cell:expr),* $(,)?) => { vec![$($crate::table::Cell::from($cell)),*] };
}
use cells;

/// Several figures as cells.
fn numbers(figures: impl IntoIterator<Item = Option<f64>>) -> impl Iterator<Item = Cell> {
    figures.into_iter().map(Cell::from)
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::Text(text)
    }
}

impl From<&String> for Cell {
    fn from(text: &String) -> Cell {
        Cell::Text(text.clone())
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Cell {
        Cell::Number(number)
    }
}

impl From<Ppt> for Cell {
    fn from(dose: Ppt) -> Cell {
        Cell::Dose(dose)
    }
}

impl From<usize> for Cell {
    fn from(count: usize) -> Cell {
        Cell::Count(count)
    }
}

impl From<bool> for Cell {
    fn from(truth: bool) -> Cell {
        Cell::Truth(truth)
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Cell {
        value.map_or(Cell::Empty, Into::into)
    }
}
