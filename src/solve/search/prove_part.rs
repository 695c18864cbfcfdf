//! Settling one part of a proof that is written down: it is narrowed and closed
//! by what the check accepts, or has to be split.

use super::branch_and_bound::BranchAndBound;
use super::branching::Choice;
use super::certificate_writer::CertificateWriter;
use super::examine::Split;
use super::grid::Grid;
use super::node::{Decision, Node, UseStatus};
use super::point::Point;
use super::prove::Purpose;
use super::reduced_cost_fixing::fix_by_reduced_costs;
use super::simplex::Ended;
use crate::certificate::{CapMultipliers, Change, Entry, Multipliers, Said};
use crate::model::Blend;
use crate::problem::Target;
use crate::tolerance::search::{LEAST_OF_SPAN, NARROW_SPAN};
use crate::units::Ppt;

/// Times that one part is narrowed by its multipliers.
const NARROWINGS: usize = 6;

/// What became of a part.
pub(super) enum Settled {
    /// It is closed.
    Closed,
    /// It has to be split.
    Open(Split),
}

/// What the relaxation of a part says that does not close it.
pub(super) struct Bounded {
    /// How the simplex method ended.
    pub ended: Ended,
    /// Multipliers of the relaxation's rows, and the same of the model's.
    pub rows: Vec<f64>,
    pub by: Multipliers,
}

impl BranchAndBound<'_> {
    /// Narrows and bounds a part, and says how it is split where it is not
    /// closed. `None` where it can be neither.
    ///
    /// What doubles say is only tried: a part is closed or narrowed by what the
    /// check accepts, and by nothing else.
    pub(super) fn settle_part(
        &mut self,
        node: &mut Node,
        purpose: Purpose,
        writer: &mut CertificateWriter,
    ) -> Option<Settled> {
        let (objective, room) = purpose.objective_and_room();
        for round in 0.. {
            let before = Doses::of(node);
            if !self.instance.grid.complete(node) {
                if writer.line(Entry::Empty) {
                    return Some(Settled::Closed);
                }
                before.restore(node);
            }
            let changes = before.changes(node);
            if !changes.is_empty() {
                let proven = writer.on_grid(&changes);
                before.keep(node, &changes, &proven, &self.instance.grid);
            }
            if !node.close_count(&self.work.relaxation) {
                return writer.line(Entry::Empty).then_some(Settled::Closed);
            }
            let Some(Bounded { ended, rows, by }) = self.bound_part(node, (objective, room), writer) else {
                return Some(Settled::Closed);
            };
            let sound = ended == Ended::Optimal;
            if sound && round < NARROWINGS && objective > 0.0 && self.work.safe.value < 0.0 {
                let before = Doses::of(node);
                let decisions =
                    fix_by_reduced_costs(node, &self.work.relaxation, &self.instance.grid, &rows, &self.work.safe);
                // A material that must be in may have no dose left: then the
                // multipliers rule out every one.
                if decisions.is_none() && writer.closed(&by) {
                    return Some(Settled::Closed);
                }
                let changes = before.changes(node);
                if decisions.is_none() {
                    before.restore(node);
                } else if !changes.is_empty() {
                    let proven = writer.narrowed(&by, &changes);
                    before.keep(node, &changes, &proven, &self.instance.grid);
                    if !proven.is_empty() {
                        continue;
                    }
                    self.work.settle(node);
                }
            }
            let split = self.split_part(node, sound);
            // Nothing is left to split where a formula passes a rule by less than
            // the simplex method sees: the rule alone shows it.
            if split.is_none() {
                let blend = self.instance.blend;
                let rules = (0..blend.rows.len()).map(of_rule);
                let caps = (0..blend.caps.len()).map(|cap| of_cap(blend, cap, &node.most));
                if rules.chain(caps).any(|by| writer.closed(&by)) {
                    return Some(Settled::Closed);
                }
            }
            return split.map(Settled::Open);
        }
        None
    }

    /// Solves the relaxation of a part and closes it where its multipliers do:
    /// `None` then.
    pub(super) fn bound_part(
        &mut self,
        node: &mut Node,
        (objective, room): (f64, f64),
        writer: &mut CertificateWriter,
    ) -> Option<Bounded> {
        self.work.settle(node);
        node.forget_what_is_out(&self.work.relaxation);
        let ended = self.solve_part(node);
        if let Ended::Infeasible(row) = ended
            && self.work.relaxation.farkas(&node.state, row).into_iter().any(|by| writer.closed(&by))
        {
            return None;
        }
        let rows = self.work.relaxation.one_way(&node.state.multipliers, objective);
        let by = self.work.relaxation.multipliers(&rows, objective);
        self.work.relaxation.lp.safe_bound(&rows, node.state.boxes(), &mut self.work.safe);
        let is_past = objective > 0.0 && self.work.safe.value + room * node.span.0 >= 0.0;
        if is_past && writer.closed(&by) { None } else { Some(Bounded { ended, rows, by }) }
    }

    /// Runs the simplex method on a part, afresh where it got lost.
    fn solve_part(&mut self, node: &mut Node) -> Ended {
        let ended = self.run_part(node);
        let is_lost = matches!(ended, Ended::Iterations | Ended::Trouble);
        if is_lost && node.restart(&self.work.relaxation, &mut self.work.scratch) { self.run_part(node) } else { ended }
    }

    fn run_part(&mut self, node: &mut Node) -> Ended {
        self.work.price(node);
        self.run_simplex(node, f64::INFINITY)
    }

    fn split_part(&mut self, node: &mut Node, sound: bool) -> Option<Split> {
        let point = Point::read(node, &self.work.relaxation, &self.instance.grid);
        if sound && !point.is_formula() {
            if point.keeps_use()
                && let Some((index, below)) = self.uncompleted(node)
            {
                return Some(Split::Remainder(index, below));
            }
            match self.choose(node, &point) {
                // Both sides, so that one that a trial found empty says why.
                Some(Choice::Split(branch) | Choice::Forced(branch, _) | Choice::Empty(branch)) => {
                    return Some(Split::Dose(branch));
                }
                None => {}
            }
        }
        if let Some(branch) = self.any_split(node, &point) {
            return Some(Split::Dose(branch));
        }
        // Where D may be as small as can be, ever smaller parts of it.
        let (least, most) = node.span;
        (most > least * (1.0 + NARROW_SPAN)).then(|| Split::Span((least.max(most * LEAST_OF_SPAN) * most).sqrt()))
    }
}

/// A rule by itself.
fn of_rule(rule: usize) -> Multipliers {
    Multipliers { rules: vec![(rule, 1.0)], ..Multipliers::default() }
}

/// A cap by itself, on the sides of its targets where these doses are.
fn of_cap(blend: &Blend, index: usize, doses: &[Ppt]) -> Multipliers {
    let cap = &blend.caps[index];
    let (mut d, mut odours) = (0.0, vec![0.0; cap.targets.len()]);
    for (column, dose) in cap.columns.iter().zip(doses) {
        d += column.weight * dose.as_f64();
        column.odours.iter().for_each(|&(target, odour)| odours[target] += odour * dose.as_f64());
    }
    let side = |(at, target): (usize, &Target)| (at, target.slope(odours[at] > target.score * d));
    let targets = cap.targets.iter().enumerate().map(side).filter(|(_, v)| *v != 0.0).collect();
    Multipliers { caps: vec![CapMultipliers { cap: index, most: 1.0, targets }], ..Multipliers::default() }
}

/// What a node says of its doses.
struct Doses {
    used: Vec<usize>,
    use_status: Vec<UseStatus>,
    least: Vec<Ppt>,
    most: Vec<Ppt>,
}

impl Doses {
    fn of(node: &Node) -> Doses {
        let (use_status, used) = (node.use_status.clone(), node.used.clone());
        Doses { used, use_status, least: node.least.clone(), most: node.most.clone() }
    }

    /// Takes back what a node has said since. The node still knows which boxes
    /// it has touched.
    fn restore(&self, node: &mut Node) {
        node.used.clone_from(&self.used);
        node.use_status.clone_from(&self.use_status);
        node.least.clone_from(&self.least);
        node.most.clone_from(&self.most);
    }

    /// Takes back of a node's changes what was not proven.
    fn keep(&self, node: &mut Node, changes: &[Change], proven: &[Change], grid: &Grid) {
        if proven.len() == changes.len() {
            return;
        }
        self.restore(node);
        for &(k, said) in proven {
            // A part that is left with no dose is empty, and is seen to be so.
            match said {
                Said::Out => drop(node.decide(k, Decision::Out, grid)),
                Said::In(least) => drop(node.decide(k, Decision::In(least), grid)),
                Said::AtMost(most) => drop(node.decide(k, Decision::AtMost(most), grid)),
                Said::AtLeast(least) => node.set_bounds(k, least, node.most[k]),
            }
        }
    }

    /// What a node says more.
    fn changes(&self, node: &Node) -> Vec<Change> {
        let mut changes = Vec::new();
        for k in 0..self.use_status.len() {
            if node.use_status[k] != self.use_status[k] {
                match node.use_status[k] {
                    UseStatus::Out => {
                        changes.push((k, Said::Out));
                        continue;
                    }
                    _ => changes.push((k, Said::In(self.least[k]))),
                }
            }
            if node.least[k] > self.least[k] {
                changes.push((k, Said::AtLeast(node.least[k])));
            }
            if node.most[k] < self.most[k] {
                changes.push((k, Said::AtMost(node.most[k])));
            }
        }
        changes
    }
}
