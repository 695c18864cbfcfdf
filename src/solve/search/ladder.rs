//! A rule on idle weight holds rung by rung ([`crate::model::ladder`]): a branch
//! and bound over the rungs, on top of the search. A part of the ladder is bounded
//! by the relaxation with the rows of that part; the part with the least bound is
//! next, and it is split where the relaxation's point breaks the rule, so that
//! neither half holds the point. A part of one rung is a blend of linear rows, and
//! is searched like any other, with the best loss so far as its ceiling. As long as no
//! formula is known a rung gets a few nodes only, and more when its turn comes again:
//! the rung of the least bound may hold none and be slow to say so.

use super::outcome::{Aim, Found, Judge, Known, Outcome};
use super::root::root_point;
use super::targets::search_rows;
use crate::control::{Control, Progress};
use crate::model::{Blend, Ladder};
use crate::tolerance::loss::CUTOFF_MARGIN;
use std::sync::Arc;

/// Nodes that a rung gets at first while no formula is known; each turn doubles them.
const FIRST_NODES: u64 = 400;

/// One rung to be solved.
#[derive(Clone, Copy)]
pub struct Rung<'a> {
    /// A blend of linear rows.
    pub blend: &'a Blend,
    /// The loss to beat, if there is one.
    pub to_beat: Option<f64>,
    /// A bound that is known.
    pub bound: f64,
    /// What is left of time and nodes.
    pub control: &'a Control,
}

/// What one rung came to.
#[derive(Clone, Debug)]
pub struct Leaf<T> {
    /// No formula of the rung has a loss below this; infinite where there is none.
    pub bound: f64,
    /// The best one, with its loss.
    pub found: Option<(f64, T)>,
    /// Nodes visited.
    pub nodes: u64,
    /// Simplex iterations.
    pub iterations: u64,
}

/// What all rungs together came to.
#[derive(Clone, Debug)]
pub struct Union<T> {
    /// No formula has a loss below this; infinite where there is none.
    pub bound: f64,
    /// The best one, with its loss.
    pub found: Option<(f64, T)>,
    /// Nodes visited.
    pub nodes: u64,
    /// Simplex iterations.
    pub iterations: u64,
}

/// A part of the ladder that is still open.
struct Part {
    rungs: (usize, usize),
    /// No formula of it has a loss below this.
    bound: f64,
    /// Where it is split; `None` where it is one rung.
    split: Option<usize>,
    /// How often it was searched without being settled.
    turns: u32,
}

impl Part {
    fn new(blend: &Blend, ladder: &Ladder, rungs: (usize, usize), bound: f64, control: &Control) -> Part {
        let point = root_point(&blend.on_rungs(rungs), control);
        let bound = point.bound.max(bound);
        let (lo, hi) = rungs;
        let split = (lo < hi).then(|| ladder.split(rungs, point.ppt.as_deref()));
        Part { rungs, bound, split, turns: 0 }
    }
}

/// The best of a blend with a ladder: `leaf` solves one rung, and is asked as long
/// as one may still be better. `known` is a loss to beat; where
/// `any` is enough, the first formula ends it.
///
/// # Errors
/// Those of `leaf`.
pub fn over_rungs<T, E>(
    blend: &Blend,
    ladder: &Ladder,
    known: Option<f64>,
    any: bool,
    control: &Control,
    leaf: &mut dyn FnMut(Rung<'_>) -> Result<Leaf<T>, E>,
) -> Result<Union<T>, E> {
    let mut union = Union { bound: f64::INFINITY, found: None, nodes: 0, iterations: 0 };
    let mut open = vec![Part::new(blend, ladder, (0, ladder.top()), 0.0, control)];
    loop {
        let to_beat = union.found.as_ref().map(|(loss, _)| *loss).into_iter().chain(known).reduce(f64::min);
        // The least bound first; of equals the lowest rungs. Without a formula those first
        // that had the fewest turns.
        let turns = |part: &Part| if to_beat.is_none() { part.turns } else { 0 };
        let order =
            |a: &Part, b: &Part| turns(a).cmp(&turns(b)).then(a.bound.total_cmp(&b.bound)).then(a.rungs.cmp(&b.rungs));
        let Some(next) = (0..open.len()).min_by(|&a, &b| order(&open[a], &open[b])) else { break };
        let part = open.swap_remove(next);
        if part.bound.is_infinite() {
            // It holds no formula.
            continue;
        }
        let is_beaten = to_beat.is_some_and(|loss| part.bound >= loss - CUTOFF_MARGIN * loss.max(1.0));
        let is_used_up = control.node_limit.is_some_and(|most| union.nodes >= most) || control.should_stop();
        if is_beaten || is_used_up || any && union.found.is_some() {
            // What else is open has a bound of its own.
            union.bound = open.iter().map(|part| part.bound).fold(union.bound.min(part.bound), f64::min);
            break;
        }
        let (lo, hi) = part.rungs;
        if let Some(at) = part.split {
            union.nodes += 2;
            open.extend([(lo, at), (at + 1, hi)].map(|rungs| Part::new(blend, ladder, rungs, part.bound, control)));
            continue;
        }
        let others = open.iter().map(|part| part.bound).fold(union.bound, f64::min);
        let mut within = within(control, union.nodes, others, union.found.as_ref().map(|(loss, _)| *loss));
        let left = within.node_limit.unwrap_or(u64::MAX);
        let turn = FIRST_NODES.saturating_mul(1 << part.turns.min(40)).min(left);
        let is_turn = to_beat.is_none() && turn < left;
        if is_turn {
            within.node_limit = Some(turn);
        }
        let rung = Rung { blend: &blend.on_rungs(part.rungs), to_beat, bound: part.bound, control: &within };
        let solved = leaf(rung)?;
        union.nodes += solved.nodes;
        union.iterations += solved.iterations;
        let bound = solved.bound.max(part.bound);
        // Ended by its turn alone: it stays open.
        if is_turn && solved.nodes >= turn && bound.is_finite() {
            open.push(Part { bound, turns: part.turns + 1, ..part });
        } else {
            union.bound = union.bound.min(bound);
        }
        if let Some((loss, found)) = solved.found
            && union.found.as_ref().is_none_or(|(best, _)| loss < *best)
        {
            union.found = Some((loss, found));
        }
    }
    Ok(union)
}

/// What one rung is told: the nodes that are left, and to tell what is known of
/// all of them.
fn within(control: &Control, nodes: u64, others: f64, incumbent: Option<f64>) -> Control {
    let node_limit = control.node_limit.map(|most| most.saturating_sub(nodes));
    let progress = control.progress.clone().map(|listener| {
        let told = move |progress: Progress| {
            let loss = progress.incumbent_loss.into_iter().chain(incumbent).reduce(f64::min);
            listener(Progress {
                incumbent_loss: loss,
                bound: progress.bound.min(others),
                nodes: progress.nodes + nodes,
            });
        };
        Arc::new(told) as Arc<dyn Fn(Progress) + Send + Sync>
    });
    Control { node_limit, progress, ..control.clone() }
}

/// Searches for the best formula of a blend, or for any; rung by rung where it has
/// a ladder. A panic of the search is caught, and its message is the error.
/// `judge` verifies a formula in arithmetic of its own and returns its loss, or
/// `None` when it breaks a rule; `tolerance` is how far a row may be passed before
/// it is asked, as a share of the row's size.
///
/// # Errors
/// When the search panics.
pub fn search(
    blend: &Blend,
    judge: &Judge,
    tolerance: f64,
    aim: Aim,
    known: &Known,
    control: &Control,
) -> Result<Outcome, String> {
    let Some(ladder) = &blend.ladder else { return search_rows(blend, judge, tolerance, aim, known, control) };
    // What is known may stand on any rung: the best of it is the loss to beat.
    let judged = known.formulas.iter().filter_map(|doses| Some(Found { doses: doses.clone(), judged: judge(doses)? }));
    let of_use = judged.filter(|found| known.ceiling.is_none_or(|ceiling| found.judged.loss < ceiling));
    let first = of_use.min_by(|a, b| a.judged.loss.total_cmp(&b.judged.loss));
    let to_beat = first.as_ref().map(|found| found.judged.loss).or(known.ceiling);
    let is_enough = aim == Aim::Any && first.is_some();
    let mut leaf = |rung: Rung<'_>| {
        let known = Known { formulas: Vec::new(), bound: rung.bound.max(known.bound), ceiling: rung.to_beat };
        let outcome = search_rows(rung.blend, judge, tolerance, aim, &known, rung.control)?;
        let Outcome { found, bound, nodes, iterations } = outcome;
        Ok::<_, String>(Leaf { bound, found: found.map(|found| (found.judged.loss, found)), nodes, iterations })
    };
    let union = match is_enough {
        true => Union { bound: known.bound, found: None, nodes: 0, iterations: 0 },
        false => over_rungs(blend, ladder, to_beat, aim == Aim::Any, control, &mut leaf)?,
    };
    let found = union.found.map(|(_, found)| found).or(first);
    Ok(Outcome { found, bound: union.bound.max(known.bound), nodes: union.nodes, iterations: union.iterations })
}
