//! The shipped table of substances: profiles/limits/substances.toml, carried
//! within the program.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::OnceLock;

use toml::de::DeTable;

use super::fault::{Faults, Sink, Tally};
use super::limits::{names_list, verified};
use super::reach::read_text;
use super::value::Field;
use super::walk::{Table, tables};
use crate::limits::Verified;
use crate::palette::Cas;
use crate::store::Held;
use crate::substances::{Substance, Substances};

const SHIPPED: &str = include_str!("../../profiles/limits/substances.toml");

/// The table that is carried within the program. A test holds that it reads
/// without a fault.
pub fn substances() -> &'static Substances {
    static TABLE: OnceLock<Substances> = OnceLock::new();
    TABLE.get_or_init(|| read_shipped(&mut Tally::default()))
}

/// Reads the shipped table again, for its faults.
///
/// # Errors
/// All the faults of its text.
pub fn check_substances() -> Result<Substances, Faults> {
    let mut tally = Tally::default();
    let read = read_shipped(&mut tally);
    tally.finish(Some(read))
}

fn read_shipped(tally: &mut Tally) -> Substances {
    // It names no other file.
    read_text(&Held::new(), Path::new("substances.toml"), SHIPPED.to_owned(), tally, read)
}

fn read(sink: &Sink<'_>, root: &DeTable<'_>) -> Substances {
    let root = Table::root(sink, root);
    let listed = root.require("substance", "a table of substances has at least one [[substance]]");
    let mut rows = Vec::new();
    let mut line_of: BTreeMap<Cas, usize> = BTreeMap::new();
    for table in &listed.map(|field| tables(field, "[[substance]]")).unwrap_or_default() {
        let Some(row) = row(table) else { continue };
        let line = table.place().line;
        if let Some(first) = line_of.insert(row.cas.clone(), line) {
            table.report(&format!("{} stands twice", row.cas), &format!("the other row is on line {first}"));
        }
        rows.push(row);
    }
    root.close();
    Substances { rows }
}

fn row(table: &Table<'_>) -> Option<Substance> {
    let cas = table.require("cas", "expected a CAS number").and_then(Field::cas);
    let names = table.get("names").map(names_list).unwrap_or_default();
    let sum = table.require("sum", "expected the name of the sum it belongs to").and_then(Field::name);
    let source = table.require("source", "expected the document, its edition and its year").and_then(Field::name);
    let verified = table.get("verified").and_then(verified).unwrap_or(Verified::No);
    let phototoxic = table.get("phototoxic").and_then(Field::flag).unwrap_or_default();
    table.close();
    Some(Substance { cas: cas?, names, sum: sum?.to_owned(), source: source?.to_owned(), verified, phototoxic })
}
