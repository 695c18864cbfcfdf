//! Every rule checked against a formula in plain arithmetic. Nothing here
//! knows the rows that the solvers work on.

mod facts;
mod fractions;

use facts::Facts;

use super::{Problem, Rule, RuleKind};
use crate::formula::Formula;
pub use crate::tolerance::rules::{REPORTED as REPORT_TOLERANCE, SEARCHED as SEARCH_TOLERANCE};
use crate::units::Ppt;

/// A rule that a formula breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// Index into the problem's rules.
    pub rule: usize,
    /// What the formula has, in the unit of the rule.
    pub has: f64,
    /// By how much it passes the rule, as a share of the rule's size.
    pub by: f64,
}

/// Checks formulas of one problem; what does not depend on the formula is
/// worked out once.
pub struct Checker<'a> {
    problem: &'a Problem,
    whole_part: bool,
    fixed: Vec<bool>,
    /// The dose at which each column may stay, where a rule speaks of it.
    kept: Vec<Option<Ppt>>,
}

impl<'a> Checker<'a> {
    /// A checker for a problem.
    pub fn new(problem: &'a Problem) -> Checker<'a> {
        let mut fixed = vec![false; problem.columns.len()];
        for rule in &problem.rules {
            if let RuleKind::Fixed(column) = rule.kind {
                fixed[column] = true;
            }
        }
        Checker { problem, whole_part: problem.is_whole_part(), fixed, kept: problem.kept_doses() }
    }

    /// Whether every dose that a formula may have lies on a grid.
    pub fn is_whole_part(&self) -> bool {
        self.whole_part
    }

    /// The rules that a formula of this problem's basis breaks by more than a
    /// tolerance (a share of the rule's size). Budget and restrictions are
    /// compared exactly where every dose lies on a grid. A price that is not
    /// known breaks no rule.
    pub fn breaches(&self, formula: &Formula, tolerance: f64) -> Vec<Breach> {
        let facts = Facts::new(self, formula);
        let breach = |(index, rule): (usize, &Rule)| {
            let (has, by) = facts.verdict(rule)?.has_and_by();
            let broken = match facts.exact_verdict(rule, by) {
                Some(kept) => !kept,
                None => by > tolerance,
            };
            broken.then_some(Breach { rule: index, has, by })
        };
        self.problem.rules.iter().enumerate().filter_map(breach).collect()
    }
}

impl Checker<'_> {
    /// For each rule how far a formula is from breaking it, as a share of the
    /// rule's size: 0 where it holds the formula, and for rules that have no
    /// distance or are broken.
    pub fn slacks(&self, formula: &Formula) -> Vec<f64> {
        let facts = Facts::new(self, formula);
        let slack = |rule: &Rule| facts.verdict(rule).map_or(0.0, |verdict| verdict.room());
        self.problem.rules.iter().map(slack).collect()
    }
}
