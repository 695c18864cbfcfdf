//! The rules that a formula from elsewhere breaks.

use std::sync::Arc;

use crate::brief::{Brief, TargetFrom};
use crate::formula::Formula;
use crate::problem::check::{Breach, Checker, REPORT_TOLERANCE};
use crate::problem::{Absence, DoseKey, Problem, RuleId, RuleKind};

/// A rule that a formula breaks, in the user's words.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// The rule's id.
    pub rule: RuleId,
    /// The file it was written in.
    pub file: Arc<str>,
    /// The line, counted from 1; `None` where it is the lack of an entry that
    /// makes the rule.
    pub line: Option<usize>,
    /// The number it stands at; 1 for a rule that has none.
    pub at: f64,
    /// What the formula has, in the same unit.
    pub has: f64,
    /// The rule as a sentence without a full stop.
    pub sentence: String,
}

impl Broken {
    /// What a formula breaks of a rule with a number.
    pub fn new(problem: &Problem, formula: &Formula, breach: &Breach) -> Broken {
        let rule = &problem.rules[breach.rule];
        Broken {
            rule: rule.id.clone(),
            file: rule.place.file.clone(),
            line: Some(rule.place.line),
            at: rule.at,
            has: breach.has,
            sentence: problem.sentence_of_breach(rule, formula),
        }
    }
}

/// Every rule that a formula of the brief's basis breaks. A formula that was
/// converted from another basis was never meant to lie on this brief's grid:
/// rules on its single doses are then left aside.
pub fn broken(problem: &Problem, brief: &Brief, formula: &Formula, converted: bool) -> Vec<Broken> {
    // What is left at a stage is what its own film leaves.
    let problem = &problem.as_it_dries(formula);
    let mut found = Vec::new();
    for breach in Checker::new(problem).breaches(formula, REPORT_TOLERANCE) {
        let rule = &problem.rules[breach.rule];
        let of_single_dose = matches!(
            rule.kind,
            RuleKind::DoseMin(_) | RuleKind::DoseStep(_) | RuleKind::DoseMax(_) | RuleKind::Fixed(_)
        );
        if !(converted && of_single_dose) {
            found.push(Broken::new(problem, formula, &breach));
        }
    }
    let domains = problem.domains();
    for &(material, dose) in &formula.parts {
        let name = &problem.material(material).name;
        let Err(absence) = domains[material] else { continue };
        let place = match (absence, &brief.target_from) {
            // Among the rules already.
            (Absence::Rule(_), _) => continue,
            (Absence::TargetItself, Some(TargetFrom::Material(material))) => Some(&material.place),
            (Absence::TargetItself | Absence::UnnamedCarrier, _) => None,
        };
        found.push(Broken {
            rule: RuleId::dose(name, DoseKey::Never),
            file: place.map_or_else(|| brief.file.clone(), |place| place.file.clone()),
            line: place.map(|place| place.line),
            at: 1.0,
            has: dose.as_f64(),
            sentence: problem.sentence_of_absence(material, absence),
        });
    }
    found
}
