//! Why no blend can meet a brief, and what would mend it.

use serde::Serialize;

use crate::analysis::conflict::Conflict;
use crate::analysis::repair::{Reasons, Repair};
use crate::problem::{Change, Problem, RuleId};

/// The reasons of a brief that no blend can meet; all empty where there is a
/// formula, or where they were not found in time.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ReasonsReport {
    /// Rules that cannot stand together, from which none can be taken away
    /// without making room.
    pub conflict: Vec<ConflictLine>,
    /// Further conflicts, each found among the rules that no earlier one names.
    pub further_conflicts: Vec<Vec<ConflictLine>>,
    /// Changes that make room, the smallest first.
    pub repairs: Vec<RepairLine>,
}

/// A rule of a conflict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConflictLine {
    /// The rule's id.
    pub rule: RuleId,
    /// The file it was written in.
    pub file: String,
    /// The line, counted from 1; null where no line says it.
    pub line: Option<usize>,
    /// The number it stands at; 1 for a rule that has none.
    pub at: f64,
    /// The rule as a sentence without a full stop.
    pub sentence: String,
}

/// Changes after which there is a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RepairLine {
    /// What changes, all of it together.
    pub changes: Vec<ChangeLine>,
    /// Whether a formula was found that keeps the changed rules: always so.
    pub proven: bool,
}

/// A change of one rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChangeLine {
    /// The rule's id.
    pub rule: RuleId,
    /// The number it stands at.
    pub from: f64,
    /// The number it would stand at; null where it is dropped.
    pub to: Option<f64>,
    /// The change as an order without a full stop.
    pub order: String,
}

impl ReasonsReport {
    /// The reasons of a problem, in its user's words.
    pub fn new(problem: &Problem, reasons: &Reasons) -> ReasonsReport {
        let mut conflicts = reasons.conflicts.iter().map(|conflict| conflict_lines(problem, conflict));
        ReasonsReport {
            conflict: conflicts.next().unwrap_or_default(),
            further_conflicts: conflicts.collect(),
            repairs: reasons.repairs.iter().map(|repair| repair_line(problem, repair)).collect(),
        }
    }
}

fn conflict_lines(problem: &Problem, conflict: &Conflict) -> Vec<ConflictLine> {
    let line = |&index: &usize| {
        let rule = &problem.rules[index];
        ConflictLine {
            rule: rule.id.clone(),
            file: rule.place.file.to_string(),
            line: (rule.place.line > 0).then_some(rule.place.line),
            at: rule.at,
            sentence: problem.sentence(rule),
        }
    };
    conflict.rules.iter().map(line).collect()
}

fn repair_line(problem: &Problem, repair: &Repair) -> RepairLine {
    let line = |&(index, change): &(usize, Change)| {
        let rule = &problem.rules[index];
        ChangeLine {
            rule: rule.id.clone(),
            from: rule.at,
            to: match change {
                Change::To(to) => Some(to),
                Change::Dropped => None,
            },
            order: problem.order(rule, change),
        }
    };
    RepairLine { changes: repair.changes.iter().map(line).collect(), proven: true }
}
