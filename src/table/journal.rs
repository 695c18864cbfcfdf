//! The trials of a journal, as rows.

use super::{Cell, Table, cells};
use crate::results::journal::JournalReport;
use crate::trials::Medium;

/// One row for each dose changed and each score smelled of a trial.
pub fn journal(report: &JournalReport) -> Table {
    let mut table = Table::new([
        "code",
        "from",
        "date",
        "minutes",
        "age_days",
        "medium",
        "percent",
        "kind",
        "name",
        "before",
        "after",
        "smelled_fidelity_percent",
        "computed_fidelity_percent",
        "due",
    ]);
    for entry in &report.entries {
        let lead = cells![
            &entry.code,
            entry.from.as_deref(),
            entry.date.as_deref(),
            entry.minutes,
            entry.age_days,
            entry.medium.map(Medium::word),
            entry.percent,
        ];
        let due = report.due.iter().find(|due| due.code == entry.code);
        let due = due.and_then(|due| if due.now { Some("now") } else { due.on.as_deref() });
        let tail = cells![entry.smelled_fidelity, entry.computed_fidelity, due];
        let mut row = |own: Vec<Cell>| table.row([&lead[..], &own, &tail].concat());
        if entry.changes.is_empty() && entry.smelled.is_empty() {
            row(cells!["again", "", None::<f64>, None::<f64>]);
        }
        for change in &entry.changes {
            row(cells!["dose", &change.material, change.before, change.after]);
        }
        for score in &entry.smelled {
            row(cells!["score", &score.descriptor, score.change.map(|change| score.score - change), score.score]);
        }
    }
    table
}
