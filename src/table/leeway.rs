//! The doses of `leeway`, as rows.

use super::{Table, cells};
use crate::results::leeway::LeewayReport;

/// One row for each material that may be used.
pub fn leeway(report: &LeewayReport) -> Table {
    let mut table =
        Table::new(["material", "at", "min", "max", "proven", "role", "without", "fidelity_without", "costs"]);
    for line in &report.materials {
        table.row(cells![
            &line.material,
            line.at,
            line.min,
            line.max,
            line.proven,
            line.role.word(),
            line.without.map(|without| without.outcome.word()),
            line.without.and_then(|without| without.fidelity),
            line.without.and_then(|without| without.costs),
        ]);
    }
    table
}
