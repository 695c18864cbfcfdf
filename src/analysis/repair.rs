//! How a brief that no blend can meet is mended: how far one rule alone would
//! have to move, or, where no single one suffices, a smallest set of rules that
//! have to move together. Every repair is verified by a formula that keeps it.

use super::conflict::{Conflict, conflicts};
use crate::control::Control;
use crate::pool::in_parallel;
use crate::problem::{Change, Problem, RuleKind};
use crate::solve::{Feasibility, feasibility};
use crate::tolerance::curves::DIGITS;
use crate::tolerance::rules::REPAIRED;

/// A repair lies at most this far beyond the least one, as a share of the
/// distance moved: 1 % less does not suffice.
const SLACK: f64 = 0.008;
/// Doublings of a distance before a rule counts as beyond repair.
const DOUBLINGS: usize = 40;

/// How much of the time the conflicts may take.
const FOR_CONFLICTS: f64 = 0.6;

/// Changes of rules after which there is a formula.
#[derive(Clone, Debug, PartialEq)]
pub struct Repair {
    /// (index of the rule, its change).
    pub changes: Vec<(usize, Change)>,
}

/// Why no blend can meet a brief, and what would mend it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reasons {
    /// Irreducible sets of rules that cannot stand together.
    pub conflicts: Vec<Conflict>,
    /// Changes that make room.
    pub repairs: Vec<Repair>,
}

impl Reasons {
    /// The reasons of an infeasible problem, as far as the control lets them
    /// be found.
    pub fn of(problem: &Problem, control: &Control) -> Reasons {
        let conflicts = conflicts(problem, &control.with_share(FOR_CONFLICTS));
        let repairs = repairs(problem, &conflicts, control);
        Reasons { conflicts, repairs }
    }
}

/// Repairs of a brief with the given conflicts: each single rule that suffices,
/// those that move the smallest share of their number first and those that are
/// dropped last; or one joint repair where no single rule suffices. Fewer are
/// returned when the control ends the search.
pub fn repairs(problem: &Problem, conflicts: &[Conflict], control: &Control) -> Vec<Repair> {
    let bench = Bench { problem, control };
    let candidates: Vec<usize> = conflicts.iter().flat_map(|conflict| conflict.rules.iter().copied()).collect();
    let mut singles: Vec<(f64, Repair)> = Vec::new();
    // With two conflicts and more, no rule of one mends another.
    if conflicts.len() == 1 {
        let changes = in_parallel(&candidates, control, |&rule| bench.least_change(&[], rule));
        for (&rule, change) in candidates.iter().zip(changes) {
            if let Some(change) = change.flatten() {
                singles.push((bench.size(rule, change), Repair { changes: vec![(rule, change)] }));
            }
        }
    }
    if singles.is_empty() {
        return bench.joint(&candidates).into_iter().collect();
    }
    singles.sort_by(|a, b| a.0.total_cmp(&b.0));
    singles.into_iter().map(|(_, repair)| repair).collect()
}

struct Bench<'a> {
    problem: &'a Problem,
    control: &'a Control,
}

impl Bench<'_> {
    fn suffices(&self, changes: &[(usize, Change)]) -> bool {
        // A search that is told to stop at once still has to be built.
        !self.control.should_stop()
            && matches!(feasibility(&self.problem.with_changes(changes), self.control), Feasibility::Possible(_))
    }

    fn suffices_with(&self, others: &[(usize, Change)], rule: usize, change: Change) -> bool {
        let mut changes = others.to_vec();
        changes.push((rule, change));
        self.suffices(&changes)
    }

    /// How large a change is: the share of the rule's number that it moves.
    fn size(&self, rule: usize, change: Change) -> f64 {
        match change {
            Change::To(to) => {
                let at = self.problem.rules[rule].at;
                (to - at).abs() / at.abs().max(to.abs()).max(f64::MIN_POSITIVE)
            }
            Change::Dropped => f64::INFINITY,
        }
    }

    /// The least change of one rule that, beside other changes, makes room;
    /// `None` where not even dropping it does.
    fn least_change(&self, others: &[(usize, Change)], rule: usize) -> Option<Change> {
        if !self.suffices_with(others, rule, Change::Dropped) {
            return None;
        }
        let own = &self.problem.rules[rule];
        let moved = match (&own.kind, own.kind.loosens_upwards()) {
            (RuleKind::MaxMaterials | RuleKind::MaxUnusual(_), _) => self.least_count(others, rule),
            (RuleKind::DoseStep(_), _) => [2.0, 5.0, 10.0, 100.0, 1000.0]
                .into_iter()
                .map(|finer| Change::To(own.at / finer))
                .find(|&change| self.suffices_with(others, rule, change)),
            (RuleKind::Fixed(_), _) => {
                let both = [1.0, -1.0].map(|sign| self.least_distance(others, rule, sign));
                both.into_iter().flatten().min_by(|&a, &b| self.size(rule, a).total_cmp(&self.size(rule, b)))
            }
            (_, Some(upwards)) => self.least_distance(others, rule, if upwards { 1.0 } else { -1.0 }),
            (_, None) => None,
        };
        Some(moved.unwrap_or(Change::Dropped))
    }

    fn least_count(&self, others: &[(usize, Change)], rule: usize) -> Option<Change> {
        let at = self.problem.rules[rule].at as usize;
        let counts = (at + 1)..=self.problem.columns.len();
        counts.map(|count| Change::To(count as f64)).find(|&change| self.suffices_with(others, rule, change))
    }

    /// The least distance in one direction, bracketed by doubling and halving
    /// and then rounded outwards to as few digits as the slack allows.
    fn least_distance(&self, others: &[(usize, Change)], rule: usize, sign: f64) -> Option<Change> {
        let at = self.problem.rules[rule].at;
        let to = |distance: f64| Change::To(at + sign * distance);
        let suffices = |distance: f64| self.suffices_with(others, rule, to(distance));
        // Downwards nothing lies below 0.
        let furthest = if sign < 0.0 { at } else { f64::INFINITY };
        let mut high = (at.abs() * 1e-3).max(1e-6).min(furthest);
        let mut low = 0.0;
        let mut doublings = 0;
        while !suffices(high) {
            if high >= furthest || doublings == DOUBLINGS || self.control.should_stop() {
                return None;
            }
            low = high;
            high = (high * 2.0).min(furthest);
            doublings += 1;
        }
        while high - low > REPAIRED * high && !self.control.should_stop() {
            let middle = low.midpoint(high);
            if suffices(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        let rounded = (0..=9).map(|digits| {
            let unit = 10f64.powi(digits);
            let number = (at + sign * high) * unit;
            (if sign > 0.0 { (number - DIGITS).ceil() } else { (number + DIGITS).floor() }) / unit
        });
        let near = |to: &f64| sign * (to - at) <= high * (1.0 + SLACK) && sign * (to - at) > 0.0;
        let change = rounded.filter(near).map(Change::To).find(|&change| self.suffices_with(others, rule, change));
        Some(change.unwrap_or(to(high)))
    }

    /// A set of rules from which none can be left unchanged, each moved as
    /// little as the others allow.
    fn joint(&self, candidates: &[usize]) -> Option<Repair> {
        let mut dropped: Vec<(usize, Change)> = candidates.iter().map(|&rule| (rule, Change::Dropped)).collect();
        if !self.suffices(&dropped) {
            return None;
        }
        // Rules that can only be dropped are kept where another can move.
        let mut order = candidates.to_vec();
        order.sort_by_key(|&rule| self.problem.rules[rule].kind.has_distance());
        for rule in order {
            let without: Vec<(usize, Change)> = dropped.iter().copied().filter(|(other, _)| *other != rule).collect();
            if self.suffices(&without) {
                dropped = without;
            }
        }
        let mut changes = dropped;
        for index in 0..changes.len() {
            let mut others = changes.clone();
            let (rule, _) = others.remove(index);
            changes[index].1 = self.least_change(&others, rule)?;
        }
        self.suffices(&changes).then_some(Repair { changes })
    }
}
