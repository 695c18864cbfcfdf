//! The nearest formula where a view follows the compressive law: a branch and bound of
//! its own over any mixture of linear and compressive views, of which the worst
//! counts.
//!
//! Under the compressive law a view's shares go with `z_i = (s_i x_i)^g`, `g` =
//! [`crate::evaluate::SECOND_EXPONENT`]. In `z` the loss is a ratio as ever, and so are
//! the rules on use; what bends is the sum of 1000 parts and every rule on parts. So a
//! material's doses are columns `(v, v^g)` of a linear programme (`relaxation`), found as
//! they are asked for. Splits decide on use and then on spans of doses (`branch`); within
//! a span the curve lies between its chord and its tangents, and nearer to both the
//! shorter the span.
//!
//! A part of the tree is closed by multipliers alone (`bound`): with any of them each
//! material's least worth over its doses is known in closed form (`curve`), on the grid
//! of its doses, and rounding is deducted. Loss and rules of a formula are judged outside.
//! Formulas come from rounding the relaxation's points and from exchanges (`descend`),
//! and the first from the exact search by the linear law, which also proves that there is
//! none: the rules know no law.
//!
//! One thread, no chance: the same bytes everywhere.

mod bound;
mod branch;
mod curve;
mod descend;
mod model;
mod node;
mod probe;
mod relaxation;
mod tree;
mod weighed;

use super::search::{Aim, Judge, Known, Outcome, search};
use super::search::{Found, Judged};
use crate::control::Control;
use crate::model::Blend;
use crate::problem::Problem;
use crate::tolerance::loss::{CUTOFF_MARGIN, PROVEN};
use model::Model;
use node::Node;
use probe::PROBES;
use relaxation::Relaxation;
use tree::{Explored, Search};

/// Nodes that the search by the linear law may take for a first formula.
const LINEAR_NODES: u64 = 3000;
/// What part of the time it may take.
const LINEAR_SHARE: f64 = 0.2;
/// The next target lies this part of the way from the bound to the best formula; each
/// tree that holds nothing raises it.
const FIRST_PART: f64 = 0.4;
/// A target within this share of the best formula is the formula itself.
const LAST: f64 = 0.02;
/// Steps of Dinkelbach's method at the root.
const STEPS: usize = 30;
/// So far below the root's loss its bound is tried, as shares of max(1, loss).
const HAIRS: [f64; 4] = [1e-9, 1e-7, 1e-5, 1e-3];

/// Finds the formula of a blend whose worst view is nearest. `linear` is the same blend
/// judged by the linear law alone.
///
/// # Errors
/// In words, where the problem cannot be stated, or the search failed.
pub fn curved(
    problem: &Problem,
    blend: &Blend,
    judge: &Judge,
    tolerance: f64,
    known: &Known,
    control: &Control,
) -> Result<Outcome, String> {
    let model = Model::new(problem, blend)?;
    let mut search = Search::new(&model, judge, tolerance, control);
    search.bound = known.bound;
    search.to_beat = known.ceiling.unwrap_or(f64::INFINITY);
    known.formulas.iter().for_each(|doses| {
        search.consider(doses);
    });
    let ended = |search: &Search, bound: f64| Outcome {
        found: search.best.as_ref().map(|best| Found { doses: best.doses.clone(), judged: best.judged }),
        bound,
        nodes: search.nodes,
        iterations: search.scratch.iterations,
    };
    if search.best.is_none() {
        let first = first_formula(blend, judge, tolerance, control)?;
        search.nodes += first.nodes;
        match first.found {
            Some(found) => {
                search.consider(&found.doses);
                search.improve_doses(&found.doses, true);
            }
            None if first.bound.is_infinite() => return Ok(ended(&search, f64::INFINITY)),
            None => {}
        }
    }
    for doses in known.formulas.iter().chain(search.best.clone().iter().map(|best| &best.doses)) {
        search.improve_doses(doses, true);
    }
    let worst = model.views.iter().map(worst_of).fold(0.0, f64::max);
    if search.to_beat.is_infinite() {
        search.to_beat = worst * 1.001 + 1.0;
    }
    search.prove();
    // Nothing is known to beat but a loss that no formula passes: below it there is none.
    let is_empty = search.best.is_none() && known.ceiling.is_none() && search.bound >= worst;
    let bound = if is_empty { f64::INFINITY } else { search.bound.min(search.to_beat) };
    Ok(ended(&search, bound))
}

/// The best formula by the linear law, or the proof that there is none.
fn first_formula(blend: &Blend, judge: &Judge, tolerance: f64, control: &Control) -> Result<Outcome, String> {
    let control = Control { node_limit: Some(LINEAR_NODES), ..control.with_share(LINEAR_SHARE).untold() };
    // What it judges is its own objective: the loss by the linear law.
    let linear = |doses: &[crate::units::Ppt]| {
        let judged = judge(doses)?;
        Some(Judged { loss: linear_loss(blend, doses), ..judged })
    };
    search(blend, &linear, tolerance, Aim::Best, &Known::default(), &control)
}

/// The loss that the blend's own columns give.
fn linear_loss(blend: &Blend, doses: &[crate::units::Ppt]) -> f64 {
    let mut odours = vec![0.0; blend.targets.len()];
    let mut d = 0.0;
    for (column, dose) in blend.columns.iter().zip(doses) {
        d += column.weight * dose.as_f64();
        column.odours.iter().for_each(|&(target, odour)| odours[target] += odour * dose.as_f64());
    }
    if d <= 0.0 {
        return f64::INFINITY;
    }
    blend.targets.iter().zip(odours).map(|(target, odour)| target.gap(odour / d)).sum()
}

/// A loss in compared points that no formula passes.
fn worst_of(view: &model::Seen) -> f64 {
    let greatest = |index: usize| {
        let score = |adds: &model::Adds| {
            let odour = adds.odours.iter().find(|(at, _)| *at == index).map_or(0.0, |(_, odour)| *odour);
            if adds.weight > 0.0 { odour / adds.weight } else { 0.0 }
        };
        view.columns.iter().map(score).fold(0.0, f64::max)
    };
    let gaps = view.targets.iter().enumerate().map(|(index, target)| target.gap(greatest(index)).max(target.gap(0.0)));
    view.scale * gaps.sum::<f64>()
}

impl<'m, 'a> Search<'m, 'a> {
    /// Whether the best formula is proven, or none is below the loss to beat.
    fn is_proven(&self) -> bool {
        self.to_beat - self.bound <= PROVEN * self.to_beat.max(1.0)
    }

    /// A programme for a loss to beat, with the doses of the one before.
    fn relaxation(&self, lambda: f64, before: Option<&Relaxation>) -> Relaxation<'m, 'a> {
        let typical: Vec<f64> = (self.model.views.iter())
            .map(|view| {
                let of = |doses: &Vec<crate::units::Ppt>| -> f64 {
                    let each =
                        view.columns.iter().zip(doses).map(|(adds, dose)| adds.weight * view.counts(dose.as_f64()));
                    each.sum()
                };
                let greatest = view.greatest(|k| view.columns[k].weight, &self.model.spans);
                self.best.as_ref().map(|best| of(&best.doses)).filter(|d| *d > 0.0).unwrap_or(greatest / 4.0)
            })
            .collect();
        let mut relaxation = Relaxation::new(self.model, lambda, &typical);
        for point in before.iter().flat_map(|before| &before.points).take(MOST_KEPT) {
            relaxation.point(point.k, point.dose);
        }
        relaxation
    }

    /// Raises the bound until the best formula is proven, or time is up.
    fn prove(&mut self) {
        let mut relaxation = self.relaxation(self.cutoff(), None);
        let Some(mut root) = Node::root(self.model, &mut relaxation) else {
            self.bound = f64::INFINITY;
            return;
        };
        let Some(floor) = self.root_floor(&mut relaxation, &mut root) else { return };
        for hair in HAIRS {
            if self.is_proven() || self.is_over() {
                return;
            }
            let target = floor - hair * floor.max(1.0);
            if target <= self.bound {
                break;
            }
            let mut tried = self.relaxation(target, Some(&relaxation));
            let Some(mut root) = Node::root(self.model, &mut tried) else { return };
            if self.bound_root(&mut tried, &mut root).is_none() {
                self.raise(target);
                break;
            }
        }
        let mut part = FIRST_PART;
        while !self.is_proven() && !self.is_over() {
            let target = self.bound + part * (self.to_beat - self.bound);
            let is_last = self.to_beat - target <= LAST * self.to_beat.max(1.0);
            let target = if is_last { self.cutoff() } else { target };
            relaxation = self.relaxation(target, Some(&relaxation));
            let Some(mut root) = Node::root(self.model, &mut relaxation) else { return };
            let is_open =
                self.bound_root(&mut relaxation, &mut root).is_some() && self.probe(&mut relaxation, &mut root, PROBES);
            match if is_open { self.explore(&mut relaxation, &root) } else { Explored::All } {
                Explored::All => {}
                Explored::Better => continue,
                Explored::Over => return,
            }
            let reached = relaxation.lambda;
            if reached < target {
                // A better formula lowered what the tree was for.
                part = FIRST_PART;
            } else {
                part = (part + 1.0) / 2.0;
            }
            self.raise(reached);
        }
    }

    fn raise(&mut self, bound: f64) {
        self.bound = self.bound.max(bound);
        if self.to_beat - self.bound <= CUTOFF_MARGIN * 1.5 * self.to_beat.max(1.0) {
            self.bound = self.bound.max(self.cutoff());
        }
        self.tell();
    }

    /// The least loss of the relaxation, by Dinkelbach's method, with formulas rounded
    /// from its points on the way. `None` where the root was closed at once, and its
    /// loss to beat is proven.
    fn root_floor(&mut self, relaxation: &mut Relaxation<'m, 'a>, root: &mut Node) -> Option<f64> {
        let mut floor = relaxation.lambda;
        for step in 0..STEPS {
            let Some(lower) = self.bound_root(relaxation, root) else {
                if step == 0 {
                    self.raise(relaxation.lambda);
                    return None;
                }
                return Some(floor);
            };
            let reading = branch::Reading::of(root, relaxation);
            self.improve(&reading.as_smelled(), true);
            self.improve(&reading.ppt, true);
            if !lower.is_finite() || lower <= 0.0 || floor - lower <= 1e-9 * floor.max(1.0) || self.is_over() {
                return Some(lower.clamp(0.0, floor));
            }
            floor = lower;
            relaxation.set_lambda(lower);
        }
        Some(floor)
    }
}

/// Doses that one tree takes over from the one before.
const MOST_KEPT: usize = 2000;
