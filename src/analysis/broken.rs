//! The rules that a formula from elsewhere breaks.

use std::sync::Arc;

use crate::brief::{Brief, TargetFrom};
use crate::formula::Formula;
use crate::problem::check::{Checker, REPORT_TOLERANCE};
use crate::problem::{Absence, Problem, RuleKind};

/// A rule that a formula breaks, in the user's words.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// The rule's id.
    pub rule: String,
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

/// Every rule that a formula of the brief's basis breaks. A formula that was
/// converted from another basis was never meant to lie on this brief's grid:
/// rules on its single doses are then left aside.
pub fn broken(problem: &Problem, brief: &Brief, formula: &Formula, converted: bool) -> Vec<Broken> {
    let mut found = Vec::new();
    for breach in Checker::new(problem).breaches(formula, REPORT_TOLERANCE) {
        let rule = &problem.rules[breach.rule];
        let of_single_dose = matches!(
            rule.kind,
            RuleKind::DoseMin(_) | RuleKind::DoseStep(_) | RuleKind::DoseMax(_) | RuleKind::Fixed(_)
        );
        if !(converted && of_single_dose) {
            found.push(Broken {
                rule: rule.id.clone(),
                file: rule.place.file.clone(),
                line: Some(rule.place.line),
                at: rule.at,
                has: breach.has,
                sentence: problem.sentence(rule) + &others(problem, formula, &rule.kind),
            });
        }
    }
    let domains = problem.domains();
    for &(material, dose) in &formula.parts {
        let name = &problem.material(material).name;
        let (place, sentence) = match domains[material] {
            Err(Absence::UnnamedCarrier) => {
                (None, format!("{name} is a carrier, and a carrier that [doses] does not name is left out"))
            }
            Err(Absence::TargetItself) => {
                let place = match &brief.target_from {
                    Some(TargetFrom::Material(material)) => Some(&material.place),
                    _ => None,
                };
                (place, format!("{name} is the target itself, and is left out because [doses] does not name it"))
            }
            _ => continue,
        };
        found.push(Broken {
            rule: format!("dose:{name}.never"),
            file: place.map_or_else(|| brief.file.clone(), |place| place.file.clone()),
            line: place.map(|place| place.line),
            at: 1.0,
            has: dose.as_f64(),
            sentence,
        });
    }
    found
}

/// The materials of a formula that a rule on all of them leaves out, as the
/// end of a sentence.
fn others(problem: &Problem, formula: &Formula, rule: &RuleKind) -> String {
    let is_left_out = |material: usize| match rule {
        RuleKind::Only(only) => !only.contains(&material),
        RuleKind::OwnOnly => !problem.material(material).have,
        _ => false,
    };
    let names = formula.parts.iter().filter(|(material, _)| is_left_out(*material));
    let names: Vec<&str> = names.map(|(material, _)| problem.material(*material).name.as_str()).collect();
    if names.is_empty() { String::new() } else { format!(", not {}", names.join(" nor ")) }
}
