//! The report of `propose`.

use serde::Serialize;

use super::csv::{self, Csv};
use super::{Around, Care, FormulaReport, Head, Page, Report, text};
use crate::analysis::conflict::Conflict;
use crate::analysis::explain::Explanation;
use crate::analysis::repair::Repair;
use crate::analysis::replacement::replacement;
use crate::analysis::single::best_single;
use crate::brief::Brief;
use crate::problem::{Change, Problem};
use crate::solve::{Solution, Status};

/// The best formula that was found, how sure it is, and what it brings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProposeReport {
    /// What every report begins with.
    #[serde(flatten)]
    pub head: Head,
    /// `optimal`, `feasible`, `infeasible` or `unknown`.
    pub status: &'static str,
    /// The formula.
    #[serde(flatten)]
    pub formula: FormulaReport,
    /// Fidelity in percent that no formula inside the rules can pass; null
    /// where there is none.
    pub bound_fidelity: Option<f64>,
    /// Nodes of the search.
    pub nodes: u64,
    /// The material that the target describes, and what replaces it.
    pub replaces: Option<Replaces>,
    /// The nearest usable material that stands alone.
    pub best_single: Option<BestSingle>,
    /// What holds the formula back and what could go from it.
    #[serde(flatten)]
    pub around: Around,
    /// What was checked and what was not; null where there is no formula.
    pub care: Option<Care>,
    /// Rules that cannot stand together, from which none can be taken away
    /// without making room; empty where there is a formula, or where they were
    /// not found in time.
    pub conflict: Vec<ConflictLine>,
    /// Further conflicts, each found among the rules that no earlier one names.
    pub further_conflicts: Vec<Vec<ConflictLine>>,
    /// Changes that make room, the smallest first.
    pub repairs: Vec<RepairLine>,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// A rule of a conflict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ConflictLine {
    /// The rule's id.
    pub rule: String,
    /// The file it was written in.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
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
    pub rule: String,
    /// The number it stands at.
    pub from: f64,
    /// The number it would stand at; null where it is dropped.
    pub to: Option<f64>,
    /// The change as an order without a full stop.
    pub order: String,
}

/// The formula in the place of the material that its target describes.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Replaces {
    /// The material.
    pub material: String,
    /// Grams of the formula that are as strong as one gram of it.
    pub grams_per_gram: f64,
    /// Price of what replaces one kg of it.
    pub price: Option<f64>,
    /// Price of one kg of it.
    pub price_of_original: Option<f64>,
    /// Its own fidelity to the target, in percent.
    pub fidelity: Option<f64>,
}

/// A material that stands alone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BestSingle {
    /// The material.
    pub material: String,
    /// Its fidelity in percent.
    pub fidelity: f64,
    /// Its loss in score points.
    pub loss: f64,
}

impl ProposeReport {
    /// The report of a solution; of an infeasible one with its reasons.
    pub fn new(
        problem: &Problem,
        brief: &Brief,
        solution: &Solution,
        explanation: &Explanation,
        warnings: Vec<String>,
    ) -> ProposeReport {
        let answer = solution.answer.as_ref();
        let reasons = &explanation.reasons;
        let formula = answer.map_or_else(FormulaReport::default, |answer| {
            FormulaReport::new(problem, &answer.formula, Some(&answer.evaluation))
        });
        let name = |index: usize| problem.material(index).name.clone();
        let replaced = answer.and_then(|answer| replacement(problem, &answer.evaluation));
        ProposeReport {
            head: Head::new("propose", problem, brief),
            status: solution.status.word(),
            bound_fidelity: solution.bound.map(|bound| problem.fidelity_percent(bound)),
            formula: FormulaReport { bound: solution.bound, ..formula },
            nodes: solution.nodes,
            replaces: replaced.map(|replaced| Replaces {
                material: name(replaced.material),
                grams_per_gram: replaced.grams_per_gram,
                price: replaced.price,
                price_of_original: replaced.price_of_original,
                fidelity: replaced.fidelity_percent,
            }),
            best_single: best_single(problem).map(|single| BestSingle {
                material: name(single.material),
                fidelity: single.fidelity_percent,
                loss: single.loss,
            }),
            around: answer.map_or_else(Around::default, |answer| Around::new(problem, answer, explanation)),
            care: answer.map(|answer| Care::new(problem, &answer.evaluation.neat_ppt)),
            conflict: reasons.conflicts.first().map(|conflict| conflict_lines(problem, conflict)).unwrap_or_default(),
            further_conflicts: reasons
                .conflicts
                .iter()
                .skip(1)
                .map(|conflict| conflict_lines(problem, conflict))
                .collect(),
            repairs: reasons.repairs.iter().map(|repair| repair_line(problem, repair)).collect(),
            warnings,
        }
    }

    /// Whether the formula is proven best.
    pub fn is_proven(&self) -> bool {
        self.status == Status::Optimal.word()
    }
}

fn conflict_lines(problem: &Problem, conflict: &Conflict) -> Vec<ConflictLine> {
    let line = |&index: &usize| {
        let rule = &problem.rules[index];
        ConflictLine {
            rule: rule.id.clone(),
            file: rule.place.file.to_string(),
            line: rule.place.line,
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

impl Report for ProposeReport {
    fn text(&self, page: &Page) -> String {
        text::propose(self, page)
    }

    fn csv(&self) -> String {
        let mut csv = Csv::new(&[
            "material",
            "cas",
            "parts",
            "neat",
            "share",
            "price_share",
            "poured",
            "bottle_percent",
            "brings",
        ]);
        for line in &self.formula.materials {
            let brings: Vec<String> = line
                .brings
                .0
                .iter()
                .map(|(descriptor, points)| format!("{descriptor} {}", crate::number::plain(*points)))
                .collect();
            csv.row(&[
                csv::text(&line.material),
                csv::text(line.cas.as_deref().unwrap_or_default()),
                line.parts.to_string(),
                csv::number(Some(line.neat)),
                csv::number(line.share),
                csv::number(line.price_share),
                csv::number(Some(line.poured)),
                csv::number(Some(line.bottle_percent)),
                csv::text(&brings.join("; ")),
            ]);
        }
        csv.finish()
    }
}
