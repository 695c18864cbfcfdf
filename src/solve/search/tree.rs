//! The search itself: depth first, in a sequence of trees for rising targets.
//!
//! A tree for a target loss holds every formula with a loss below it. Closed
//! and empty, the tree proves the target a lower bound; the next target lies
//! further up. The first tree that holds a formula ends with the best one.
//! So the search never explores what only a poor incumbent leaves open.

use super::branching::PseudoCosts;
use super::dive::Order;
use super::grid::Grid;
use super::lp::SafeBound;
use super::node::Node;
use super::relaxation::{Empty, Relaxation};
use super::simplex::{Ended, Scratch};
use super::tally::rows_by_column;
use crate::control::{Control, Progress};
use crate::model::Blend;
use crate::solve::quiet;
use crate::units::Ppt;

/// A better formula must beat the incumbent by this much times max(1, loss).
/// Half of what separates `optimal` from `feasible`, so that a finished
/// search is a proof.
pub const MARGIN: f64 = 5e-7;
/// Formulas whose losses differ by less than this times max(1, loss) are
/// tied, and the cheaper one is kept.
pub const TIE: f64 = 1e-7;

/// Good formulas are sought in neighbourhoods of the first once the proof has
/// taken this many nodes in one tree; easy briefs are done sooner.
const IMPROVE_AFTER: u64 = 1000;

/// What a judge outside the search says of a formula.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// Loss in score points.
    pub loss: f64,
    /// Price per kg, where every material has one.
    pub price_per_kg: Option<f64>,
}

/// The best formula found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Dose of each column of the blend.
    pub doses: Vec<Ppt>,
    /// What the judge said.
    pub judged: Judged,
}

/// What a search came to.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The best formula found.
    pub found: Option<Found>,
    /// No formula inside the rules has a loss below this; infinite when there
    /// is none at all.
    pub bound: f64,
    /// Nodes visited.
    pub nodes: u64,
    /// Simplex iterations.
    pub iterations: u64,
}

/// What is known before a search begins.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// Doses of each column of the blend; they need not keep the rules.
    pub formulas: Vec<Vec<Ppt>>,
    /// No formula inside the rules has a loss below this.
    pub bound: f64,
    /// Formulas with a loss of this or more are of no use.
    pub ceiling: Option<f64>,
}

/// What a search is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// The best formula, with its proof.
    Best,
    /// Any formula, or the proof that there is none.
    Any,
}

/// What multipliers prove of a blend's relaxation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Certificate {
    /// No formula has a loss below this; infinite where there is none at all.
    pub bound: f64,
    /// A typical D: the geometric mean of its least and greatest value.
    pub d_ref: f64,
}

/// Searches for the best formula of a blend, or for any. A panic of the search
/// is caught, and its message is the error. `judge` verifies a formula in
/// arithmetic of its own and returns its loss, or `None` when it breaks a
/// rule; `tolerance` is how far a row may be passed before it is asked, as a
/// share of the row's size.
pub fn search(
    blend: &Blend,
    judge: &(dyn Fn(&[Ppt]) -> Option<Judged> + Sync),
    tolerance: f64,
    aim: Aim,
    known: &Known,
    control: &Control,
) -> Result<Outcome, String> {
    quiet::catch(|| match Tree::new(blend, judge, tolerance, control) {
        Err(Empty) => Outcome { found: None, bound: f64::INFINITY, nodes: 0, iterations: 0 },
        Ok(mut tree) => {
            tree.aim = aim;
            tree.run(known);
            Outcome { bound: tree.proven, found: tree.found, nodes: tree.nodes, iterations: tree.scratch.iterations }
        }
    })
}

/// The bound that the relaxation of a blend proves, without searching; no
/// bound at all where the numbers fail.
pub fn certify(blend: &Blend, control: &Control) -> Certificate {
    let certified = quiet::catch(|| match Tree::new(blend, &|_| None, 0.0, control) {
        Err(Empty) => Certificate { bound: f64::INFINITY, d_ref: 1.0 },
        Ok(mut tree) => {
            let worst = tree.worst();
            if let Some(mut root) = Node::root(blend, &tree.relaxation) {
                tree.bound_root(&mut root, worst);
            }
            Certificate { bound: tree.proven, d_ref: tree.relaxation.d_ref }
        }
    });
    certified.unwrap_or_else(|_| {
        let heaviest = blend.columns.iter().map(|column| column.weight).fold(0.0, f64::max);
        Certificate { bound: 0.0, d_ref: if heaviest > 0.0 { 1000.0 * heaviest } else { 1.0 } }
    })
}

/// The state of a search.
pub(super) struct Tree<'a> {
    pub(super) blend: &'a Blend,
    pub(super) judge: &'a (dyn Fn(&[Ppt]) -> Option<Judged> + Sync),
    pub(super) tolerance: f64,
    pub(super) control: &'a Control,
    pub(super) by_column: Vec<Vec<(usize, f64)>>,
    pub(super) grid: Grid,
    pub(super) pseudo_costs: PseudoCosts,
    pub(super) relaxation: Relaxation,
    pub(super) scratch: Scratch,
    pub(super) bound: SafeBound,
    pub(super) found: Option<Found>,
    pub(super) best_loss: f64,
    /// The present tree holds the formulas with a loss below this.
    pub(super) limit: f64,
    /// Proven lower bound on the loss of every formula.
    pub(super) proven: f64,
    pub(super) nodes: u64,
    pub(super) roundings: u64,
    /// Price of the incumbent while another tree holds it.
    pub(super) present_price: Option<f64>,
    /// Stop after this node, whatever the control allows.
    pub(super) last_node: Option<u64>,
    /// Whether any formula ends the search.
    pub(super) aim: Aim,
    /// Whether `best_loss` is the loss of a formula, or one that a formula has
    /// to beat to be of use.
    pub(super) has_ceiling: bool,
}

/// How a tree ended.
pub(super) enum Ending {
    /// Every node is closed.
    Closed,
    /// Stopped early; no formula has a loss below this.
    Stopped(f64),
}

impl<'a> Tree<'a> {
    pub(super) fn new(
        blend: &'a Blend,
        judge: &'a (dyn Fn(&[Ppt]) -> Option<Judged> + Sync),
        tolerance: f64,
        control: &'a Control,
    ) -> Result<Tree<'a>, Empty> {
        if blend.contradiction.is_some() {
            return Err(Empty);
        }
        let mut scratch = Scratch::default();
        let relaxation = Relaxation::new(blend, &mut scratch)?;
        Ok(Tree::over(blend, relaxation, judge, tolerance, control))
    }

    /// A search over a relaxation that is there already.
    pub(super) fn over(
        blend: &'a Blend,
        relaxation: Relaxation,
        judge: &'a (dyn Fn(&[Ppt]) -> Option<Judged> + Sync),
        tolerance: f64,
        control: &'a Control,
    ) -> Tree<'a> {
        Tree {
            blend,
            judge,
            tolerance,
            control,
            by_column: rows_by_column(blend),
            grid: Grid::new(blend),
            pseudo_costs: PseudoCosts::new(relaxation.n),
            relaxation,
            scratch: Scratch::default(),
            bound: SafeBound::default(),
            found: None,
            best_loss: f64::INFINITY,
            limit: f64::INFINITY,
            proven: 0.0,
            nodes: 0,
            roundings: 0,
            present_price: None,
            last_node: None,
            aim: Aim::Best,
            has_ceiling: false,
        }
    }

    /// Another one over the same blend that knows nothing yet.
    pub(super) fn twin<'b>(&self, control: &'b Control) -> Tree<'b>
    where
        'a: 'b,
    {
        Tree { aim: self.aim, ..Tree::over(self.blend, self.relaxation.clone(), self.judge, self.tolerance, control) }
    }
}

impl Tree<'_> {
    pub(super) fn iteration_limit(&self) -> usize {
        1000 + 30 * self.relaxation.lp.rows
    }

    /// The loss that a better formula must stay below, as the relaxation sees
    /// it: what ties with the incumbent is not looked for.
    pub(super) fn cut(&self) -> f64 {
        if self.limit < self.best_loss { self.limit } else { self.best_loss - MARGIN * self.best_loss.max(1.0) }
    }

    /// Whether a better formula has lowered the cut by enough for a node to be
    /// bounded again. On a fine grid there can be a million formulas, each
    /// better than the one before by the last digits.
    pub(super) fn has_fallen(&self, before: f64) -> bool {
        before - self.cut() > TIE * before.abs().max(1.0) || before.is_infinite() && self.cut().is_finite()
    }

    /// Whether nodes or time are used up.
    pub(super) fn is_over(&self) -> bool {
        let past = |most: Option<u64>| most.is_some_and(|most| self.nodes >= most);
        past(self.control.node_limit) || past(self.last_node) || self.is_satisfied() || self.control.should_stop()
    }

    /// Whether any formula was asked for, and there is one.
    fn is_satisfied(&self) -> bool {
        self.aim == Aim::Any && self.found.is_some()
    }

    pub(super) fn is_proven(&self) -> bool {
        self.has_ceiling() && self.best_loss - self.proven <= MARGIN * 1.5 * self.best_loss.max(1.0)
    }

    /// Whether the loss that is to be beaten is known.
    fn has_ceiling(&self) -> bool {
        self.has_ceiling || self.found.is_some()
    }

    /// Greatest loss that any blend can have, a little more.
    fn worst(&self) -> f64 {
        let worst = |(index, target): (usize, &crate::problem::Target)| {
            let scores = self.blend.columns.iter().filter(|column| column.weight > 0.0).map(|column| {
                column.odours.iter().find(|(at, _)| *at == index).map_or(0.0, |(_, odour)| odour / column.weight)
            });
            let greatest = scores.fold(0.0, f64::max);
            target.weight * ((greatest - target.score) * target.excess).max(target.score)
        };
        self.blend.targets.iter().enumerate().map(worst).sum::<f64>() * 1.01 + 1e-3
    }

    fn run(&mut self, known: &Known) {
        let worst = self.worst();
        let Some(mut root) = Node::root(self.blend, &self.relaxation) else { return };
        if !self.bound_root(&mut root, worst) {
            return;
        }
        if let Some(ceiling) = known.ceiling.filter(|&ceiling| ceiling < worst) {
            (self.best_loss, self.has_ceiling) = (ceiling, true);
        }
        self.proven = self.proven.max(known.bound);
        known.formulas.iter().for_each(|doses| self.offer(doses.clone()));
        self.tell();
        // Below a ceiling there is most often nothing: no time for good formulas
        // early, nor for targets on the way.
        let doubtful = self.has_ceiling && self.found.is_none();
        if !doubtful && !self.is_proven() && !self.is_satisfied() {
            if self.found.is_none() {
                self.dive(&root, Order::MassAndOdour);
            }
            if !self.is_satisfied() {
                self.dive(&root, Order::Odour);
            }
        }
        let mut share = 0.25;
        let mut improved = doubtful;
        while !self.is_proven() && !self.is_over() {
            let ceiling = if self.has_ceiling() { self.best_loss } else { worst };
            let mut target = self.proven + share * (ceiling - self.proven);
            if self.aim == Aim::Any || doubtful && self.found.is_none() {
                target = worst;
            } else if !self.has_ceiling() && self.proven > 0.0 {
                // Nothing is known of the ceiling yet: feel the way up.
                target = target.min(self.proven * (1.0 + share) + 1e-3 * worst);
            }
            if ceiling - target <= 0.02 * ceiling {
                target = if self.has_ceiling() { f64::INFINITY } else { worst };
            }
            self.limit = target.min(self.best_loss);
            self.last_node = (!improved).then_some(self.nodes + IMPROVE_AFTER);
            let ending = self.explore(&root);
            self.last_node = None;
            match ending {
                Ending::Closed => {
                    let closed = if self.limit < self.best_loss { self.limit } else { self.cut() };
                    self.proven = self.proven.max(closed);
                    if !self.has_ceiling() && target >= worst {
                        self.proven = f64::INFINITY;
                        return;
                    }
                }
                Ending::Stopped(bound) => {
                    self.proven = self.proven.max(bound.min(self.best_loss));
                    if !improved && !self.is_over() {
                        self.improve(&root);
                        improved = true;
                        continue;
                    }
                    return;
                }
            }
            share = (share + 0.15).min(0.8);
        }
    }

    /// The least loss of the root's relaxation, certified. False when there
    /// is no formula at all.
    fn bound_root(&mut self, root: &mut Node, worst: f64) -> bool {
        if !self.grid.complete(root) || !root.close_count(&self.relaxation) {
            self.proven = f64::INFINITY;
            return false;
        }
        root.settle(&self.relaxation, &mut self.scratch);
        let mut lambda = worst;
        for _ in 0..60 {
            self.relaxation.set_lambda(lambda);
            root.state.price(&self.relaxation.lp, &mut self.scratch);
            match root.state.run(&self.relaxation.lp, f64::INFINITY, self.iteration_limit(), &mut self.scratch) {
                Ended::Optimal => {}
                Ended::Infeasible(row)
                    if self.relaxation.lp.proves_infeasible(root.state.inverse_row(row), root.state.boxes()) =>
                {
                    self.proven = f64::INFINITY;
                    return false;
                }
                _ => break,
            }
            let ratio = self.relaxation.ratio(&root.state).max(0.0);
            if ratio >= lambda - 1e-11 * lambda.max(1.0) {
                break;
            }
            lambda = ratio;
        }
        // A hair below, so that rounding does not spoil the proof.
        for hair in [1e-10, 1e-8, 1e-7] {
            let certain = lambda - hair * lambda.max(1.0);
            if certain <= 0.0 {
                break;
            }
            self.relaxation.set_lambda(certain);
            root.state.price(&self.relaxation.lp, &mut self.scratch);
            root.state.run(&self.relaxation.lp, f64::INFINITY, self.iteration_limit(), &mut self.scratch);
            let floor = self.safe_floor(root);
            if floor >= 0.0 {
                self.proven = certain;
                break;
            }
            self.proven = self.proven.max(self.loss_floor(certain, floor, root.span.0));
        }
        true
    }

    /// The safe bound of a node's relaxation, kept in `self.bound`.
    pub(super) fn safe_floor(&mut self, node: &mut Node) -> f64 {
        let state = &node.state;
        self.relaxation.lp.safe_bound(&state.multipliers, state.boxes(), &mut self.bound);
        node.floor = (self.bound.value, self.relaxation.lambda());
        self.bound.value
    }

    /// A lower bound on the loss from `min(N - lambda D) >= floor`: where it
    /// is negative, the loss is at least `lambda + floor / D_min`.
    pub(super) fn loss_floor(&self, lambda: f64, floor: f64, d_least: f64) -> f64 {
        if floor >= 0.0 { lambda } else { (lambda + floor / d_least).max(0.0) }
    }

    pub(super) fn tell(&self) {
        let incumbent_loss = self.found.as_ref().map(|found| found.judged.loss);
        self.control.tell(Progress { incumbent_loss, bound: self.proven, nodes: self.nodes });
    }
}
