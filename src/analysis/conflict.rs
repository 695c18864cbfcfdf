//! Why no blend can meet a brief: sets of rules that cannot stand together, and
//! from each of which no rule can be taken away without making room.
//!
//! The sets are found by divide and conquer (QuickXplain, Junker 2004): halves
//! of the rules are taken away and put back, each time with a proof or a formula
//! from the exact search. That serves whole parts and counts as well as linear
//! rows, for which elastic rows and deletion filtering (Chinneck 2008) would do.

use std::cell::Cell;
use std::mem::discriminant;

use crate::control::Control;
use crate::problem::Problem;
use crate::solve::{Feasibility, feasibility};

/// Conflicts beyond this many are not looked for.
const MOST_CONFLICTS: usize = 5;

/// An irreducible set of rules that cannot stand together, as indices into the
/// problem's rules, in their order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The rules; empty when not even a problem without rules has a formula.
    pub rules: Vec<usize>,
}

/// The conflicts of an infeasible problem, one after the other: each is looked
/// for among the rules that no earlier one names. Fewer are returned when the
/// control ends the search; a set is returned only when it is proven to be one.
pub fn conflicts(problem: &Problem, control: &Control) -> Vec<Conflict> {
    let mut found: Vec<Conflict> = Vec::new();
    let mut named = vec![false; problem.rules.len()];
    while found.len() < MOST_CONFLICTS {
        let open: Vec<usize> = (0..named.len()).filter(|&rule| !named[rule]).collect();
        let Some(conflict) = conflict_among(problem, &open, control) else { break };
        conflict.rules.iter().for_each(|&rule| named[rule] = true);
        let is_hopeless = conflict.rules.is_empty();
        found.push(conflict);
        if is_hopeless {
            break;
        }
    }
    found
}

/// An irreducible conflict among some rules; `None` where they can stand
/// together, or it is not known whether they can.
fn conflict_among(problem: &Problem, rules: &[usize], control: &Control) -> Option<Conflict> {
    let question = Question { problem, control, unknown: Cell::new(false) };
    if !question.is_impossible(rules) {
        return None;
    }
    // Rules written as one line (a step or a least dose for all materials)
    // are one thing at first, and are told apart only if they are in it.
    let groups = groups(problem, rules);
    let atoms = question.irreducible(&[], &groups);
    let mut core: Vec<usize> = Vec::new();
    for (index, atom) in atoms.iter().enumerate() {
        let mut others = core.clone();
        others.extend(atoms[index + 1..].iter().flatten());
        let single: Vec<Vec<usize>> = atom.iter().map(|&rule| vec![rule]).collect();
        core.extend(question.irreducible(&others, &single).into_iter().flatten());
    }
    core.sort_unstable();
    // A search that was cut short may have left a rule too many, or too few.
    (!question.unknown.get() && question.is_impossible(&core)).then_some(Conflict { rules: core })
}

/// Rules of one kind that were written at one place, in the order of the rules,
/// those of the brief before those of the palette and the limits.
fn groups(problem: &Problem, rules: &[usize]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for &rule in rules {
        let own = &problem.rules[rule];
        let same = |other: usize| {
            let other = &problem.rules[other];
            own.place == other.place && discriminant(&own.kind) == discriminant(&other.kind)
        };
        match groups.iter_mut().find(|group| same(group[0])) {
            Some(group) => group.push(rule),
            None => groups.push(vec![rule]),
        }
    }
    groups.sort_by_key(|group| problem.rules[group[0]].place.file == problem.palette.file);
    groups
}

/// Asks whether rules can stand together, and remembers when it did not learn.
struct Question<'a> {
    problem: &'a Problem,
    control: &'a Control,
    unknown: Cell<bool>,
}

impl Question<'_> {
    fn is_impossible(&self, rules: &[usize]) -> bool {
        // A search that is told to stop at once still has to be built.
        if self.control.should_stop() {
            self.unknown.set(true);
            return false;
        }
        let mut kept = vec![false; self.problem.rules.len()];
        rules.iter().for_each(|&rule| kept[rule] = true);
        match feasibility(&self.problem.with_rules(|rule| kept[rule]), self.control) {
            Feasibility::Impossible => true,
            Feasibility::Possible(_) => false,
            Feasibility::Unknown => {
                self.unknown.set(true);
                false
            }
        }
    }

    /// A smallest part of `groups` that together with `background` cannot
    /// stand, given that all of them cannot.
    fn irreducible(&self, background: &[usize], groups: &[Vec<usize>]) -> Vec<Vec<usize>> {
        if groups.is_empty() || self.is_impossible(background) {
            Vec::new()
        } else {
            self.split(background, false, groups)
        }
    }

    /// `has_grown`: the background grew since it was last known to be possible.
    fn split(&self, background: &[usize], has_grown: bool, groups: &[Vec<usize>]) -> Vec<Vec<usize>> {
        if has_grown && self.is_impossible(background) {
            return Vec::new();
        }
        if let [only] = groups {
            return vec![only.clone()];
        }
        let (first, second) = groups.split_at(groups.len() / 2);
        let with =
            |more: &[Vec<usize>]| -> Vec<usize> { background.iter().chain(more.iter().flatten()).copied().collect() };
        let of_second = self.split(&with(first), !first.is_empty(), second);
        let of_first = self.split(&with(&of_second), !of_second.is_empty(), first);
        of_first.into_iter().chain(of_second).collect()
    }
}
