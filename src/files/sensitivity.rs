//! The shipped table of what people smell differently: profiles/sensitivity.toml,
//! carried within the program.

use std::path::Path;
use std::sync::OnceLock;

use toml::de::DeTable;

use super::fault::{Faults, Sink, Tally};
use super::reach::read_text;
use super::value::Field;
use super::walk::{Table, tables};
use crate::sensitivity::{Sensitivities, Sensitivity};
use crate::store::Held;

const SHIPPED: &str = include_str!("../../profiles/sensitivity.toml");

/// The table that is carried within the program. A test holds that it reads
/// without a fault.
pub fn sensitivities() -> &'static Sensitivities {
    static TABLE: OnceLock<Sensitivities> = OnceLock::new();
    TABLE.get_or_init(|| read_shipped(&mut Tally::default()))
}

/// Reads the shipped table again, for its faults.
///
/// # Errors
/// All the faults of its text.
pub fn check_sensitivities() -> Result<Sensitivities, Faults> {
    let mut tally = Tally::default();
    let read = read_shipped(&mut tally);
    tally.finish(Some(read))
}

fn read_shipped(tally: &mut Tally) -> Sensitivities {
    // It names no other file.
    read_text(&Held::new(), Path::new("sensitivity.toml"), SHIPPED.to_owned(), tally, read)
}

fn read(sink: &Sink<'_>, root: &DeTable<'_>) -> Sensitivities {
    let root = Table::root(sink, root);
    let listed = root.require("substance", "the table has at least one [[substance]]");
    let mut rows: Vec<Sensitivity> = Vec::new();
    for table in &listed.map(|field| tables(field, "[[substance]]")).unwrap_or_default() {
        let Some(row) = row(table) else { continue };
        if let Some(twice) = row.cas.iter().find(|cas| rows.iter().any(|other| other.cas.contains(cas))) {
            table.report(&format!("{twice} stands twice"), "one row for each number");
        }
        rows.push(row);
    }
    root.close();
    Sensitivities { rows }
}

fn row(table: &Table<'_>) -> Option<Sensitivity> {
    let cas = table.require("cas", "expected its CAS numbers").and_then(|field| field.list("CAS numbers"));
    let cas = cas.unwrap_or_default().iter().filter_map(Field::cas).collect::<Vec<_>>();
    let text = |key, of| table.require(key, of).and_then(Field::name).map(str::to_owned);
    let name = text("name", "expected what it is called");
    let differs = text("differs", "expected in what people differ");
    let source = text("source", "expected where that was published");
    let is_read = table.require("read", "expected whether the source was read").and_then(Field::flag);
    table.close();
    Some(Sensitivity { cas, name: name?, differs: differs?, source: source?, is_read: is_read? })
}
