//! What trials teach, and the way of the trials to a target.

use crate::chart::kit::words::{brief, count, number, percent, sentence};
use crate::chart::pairs::{Pair, PairsChart, Panel};
use crate::results::journal::JournalReport;
use crate::results::learn::{Change, LearnReport};

/// Rows that a sheet has room for.
const MOST: usize = 40;

/// Whether what was there before lies outside of where it is now with 95 %.
fn is_sure(change: &Change) -> bool {
    change.before < change.low || change.before > change.high
}

impl PairsChart {
    /// The changes of a report, the surest first; none where nothing was
    /// learned.
    pub fn of_learn(report: &LearnReport) -> Option<PairsChart> {
        let told: Vec<&Change> = report.changes.iter().filter(|change| change.sds.abs() >= 0.5).take(MOST).collect();
        let is_strength = |change: &Change| change.what == "strength";
        let score = |change: &&&Change| !is_strength(change);
        let scores = told.iter().filter(score).map(|change| Pair {
            name: format!("{}, {}", change.material, change.what),
            first: Some(change.before),
            second: Some(change.after),
            interval: Some((change.low, change.high)),
            is_sure: is_sure(change),
        });
        let strengths = told.iter().filter(|change| is_strength(change)).map(|change| Pair {
            name: change.material.clone(),
            first: Some(1.0),
            second: Some(change.after / change.before),
            interval: Some((change.low / change.before, change.high / change.before)),
            is_sure: is_sure(change),
        });
        let panels = vec![
            Panel {
                axis: "score, on the scale of the palette".to_owned(),
                end: None,
                may_begin_higher: false,
                rows: scores.collect(),
            },
            Panel {
                axis: "strength, times what the palette says".to_owned(),
                end: None,
                may_begin_higher: false,
                rows: strengths.collect(),
            },
        ];
        let first = told.first()?;
        let finding = if is_strength(first) {
            format!(
                "{} is {} times as strong as it says",
                brief(&first.material),
                number(first.after / first.before, 1)
            )
        } else {
            let (before, after) = (number(first.before, 1), number(first.after, 1));
            format!("{}: {} {before} becomes {after}", brief(&first.material), brief(&first.what))
        };
        let trials = count(report.used.len(), "trial", "trials");
        Some(PairsChart {
            title: sentence(&finding),
            subtitle: format!("What {trials} say of the palette, the surest changes first:"),
            keys: ["before".to_owned(), "after".to_owned(), "95 % interval".to_owned()],
            note: "Hollow: the value before lies within the interval. Judgements corrected by judgements; the nose decides.".to_owned(),
            panels,
        })
    }

    /// How near the trials came, in time; none without a brief.
    pub fn of_journal(report: &JournalReport) -> Option<PairsChart> {
        report.brief.as_ref()?;
        let entries = report.in_time();
        let rows: Vec<Pair> = entries[entries.len().saturating_sub(MOST)..]
            .iter()
            .map(|entry| Pair {
                name: [Some(entry.code.clone()), entry.date.clone()]
                    .into_iter()
                    .flatten()
                    .collect::<Vec<_>>()
                    .join(", "),
                first: entry.computed_fidelity,
                second: entry.smelled_fidelity,
                interval: None,
                is_sure: true,
            })
            .collect();
        let near = entries.iter().filter_map(|entry| Some((entry.smelled_fidelity?, entry.code.as_str())));
        let best = near.max_by(|a, b| a.0.total_cmp(&b.0));
        let title = match best {
            Some((fidelity, code)) => format!("Trial {code} smelled nearest, {} %", percent(fidelity)),
            None => "No trial was smelled yet".to_owned(),
        };
        let called = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or("the target");
        Some(PairsChart {
            title,
            subtitle: format!("Match with {}, trial by trial in time:", brief(called)),
            keys: ["by the numbers".to_owned(), "by the nose".to_owned(), String::new()],
            note: "By the nose: in the descriptors that were judged.".to_owned(),
            panels: vec![Panel { axis: "match in percent".to_owned(), end: Some(100.0), may_begin_higher: true, rows }],
        })
    }
}
