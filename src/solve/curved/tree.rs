//! One tree: all formulas below a loss, split until each part is closed by
//! multipliers alone ([`super::bound`]).

use std::collections::{HashMap, HashSet};

use super::super::search::simplex::{Ended, Scratch};
use super::super::search::{Judge, Judged};
use super::bound::{Of, Priced};
use super::branch::{Reading, Split, any_split, splits};
use super::curve::Span;
use super::descend::{descend, exchange};
use super::model::Model;
use super::node::{Node, Side, Use};
use super::relaxation::Relaxation;
use super::weighed::Weighed;
use crate::control::{Control, Progress};
use crate::model::Blend;
use crate::solve::search::{Grid, round};
use crate::tolerance::loss::{CUTOFF_MARGIN, TIE};
use crate::units::Ppt;

/// Rounds of new columns and narrower boxes that a node may take, and the root.
pub(super) const ROUNDS: usize = 6;
pub(super) const ROOT_ROUNDS: usize = 60;
/// Parts this deep, twice and three times as deep are looked into like a root.
const LOOKED_INTO: usize = 4;
/// A new tree is worth its root where the best formula is better by this share.
const WORTH_A_NEW_TREE: f64 = 1e-3;
/// Iterations of the simplex method at once.
pub(super) const ITERATIONS: usize = 5000;
/// A bound this part of theta or less below it is as good as it.
const NEAR: f64 = 0.02;
/// Splits that are tried before one is taken, and the iterations of each trial.
const TRIED: usize = 8;
const TRIAL_ITERATIONS: usize = 25;
/// After so many trials of a split its gains are taken from those before.
const TRUSTED: u32 = 4;
/// Points that are rounded at first, and then one in so many.
const ROUNDED_FIRST: u64 = 24;
const ROUNDED_EVERY: u64 = 16;

/// The best formula known.
#[derive(Clone, Debug)]
pub(super) struct Best {
    pub doses: Vec<Ppt>,
    pub judged: Judged,
}

/// What is asked, what is known and what is counted.
pub(super) struct Search<'m, 'a> {
    pub model: &'m Model<'a>,
    pub judge: &'m Judge<'m>,
    pub tolerance: f64,
    pub control: &'m Control,
    grid: Grid,
    pub best: Option<Best>,
    /// A loss that has to be beaten, with or without a formula.
    pub to_beat: f64,
    /// Proven: no formula has a loss below this.
    pub bound: f64,
    pub nodes: u64,
    rounded: u64,
    pub scratch: Scratch,
    priced: Priced,
    gains: HashMap<(usize, bool), Gains>,
    /// From where exchanges have begun, and how thoroughly.
    begun_at: HashSet<(Vec<i64>, bool)>,
}

/// What splits of one material gave.
#[derive(Clone, Copy, Default)]
struct Gains {
    count: u32,
    first: f64,
    second: f64,
}

/// What came of a tree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Explored {
    /// No formula lies below the loss that the relaxation ended with.
    All,
    /// A formula was found that is so much better that a new tree is worth its root.
    Better,
    /// Time or nodes were used up.
    Over,
}

/// What came of a node.
enum Verdict {
    Closed,
    Open(Option<Split>),
}

impl<'m, 'a> Search<'m, 'a> {
    pub fn new(model: &'m Model<'a>, judge: &'m Judge<'m>, tolerance: f64, control: &'m Control) -> Self {
        Search {
            model,
            judge,
            tolerance,
            control,
            grid: Grid::new(blend_of(model)),
            best: None,
            to_beat: f64::INFINITY,
            bound: 0.0,
            nodes: 0,
            rounded: 0,
            scratch: Scratch::default(),
            priced: Priced::default(),
            gains: HashMap::new(),
            begun_at: HashSet::new(),
        }
    }

    /// The loss that a formula has to come below to be of use.
    pub fn cutoff(&self) -> f64 {
        self.to_beat - CUTOFF_MARGIN * self.to_beat.max(1.0)
    }

    /// Whether time or nodes are used up.
    pub fn is_over(&self) -> bool {
        self.control.node_limit.is_some_and(|most| self.nodes >= most) || self.control.should_stop()
    }

    /// Takes doses for the best if they pass the judge and are better.
    pub fn consider(&mut self, doses: &[Ppt]) -> bool {
        let Some(judged) = (self.judge)(doses) else { return false };
        let is_better = judged.loss < self.to_beat - TIE * self.to_beat.max(1.0)
            || self.to_beat.is_infinite() && judged.loss.is_finite();
        if is_better {
            self.to_beat = judged.loss;
            self.best = Some(Best { doses: doses.to_vec(), judged });
            self.tell();
        }
        is_better
    }

    /// Tells the listener how far it is.
    pub fn tell(&self) {
        let incumbent_loss = self.best.as_ref().map(|best| best.judged.loss);
        self.control.tell(Progress { incumbent_loss, bound: self.bound.min(self.to_beat), nodes: self.nodes });
    }

    /// Rounds doses, improves them by exchanges and considers what comes of it.
    pub fn improve(&mut self, ppt: &[f64], thoroughly: bool) -> bool {
        let Some(doses) = round(blend_of(self.model), &self.grid, ppt) else { return false };
        self.improve_doses(&doses, thoroughly)
    }

    /// The same of doses.
    pub fn improve_doses(&mut self, doses: &[Ppt], thoroughly: bool) -> bool {
        let units: Vec<i64> = doses.iter().map(|dose| dose.units()).collect();
        if !self.begun_at.insert((units, thoroughly)) {
            return false;
        }
        let mut weighed = Weighed::new(self.model, doses, self.tolerance);
        let merit = if thoroughly { descend(self.model, &mut weighed) } else { exchange(self.model, &mut weighed, 12) };
        merit.broken == 0.0 && merit.loss < self.to_beat && self.consider(&weighed.doses)
    }

    /// Searches all formulas below a target.
    pub fn explore(&mut self, relaxation: &mut Relaxation<'m, 'a>, root: &Node) -> Explored {
        let mut stack = vec![root.clone()];
        let began_with = self.to_beat;
        while let Some(mut node) = stack.pop() {
            if self.is_over() {
                return Explored::Over;
            }
            if self.to_beat < began_with * (1.0 - WORTH_A_NEW_TREE) {
                return Explored::Better;
            }
            self.nodes += 1;
            if self.nodes.is_multiple_of(256) {
                self.tell();
            }
            let is_looked_into = node.depth > 0 && node.depth % LOOKED_INTO == 0 && node.depth <= 3 * LOOKED_INTO;
            if is_looked_into && !(self.tighten(relaxation, &mut node, ROUNDS) && self.probe(relaxation, &mut node, 1))
            {
                continue;
            }
            let Verdict::Open(split) = self.examine(relaxation, &mut node, ROUNDS) else { continue };
            node.depth += 1;
            // With nothing left to split its one formula was judged.
            let Some(Split { k, sides: [first, second], .. }) = split else { continue };
            let mut other = node.clone();
            if other.take(k, second) {
                stack.push(other);
            }
            if node.take(k, first) {
                stack.push(node);
            }
        }
        Explored::All
    }

    /// Bounds, narrows and reads a node, and says where it is to be split.
    fn examine(&mut self, relaxation: &mut Relaxation<'m, 'a>, node: &mut Node, rounds: usize) -> Verdict {
        if !self.tighten(relaxation, node, rounds) {
            return Verdict::Closed;
        }
        let reading = Reading::of(node, relaxation);
        let before = self.to_beat;
        match reading.formula() {
            Some(doses) => {
                self.consider(&doses);
            }
            None => {
                self.rounded += 1;
                if self.rounded <= ROUNDED_FIRST || self.rounded.is_multiple_of(ROUNDED_EVERY) {
                    let thoroughly = self.rounded <= ROUNDED_FIRST / 4;
                    self.improve(&reading.ppt, thoroughly);
                    self.improve(&reading.as_smelled(), thoroughly);
                }
            }
        }
        if self.to_beat < before && self.cutoff() < relaxation.lambda {
            let lambda = self.cutoff();
            relaxation.set_lambda(lambda);
            if !self.tighten(relaxation, node, rounds) {
                return Verdict::Closed;
            }
        }
        if (0..self.model.columns()).all(|k| node.is_settled(k)) {
            let doses = |k: usize| if node.uses[k] == Use::Out { Ppt::ZERO } else { node.spans[k].least };
            let doses: Vec<Ppt> = (0..self.model.columns()).map(doses).collect();
            self.consider(&doses);
            return Verdict::Closed;
        }
        let reading = Reading::of(node, relaxation);
        let bends: Vec<f64> = self.priced.worths.iter().map(|worth| worth.bend).collect();
        let splits = splits(node, &reading, |k| bends.get(k).copied().unwrap_or(0.0));
        Verdict::Open(self.choose(relaxation, node, splits).or_else(|| any_split(node)))
    }

    /// Solves a node's programme, adds the columns that it asks for, and narrows what is
    /// open by its multipliers, for some rounds. False where the node is closed.
    pub fn tighten(&mut self, relaxation: &mut Relaxation<'m, 'a>, node: &mut Node, rounds: usize) -> bool {
        for round in 0..rounds {
            let is_sound = node.settle(relaxation, &mut self.scratch);
            let mut ended = if is_sound { self.run(relaxation, node, ITERATIONS) } else { Ended::Trouble };
            if ended == Ended::Trouble && node.restart(relaxation, &mut self.scratch) {
                ended = self.run(relaxation, node, ITERATIONS);
            }
            match ended {
                Ended::Infeasible(row) => {
                    let ray = node.state.inverse_row(row).to_vec();
                    let mut values = [1.0, -1.0].map(|sign| {
                        self.priced.price(relaxation, node, &ray, sign, Of::Nothing);
                        (self.priced.value, sign)
                    });
                    values.sort_by(|a, b| b.0.total_cmp(&a.0));
                    if values[0].0 > 0.0 {
                        return false;
                    }
                    let mut added = false;
                    for (_, sign) in values {
                        self.priced.price(relaxation, node, &ray, sign, Of::Nothing);
                        added |= self.add_points(relaxation, node);
                    }
                    if !added {
                        return true;
                    }
                }
                Ended::Trouble => return true,
                Ended::Optimal | Ended::Iterations | Ended::Cutoff => {
                    let multipliers = node.state.multipliers.clone();
                    self.priced.price(relaxation, node, &multipliers, 1.0, Of::Theta);
                    if self.priced.value >= 0.0 {
                        return false;
                    }
                    let (uses, spans) = (node.uses.clone(), node.spans.clone());
                    if !self.priced.narrow(relaxation, node) {
                        return false;
                    }
                    let theta = node.state.value(relaxation.theta);
                    let is_near = theta - self.priced.value <= NEAR * theta.abs() && theta < 0.0;
                    let is_narrower = uses != node.uses || has_moved(&spans, &node.spans);
                    let added = (!is_near || round == 0) && self.add_points(relaxation, node);
                    if !added && !is_narrower {
                        return true;
                    }
                }
            }
        }
        if node.settle(relaxation, &mut self.scratch) {
            self.run(relaxation, node, ITERATIONS);
        }
        true
    }

    pub fn run(&mut self, relaxation: &Relaxation, node: &mut Node, iterations: usize) -> Ended {
        node.state.run(&relaxation.lp, f64::INFINITY, iterations, &mut self.scratch)
    }

    /// Adds the doses at which materials are worth least, where they are not columns
    /// yet. Whether there was one.
    fn add_points(&self, relaxation: &mut Relaxation<'m, 'a>, node: &Node) -> bool {
        let before = relaxation.points.len();
        for k in 0..self.model.columns() {
            let used = self.priced.used[k];
            // An open material that is worth more than nothing is left out as it is.
            let is_wanted = match node.uses[k] {
                Use::Out => false,
                Use::Open => used.value < 0.0,
                Use::In => true,
            };
            if is_wanted && !used.at.is_zero() {
                relaxation.point(k, thinned(node.spans[k], used.at));
            }
        }
        relaxation.points.len() > before
    }

    /// Of some splits the one whose sides both rise most.
    fn choose(&mut self, relaxation: &mut Relaxation<'m, 'a>, node: &Node, mut splits: Vec<Split>) -> Option<Split> {
        let theta = node.state.value(relaxation.theta);
        let tiny = 1e-6 * theta.abs().max(1e-9);
        let product = |a: f64, b: f64| a.max(tiny) * b.max(tiny);
        // Those of which most is expected are tried.
        let expected = |split: &Split, gains: &HashMap<(usize, bool), Gains>| match gains.get(&(split.k, split.is_use))
        {
            Some(gains) if gains.count > 0 => {
                let of = split.measure / f64::from(gains.count);
                product(gains.first * of, gains.second * of)
            }
            _ if split.is_use => product(split.measure * theta.abs() * 0.3, split.measure * theta.abs() * 0.3),
            _ => product(split.measure, split.measure),
        };
        splits.sort_by(|a, b| expected(b, &self.gains).total_cmp(&expected(a, &self.gains)).then(a.k.cmp(&b.k)));
        let mut best: Option<(f64, Split)> = None;
        let mut without = 0;
        for split in splits.into_iter().take(TRIED) {
            let known = self.gains.get(&(split.k, split.is_use)).copied().unwrap_or_default();
            let (score, split) = if known.count >= TRUSTED {
                (expected(&split, &self.gains), split)
            } else {
                let [first, second] = split.sides.map(|side| self.rise(relaxation, node, split.k, side, theta));
                let gains = self.gains.entry((split.k, split.is_use)).or_default();
                let per = split.measure.max(tiny);
                gains.count += 1;
                gains.first += first.min(theta.abs()) / per;
                gains.second += second.min(theta.abs()) / per;
                let [a, b] = split.sides;
                // The side that stays lower is looked at first.
                let split = if second < first { Split { sides: [b, a], ..split } } else { split };
                (product(first, second), split)
            };
            if best.is_none_or(|(most, _)| score > most) {
                best = Some((score, split));
                without = 0;
            } else {
                without += 1;
                if without >= TRIED / 2 {
                    break;
                }
            }
        }
        best.map(|(_, split)| split)
    }

    /// How far theta rises on one side of a split, in a few iterations; more than
    /// theta is below 0 where that side is closed.
    fn rise(&mut self, relaxation: &mut Relaxation<'m, 'a>, node: &Node, k: usize, side: Side, theta: f64) -> f64 {
        let closed = 2.0 * theta.abs();
        let mut child = node.clone();
        if !child.take(k, side) || !child.settle(relaxation, &mut self.scratch) {
            return closed;
        }
        match self.run(relaxation, &mut child, TRIAL_ITERATIONS) {
            Ended::Infeasible(_) => closed,
            Ended::Trouble => 0.0,
            _ => (child.state.objective(&relaxation.lp) - theta).clamp(0.0, closed),
        }
    }

    /// Bounds a root for as many rounds as it takes; what comes of it is left in the
    /// node. The loss of its point where it is not closed.
    pub fn bound_root(&mut self, relaxation: &mut Relaxation<'m, 'a>, node: &mut Node) -> Option<f64> {
        if !self.tighten(relaxation, node, ROOT_ROUNDS) {
            return None;
        }
        let theta = node.state.value(relaxation.theta);
        let of = |view: &super::relaxation::ViewRows| {
            let d = node.state.value(view.d);
            if d > 0.0 { relaxation.lambda + theta / d } else { f64::NEG_INFINITY }
        };
        Some(relaxation.views.iter().map(of).fold(f64::NEG_INFINITY, f64::max))
    }
}

fn blend_of<'m>(model: &Model<'m>) -> &'m Blend {
    model.blend
}

/// Whether some span is shorter by a tenth.
fn has_moved(before: &[Span], after: &[Span]) -> bool {
    before.iter().zip(after).any(|(a, b)| {
        let (old, new) = ((a.most - a.least).units(), (b.most - b.least).units());
        new < old && (old - new) * 10 >= old
    })
}

/// A continuous dose as few digits tell it: columns that lie closer to each other
/// make a basis that is nearly singular.
fn thinned(span: Span, dose: Ppt) -> Ppt {
    if span.step.units() > 1 || dose == span.least || dose == span.most {
        return dose;
    }
    let digit = 10_i64.pow((dose.units().max(1).ilog10()).saturating_sub(4));
    Ppt::from_units(dose.units() / digit * digit).max(span.least).min(span.most)
}
