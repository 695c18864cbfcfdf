//! The shipped table of thresholds in air: profiles/thresholds.toml, carried
//! within the program.

use std::path::Path;
use std::sync::OnceLock;

use toml::de::DeTable;

use super::fault::{Faults, Sink, Tally};
use super::keys::{Grain, Lower, NumberKey, Upper};
use super::reach::read_text;
use super::value::Field;
use super::walk::{Table, tables};
use crate::store::Held;
use crate::thresholds::{Threshold, Thresholds};

const SHIPPED: &str = include_str!("../../profiles/thresholds.toml");

/// A published value. The table is no file of the user's, so that its key stands
/// with its reader.
static UG_PER_M3: NumberKey = NumberKey {
    file: "thresholds.toml",
    table: "[[substance]]",
    key: "ug_per_m3",
    unit: "micrograms per cubic metre of air at 20 °C",
    lower: Lower::Above(0.0),
    upper: Upper::To(1e9),
    grain: Grain::Any,
    default: "required",
    meaning: "odour threshold",
};

/// The table that is carried within the program. A test holds that it reads
/// without a fault.
pub fn thresholds() -> &'static Thresholds {
    static TABLE: OnceLock<Thresholds> = OnceLock::new();
    TABLE.get_or_init(|| read_shipped(&mut Tally::default()))
}

/// Reads the shipped table again, for its faults.
///
/// # Errors
/// All the faults of its text.
pub fn check_thresholds() -> Result<Thresholds, Faults> {
    let mut tally = Tally::default();
    let read = read_shipped(&mut tally);
    tally.finish(Some(read))
}

fn read_shipped(tally: &mut Tally) -> Thresholds {
    // It names no other file.
    read_text(&Held::new(), Path::new("thresholds.toml"), SHIPPED.to_owned(), tally, read)
}

fn read(sink: &Sink<'_>, root: &DeTable<'_>) -> Thresholds {
    let root = Table::root(sink, root);
    let listed = root.require("substance", "a table of thresholds has at least one [[substance]]");
    let mut rows: Vec<Threshold> = Vec::new();
    for table in &listed.map(|field| tables(field, "[[substance]]")).unwrap_or_default() {
        let Some(row) = row(table) else { continue };
        if rows.iter().any(|other| other.cas == row.cas) {
            table.report(&format!("{} stands twice", row.cas), "one row for each number");
        }
        rows.push(row);
    }
    root.close();
    Thresholds { rows }
}

fn row(table: &Table<'_>) -> Option<Threshold> {
    let cas = table.require("cas", "expected a CAS number").and_then(Field::cas);
    let name = table.require("name", "expected what it is called").and_then(Field::name);
    let values = table.require("ug_per_m3", "expected the published values, in micrograms per cubic metre");
    let values = values.and_then(|field| field.list("numbers")).unwrap_or_default();
    let values: Vec<f64> = values.iter().filter_map(|field| field.number(&UG_PER_M3)).collect();
    let source = table.require("source", "expected where the values stand").and_then(Field::name);
    table.close();
    if values.is_empty() {
        return None;
    }
    Some(Threshold { cas: cas?, name: name?.to_owned(), ug_per_m3: values, source: source?.to_owned() })
}
