//! `journal` as rows.

use super::csv::{self, Csv};
use crate::results::journal::JournalReport;

/// One row for each dose changed and each score smelled of an entry.
pub fn journal(report: &JournalReport) -> String {
    let mut table = Csv::new(&[
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
        let lead = [
            csv::text(&entry.code),
            csv::text(entry.from.as_deref().unwrap_or_default()),
            csv::text(entry.date.as_deref().unwrap_or_default()),
            csv::number(entry.minutes),
            csv::number(entry.age_days),
            csv::text(entry.medium.unwrap_or_default()),
            csv::number(entry.percent),
        ];
        let due = report.due.iter().find(|due| due.code == entry.code);
        let due = due
            .map_or(String::new(), |due| if due.now { "now".to_owned() } else { due.on.clone().unwrap_or_default() });
        let tail = [csv::number(entry.smelled_fidelity), csv::number(entry.computed_fidelity), csv::text(&due)];
        let mut row = |kind: &str, name: &str, before: Option<f64>, after: Option<f64>| {
            let mut cells = lead.to_vec();
            cells.extend([csv::text(kind), csv::text(name), csv::number(before), csv::number(after)]);
            cells.extend(tail.clone());
            table.row(&cells);
        };
        if entry.changes.is_empty() && entry.smelled.is_empty() {
            row("again", "", None, None);
        }
        for change in &entry.changes {
            row("dose", &change.material, Some(change.before), Some(change.after));
        }
        for score in &entry.smelled {
            row("score", &score.descriptor, score.change.map(|change| score.score - change), Some(score.score));
        }
    }
    table.finish()
}
