//! Writing a proof down: the tree for one loss, without looking for formulas,
//! each step with the multipliers that it rests on.

use super::branching::{Branch, Choice};
use super::node::{Decision, Node, Standing};
use super::point::Point;
use super::relaxation::{Empty, Relaxation};
use super::simplex::{Ended, Scratch, State};
use super::tree::Tree;
use crate::certificate::{
    BoundOnD, Certificate, Change, Claim, Entry, Multipliers, Remainder, Said, bound_on_d, greatest_d,
};
use crate::control::Control;
use crate::model::Blend;
use crate::units::Ppt;

/// Writes down why no formula of a blend has a loss below a claim, or why there is
/// none at all. `None` when that cannot be shown, or not in the time allowed.
pub fn prove(blend: &Blend, names: Vec<String>, claim: Claim, control: &Control) -> Option<Certificate> {
    let mut certificate =
        Certificate { claim, columns: names, remainders: Vec::new(), d: [None, None], entries: Vec::new() };
    let relaxation = match Relaxation::new(blend, &mut Scratch::default()) {
        _ if blend.contradiction.is_some() => Err(Empty),
        Err(Empty) => Relaxation::of_nothing(blend),
        found => found,
    };
    let Ok(relaxation) = relaxation else {
        // What is seen without a relaxation.
        certificate.entries.push(Entry::Empty);
        return Some(certificate);
    };
    let mut tree = Tree::over(blend, relaxation, &|_| None, 0.0, control);
    certificate.remainders = tree
        .relaxation
        .remainders
        .iter()
        .map(|kept| Remainder { step: kept.remainder.step, columns: kept.remainder.fine.clone() })
        .collect();
    certificate.d =
        [1, -1].map(|sign| tree.multipliers_of_d(sign as f64).and_then(|by| bound_on_d(&certificate, blend, by, sign)));
    if claim == Claim::None {
        tree.relaxation.lp.cost.fill(0.0);
    }
    // Gaps have no end of their own.
    let gaps = tree.relaxation.gaps.clone();
    tree.relaxation.upper[gaps].iter_mut().for_each(|upper| *upper *= 100.0);
    let mut root = Node::root(blend, &tree.relaxation)?;
    // D lies between what the certificate proves, not what the search knows.
    let [least, most] = &certificate.d;
    let scaled = |bound: &BoundOnD| bound.at / tree.relaxation.d_ref;
    root.span =
        (least.as_ref().map_or(0.0, scaled), most.as_ref().map_or(greatest_d(blend) / tree.relaxation.d_ref, scaled));
    certificate.entries = tree.write_down(root, claim)?;
    Some(certificate)
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

    /// The tree below a node, in order. `None` where it cannot be closed.
    fn write_down(&mut self, root: Node, claim: Claim) -> Option<Vec<Entry>> {
        let mut entries = Vec::new();
        let mut open = vec![Open::Part(Box::new(root))];
        while let Some(part) = open.pop() {
            let Open::Part(mut node) = part else {
                entries.push(Entry::Empty);
                continue;
            };
            if self.is_over() {
                return None;
            }
            self.nodes += 1;
            let (less, more) = match self.settle_part(&mut node, claim, &mut entries)? {
                Split::Closed => continue,
                Split::Dose(branch) => {
                    entries.push(Entry::Split(branch.material, said(branch.less), said(branch.more)));
                    let (mut less, mut more) = (node.clone(), node);
                    let of = |node: Box<Node>, is_left: bool| if is_left { Open::Part(node) } else { Open::Nothing };
                    let is_less = less.decide(branch.material, branch.less, &self.grid);
                    let is_more = more.decide(branch.material, branch.more, &self.grid);
                    (of(less, is_less), of(more, is_more))
                }
                Split::Remainder(index, below) => {
                    let above = below + self.relaxation.remainders[index].remainder.step;
                    entries.push(Entry::SplitRemainder(index, below, above));
                    let (mut less, mut more) = (node.clone(), node);
                    let of = |node: Box<Node>, is_left: bool| if is_left { Open::Part(node) } else { Open::Nothing };
                    let is_less = less.bound_remainder(index, Ppt::ZERO, below);
                    let is_more = more.bound_remainder(index, above, Ppt::WHOLE);
                    (of(less, is_less), of(more, is_more))
                }
                Split::Span(middle) => {
                    entries.push(Entry::SplitD(middle * self.relaxation.d_ref));
                    let (least, most) = node.span;
                    let (mut less, mut more) = (node.clone(), node);
                    less.narrow((least, middle));
                    more.narrow((middle, most));
                    (Open::Part(less), Open::Part(more))
                }
            };
            open.extend([more, less]);
        }
        Some(entries)
    }

    /// Narrows and bounds a part, and says how it is split where it is not
    /// closed. `None` where it can be neither.
    fn settle_part(&mut self, node: &mut Node, claim: Claim, entries: &mut Vec<Entry>) -> Option<Split> {
        let objective = if claim == Claim::None { 0.0 } else { 1.0 };
        for round in 0.. {
            let before = Doses::of(node);
            if !self.grid.complete(node) {
                entries.push(Entry::Empty);
                return Some(Split::Closed);
            }
            let changes = before.changes(node);
            if !changes.is_empty() {
                entries.push(Entry::OnGrid(changes));
            }
            if !node.close_count(&self.relaxation) {
                entries.push(Entry::Empty);
                return Some(Split::Closed);
            }
            node.settle(&self.relaxation, &mut self.scratch);
            node.forget_what_is_out(&self.relaxation);
            if let Claim::NoneBelow(loss) = claim {
                self.relaxation.set_lambda(loss);
            }
            node.state.price(&self.relaxation.lp, &mut self.scratch);
            let lp = &self.relaxation.lp;
            let ended = node.state.run(lp, f64::INFINITY, self.iteration_limit(), &mut self.scratch);
            if let Ended::Infeasible(row) = ended
                && let Some(by) = self.relaxation.farkas(&node.state, row)
            {
                entries.push(Entry::Closed(by));
                return Some(Split::Closed);
            }
            let sound = ended == Ended::Optimal;
            let rows = self.relaxation.one_way(&node.state.multipliers, objective);
            let by = self.relaxation.multipliers(&rows, objective);
            self.relaxation.lp.safe_bound(&rows, node.state.boxes(), &mut self.bound);
            if self.bound.value >= 0.0 && objective > 0.0 {
                entries.push(Entry::Closed(by));
                return Some(Split::Closed);
            }
            if sound && round < 6 && objective > 0.0 {
                let before = Doses::of(node);
                let bound = std::mem::take(&mut self.bound);
                let decisions = super::fixing::fix(node, &self.relaxation, &self.grid, &bound);
                self.bound = bound;
                match decisions {
                    Some(0) => {}
                    Some(_) => {
                        let changes = before.changes(node);
                        if !changes.is_empty() {
                            entries.push(Entry::Narrowed(by, changes));
                            continue;
                        }
                    }
                    None => {
                        // A material that must be in has no dose left: the
                        // multipliers rule out every one.
                        entries.push(Entry::Closed(by));
                        return Some(Split::Closed);
                    }
                }
            }
            return self.split_part(node, sound);
        }
        None
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
        let (least, most) = node.span;
        (most > least * (1.0 + 1e-6)).then(|| Split::Span((least * most).sqrt()))
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

/// What a node says of its doses.
struct Doses {
    standing: Vec<Standing>,
    least: Vec<Ppt>,
    most: Vec<Ppt>,
}

impl Doses {
    fn of(node: &Node) -> Doses {
        Doses { standing: node.standing.clone(), least: node.least.clone(), most: node.most.clone() }
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
    /// with which it does.
    fn farkas(&self, state: &State, row: usize) -> Option<Multipliers> {
        [1.0, -1.0].into_iter().find_map(|sign| {
            let signed: Vec<f64> = state.inverse_row(row).iter().map(|value| sign * value).collect();
            let rows = self.one_way(&signed, 0.0);
            self.lp.falls_short(&rows, state.boxes()).then(|| self.multipliers(&rows, 0.0))
        })
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
