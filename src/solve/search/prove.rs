//! Writing a proof down: the tree for one loss, without looking for formulas,
//! each step with the multipliers that it rests on.

use super::branching::{Branch, Choice};
use super::grid::Grid;
use super::node::{Decision, Node, Standing};
use super::point::Point;
use super::relaxation::{Empty, Relaxation};
use super::simplex::{Ended, Scratch, State};
use super::tree::Tree;
use super::written::Written;
use crate::certificate::{
    BoundOnD, Certificate, Change, Claim, Entry, Multipliers, Remainder, Said, bound_of_row, bound_on_d, greatest_d,
};
use crate::control::Control;
use crate::model::Blend;
use crate::units::Ppt;

/// The claim lies this far below the loss that the tree is built for, times
/// max(1, loss): room for multipliers of few digits.
const ROOM: f64 = 5e-8;
/// Least and greatest D of a part that is split by D lie further apart than
/// this factor.
const NARROW: f64 = 1.0 + 1e-6;

/// What a tree is built for.
#[derive(Clone, Copy, Debug)]
pub enum Purpose {
    /// No formula has a loss below a little less than this.
    NoneBelow(f64),
    /// There is no formula.
    None,
}

impl Purpose {
    /// What is claimed of it.
    pub fn claim(self) -> Claim {
        match self {
            Purpose::NoneBelow(loss) => Claim::NoneBelow((loss - Purpose::room(loss)).max(0.0)),
            Purpose::None => Claim::None,
        }
    }

    fn room(loss: f64) -> f64 {
        ROOM * loss.max(1.0)
    }
}

/// Why there is no certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unwritten {
    /// The answer rests on no proof.
    NothingProven,
    /// The time or the nodes that the control allows were not enough.
    OutOfTime,
    /// A part holds no formula by less than rounding takes from a line of
    /// multipliers: more time would not close it.
    NotClosed,
}

/// Writes down why no formula of a blend has a loss below a claim, or why there is
/// none at all.
///
/// # Errors
/// Where that cannot be shown, or not in what the control allows.
pub fn prove(blend: &Blend, names: Vec<String>, purpose: Purpose, control: &Control) -> Result<Certificate, Unwritten> {
    let open = Unwritten::NotClosed;
    let (remainders, entries) = (Vec::new(), Vec::new());
    let mut certificate = Certificate { claim: purpose.claim(), columns: names, remainders, d: [None, None], entries };
    // Rows as the certificate knows them: what just passes one is a formula.
    let mut roomy = blend.clone();
    for (row, original) in roomy.rows.iter_mut().zip(&blend.rows) {
        row.upper = bound_of_row(blend, original).ok_or(open)?;
    }
    let relaxation = match Relaxation::new(&roomy, &mut Scratch::default()) {
        _ if blend.contradiction.is_some() => Err(Empty),
        Err(Empty) => Relaxation::of_nothing(&roomy),
        found => found,
    };
    let Ok(relaxation) = relaxation else {
        // What is seen without a relaxation.
        let mut written = Written::new(&certificate, blend).ok_or(open)?;
        written.line(Entry::Empty);
        let entries = written.finished().ok_or(open)?;
        return Ok(Certificate { entries, ..certificate });
    };
    let mut tree = Tree::over(&roomy, relaxation, &|_| None, 0.0, control);
    certificate.remainders = tree
        .relaxation
        .remainders
        .iter()
        .map(|kept| Remainder { step: kept.remainder.step, columns: kept.remainder.fine.clone() })
        .collect();
    certificate.d =
        [1, -1].map(|sign| tree.multipliers_of_d(sign as f64).and_then(|by| bound_on_d(&certificate, blend, by, sign)));
    match purpose {
        Purpose::NoneBelow(loss) => tree.relaxation.set_lambda(loss),
        Purpose::None => tree.relaxation.lp.cost.fill(0.0),
    }
    // Gaps have no end of their own.
    let gaps = tree.relaxation.gaps.clone();
    tree.relaxation.upper[gaps].iter_mut().for_each(|upper| *upper *= 100.0);
    let mut root = Node::root(&roomy, &tree.relaxation).ok_or(open)?;
    // D lies between what the certificate proves, not what the search knows.
    let [least, most] = &certificate.d;
    let scaled = |bound: &BoundOnD| bound.at / tree.relaxation.d_ref;
    root.span =
        (least.as_ref().map_or(0.0, scaled), most.as_ref().map_or(greatest_d(blend) / tree.relaxation.d_ref, scaled));
    let mut written = Written::new(&certificate, blend).ok_or(open)?;
    if tree.write_down(root, purpose, &mut written).is_none() {
        return Err(if tree.is_over() { Unwritten::OutOfTime } else { open });
    }
    let entries = written.finished().ok_or(open)?;
    Ok(Certificate { entries, ..certificate })
}

/// What a part still has to say.
enum Open {
    /// A part.
    Part(Box<Node>),
    /// One that a decision has left empty.
    Nothing,
}

impl Tree<'_> {
    /// Multipliers that bound D, from below for a `sign` of 1 and from above for
    /// -1.
    fn multipliers_of_d(&mut self, sign: f64) -> Option<Multipliers> {
        let costs = self.relaxation.lp.cost.clone();
        let relaxation = &mut self.relaxation;
        relaxation.lp.cost.fill(0.0);
        relaxation.lp.cost[relaxation.d] = sign;
        let mut state = relaxation.start()?;
        let mut all: Vec<(usize, f64, f64)> = (0..relaxation.n).map(|k| (k, 0.0, relaxation.most[k])).collect();
        // The multipliers alone bound it.
        all.push((relaxation.d, 0.0, 10.0 * relaxation.upper[relaxation.d]));
        state.change_bounds(&relaxation.lp, &all, &mut self.scratch);
        let ended = state.run(&relaxation.lp, f64::INFINITY, 2000 + 20 * relaxation.lp.rows, &mut self.scratch);
        let rows = relaxation.one_way(&state.multipliers, 0.0);
        let by = Multipliers { d: 0.0, ..relaxation.multipliers(&rows, 0.0) };
        self.relaxation.lp.cost = costs;
        (ended == Ended::Optimal).then_some(by)
    }

    /// Writes the tree below a node, in order. `None` where it cannot be closed.
    fn write_down(&mut self, root: Node, purpose: Purpose, written: &mut Written) -> Option<()> {
        let mut open = vec![Open::Part(Box::new(root))];
        while let Some(part) = open.pop() {
            let Open::Part(mut node) = part else {
                if !written.line(Entry::Empty) {
                    return None;
                }
                continue;
            };
            if self.is_over() {
                return None;
            }
            self.nodes += 1;
            let split = self.settle_part(&mut node, purpose, written)?;
            let of = |node: Box<Node>, is_left: bool| if is_left { Open::Part(node) } else { Open::Nothing };
            let (line, less, more) = match split {
                Split::Closed => continue,
                Split::Dose(branch) => {
                    let line = Entry::Split(branch.material, said(branch.less), said(branch.more));
                    let (mut less, mut more) = (node.clone(), node);
                    let is_less = less.decide(branch.material, branch.less, &self.grid);
                    let is_more = more.decide(branch.material, branch.more, &self.grid);
                    (line, of(less, is_less), of(more, is_more))
                }
                Split::Remainder(index, below) => {
                    let above = below + self.relaxation.remainders[index].remainder.step;
                    let (mut less, mut more) = (node.clone(), node);
                    let is_less = less.bound_remainder(index, Ppt::ZERO, below);
                    let is_more = more.bound_remainder(index, above, Ppt::WHOLE);
                    (Entry::SplitRemainder(index, below, above), of(less, is_less), of(more, is_more))
                }
                Split::Span(middle) => {
                    let (least, most) = node.span;
                    let (mut less, mut more) = (node.clone(), node);
                    less.narrow((least, middle));
                    more.narrow((middle, most));
                    (Entry::SplitD(middle * self.relaxation.d_ref), Open::Part(less), Open::Part(more))
                }
            };
            if !written.line(line) {
                return None;
            }
            open.extend([more, less]);
        }
        Some(())
    }

    /// Narrows and bounds a part, and says how it is split where it is not
    /// closed. `None` where it can be neither.
    ///
    /// What doubles say is only tried: a part is closed or narrowed by what the
    /// check accepts, and by nothing else.
    fn settle_part(&mut self, node: &mut Node, purpose: Purpose, written: &mut Written) -> Option<Split> {
        // By how much the claim lies below the loss of the relaxation.
        let (objective, room) = match purpose {
            Purpose::NoneBelow(loss) => (1.0, Purpose::room(loss)),
            Purpose::None => (0.0, 0.0),
        };
        for round in 0.. {
            let before = Doses::of(node);
            if !self.grid.complete(node) {
                if written.line(Entry::Empty) {
                    return Some(Split::Closed);
                }
                before.restore(node);
            }
            let changes = before.changes(node);
            if !changes.is_empty() {
                let proven = written.on_grid(&changes);
                before.keep(node, &changes, &proven, &self.grid);
            }
            if !node.close_count(&self.relaxation) {
                return written.line(Entry::Empty).then_some(Split::Closed);
            }
            node.settle(&self.relaxation, &mut self.scratch);
            node.forget_what_is_out(&self.relaxation);
            let ended = self.solve_part(node);
            if let Ended::Infeasible(row) = ended
                && self.relaxation.farkas(&node.state, row).into_iter().any(|by| written.closed(&by))
            {
                return Some(Split::Closed);
            }
            let sound = ended == Ended::Optimal;
            let rows = self.relaxation.one_way(&node.state.multipliers, objective);
            let by = self.relaxation.multipliers(&rows, objective);
            self.relaxation.lp.safe_bound(&rows, node.state.boxes(), &mut self.bound);
            let is_past = objective > 0.0 && self.bound.value + room * node.span.0 >= 0.0;
            if is_past && written.closed(&by) {
                return Some(Split::Closed);
            }
            if sound && round < 6 && objective > 0.0 && self.bound.value < 0.0 {
                let before = Doses::of(node);
                let bound = std::mem::take(&mut self.bound);
                let decisions = super::fixing::fix(node, &self.relaxation, &self.grid, &rows, &bound);
                self.bound = bound;
                // A material that must be in may have no dose left: then the
                // multipliers rule out every one.
                if decisions.is_none() && written.closed(&by) {
                    return Some(Split::Closed);
                }
                let changes = before.changes(node);
                if decisions.is_none() {
                    before.restore(node);
                } else if !changes.is_empty() {
                    let proven = written.narrowed(&by, &changes);
                    before.keep(node, &changes, &proven, &self.grid);
                    if !proven.is_empty() {
                        continue;
                    }
                    node.settle(&self.relaxation, &mut self.scratch);
                }
            }
            let split = self.split_part(node, sound);
            // Nothing is left to split where a formula passes a rule by less than
            // the simplex method sees: the rule alone shows it.
            if split.is_none() && (0..self.relaxation.row_sizes.len()).any(|rule| written.closed(&of_rule(rule))) {
                return Some(Split::Closed);
            }
            return split;
        }
        None
    }

    /// Runs the simplex method on a part, afresh where it got lost.
    fn solve_part(&mut self, node: &mut Node) -> Ended {
        let ended = self.run_part(node);
        let is_lost = matches!(ended, Ended::Iterations | Ended::Trouble);
        if is_lost && node.restart(&self.relaxation, &mut self.scratch) { self.run_part(node) } else { ended }
    }

    fn run_part(&mut self, node: &mut Node) -> Ended {
        let most = self.iteration_limit();
        node.state.price(&self.relaxation.lp, &mut self.scratch);
        node.state.run(&self.relaxation.lp, f64::INFINITY, most, &mut self.scratch)
    }

    fn split_part(&mut self, node: &mut Node, sound: bool) -> Option<Split> {
        let point = Point::read(node, &self.relaxation, &self.grid);
        if sound && !point.is_formula() {
            if point.count_holds()
                && point.too_small.is_empty()
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
        (most > least * NARROW).then(|| Split::Span((least.max(most * 1e-6) * most).sqrt()))
    }
}

/// How a part goes on.
enum Split {
    Closed,
    Dose(Branch),
    Remainder(usize, Ppt),
    Span(f64),
}

fn said(decision: Decision) -> Said {
    match decision {
        Decision::Out => Said::Out,
        Decision::In(least) => Said::In(least),
        Decision::AtMost(most) => Said::AtMost(most),
    }
}

/// A rule by itself.
fn of_rule(rule: usize) -> Multipliers {
    Multipliers { rules: vec![(rule, 1.0)], ..Multipliers::default() }
}

/// What a node says of its doses.
struct Doses {
    used: Vec<usize>,
    standing: Vec<Standing>,
    least: Vec<Ppt>,
    most: Vec<Ppt>,
}

impl Doses {
    fn of(node: &Node) -> Doses {
        let (standing, used) = (node.standing.clone(), node.used.clone());
        Doses { used, standing, least: node.least.clone(), most: node.most.clone() }
    }

    /// Takes back what a node has said since. The node still knows which boxes
    /// it has touched.
    fn restore(&self, node: &mut Node) {
        node.used.clone_from(&self.used);
        node.standing.clone_from(&self.standing);
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
        for k in 0..self.standing.len() {
            if node.standing[k] != self.standing[k] {
                match node.standing[k] {
                    Standing::Out => {
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

impl Relaxation {
    /// Multipliers of the rows without what holds only because every column of
    /// the relaxation has an end: of rules and counts with the sign that they
    /// have, of targets as far as the loss goes.
    fn one_way(&self, of_rows: &[f64], objective: f64) -> Vec<f64> {
        let mut rows = of_rows.to_vec();
        let targets = self.gaps.len() / 2;
        for (i, value) in rows[2..2 + targets].iter_mut().enumerate() {
            let [above, below] = [0, 1].map(|side| objective * self.lp.cost[self.gaps.start + 2 * i + side]);
            *value = value.clamp(-above, below);
        }
        let first_remainder = self.lp.rows - self.remainders.len();
        rows[2 + targets..first_remainder].iter_mut().for_each(|value| *value = value.min(0.0));
        rows
    }

    /// What shows that no point exists: a row of the inverse, with the sign
    /// with which it does, as far as doubles can tell, and then with the other.
    fn farkas(&self, state: &State, row: usize) -> [Multipliers; 2] {
        let [plus, minus] = [1.0, -1.0].map(|sign| {
            let signed: Vec<f64> = state.inverse_row(row).iter().map(|value| sign * value).collect();
            self.one_way(&signed, 0.0)
        });
        let likelier = if self.lp.falls_short(&plus, state.boxes()) { [plus, minus] } else { [minus, plus] };
        likelier.map(|rows| self.multipliers(&rows, 0.0))
    }

    /// Multipliers of the relaxation's rows as multipliers of the model's.
    fn multipliers(&self, of_rows: &[f64], objective: f64) -> Multipliers {
        let targets = self.gaps.len() / 2;
        let (first_target, first_rule) = (2, 2 + targets);
        let first_count = first_rule + self.row_sizes.len();
        let first_remainder = first_count + self.counts.len();
        let some = |number: usize, value: &dyn Fn(usize) -> f64| -> Vec<(usize, f64)> {
            (0..number).map(|i| (i, value(i))).filter(|(_, value)| *value != 0.0).collect()
        };
        Multipliers {
            objective,
            sum: of_rows[1] * self.d_ref / 1000.0,
            d: objective * self.lp.cost[self.d] - self.lp.dot(of_rows, self.d),
            targets: some(targets, &|i| -of_rows[first_target + i]),
            rules: some(self.row_sizes.len(), &|i| -of_rows[first_rule + i] / self.row_sizes[i] * self.d_ref),
            counts: some(self.counts.len(), &|i| -of_rows[first_count + i] * self.d_ref),
            remainders: some(self.remainders.len(), &|i| {
                of_rows[first_remainder + i] * self.d_ref / self.remainders[i].unit_ppt
            }),
        }
    }
}
