//! What any continuous formula reaches by the clock of its own film: branch and bound over
//! boxes of clocks. In each box [`Blend::of_clocks`] is a model without a clock, whose best
//! point bounds every formula with clocks in the box; boxes are split where what the point
//! takes for left is furthest from what its own film leaves.

use super::own_film::by_its_own;
use super::{Answer, direct, quiet, search};
use crate::control::Control;
use crate::formula::Formula;
use crate::model::{Blend, ClockBox};
use crate::portable::Portable;
use crate::problem::stage::LASTS;
use crate::problem::{Paper, Problem};
use crate::tolerance::clocks::{BOXES, CLOSED, THINNEST};
use crate::tolerance::doses::BORROWED;
use crate::units::Ppt;

/// What a search over boxes came to.
#[derive(Clone, Debug)]
pub struct Boxed {
    /// The best formula by the clocks of its own film.
    pub best: Option<Answer>,
    /// No formula loses less by the clocks of its own film; infinite where none keeps the
    /// rules.
    pub bound: f64,
    /// Models that were solved.
    pub nodes: u64,
}

/// A box that may hold a better formula.
struct Node {
    within: ClockBox,
    bound: f64,
    /// Where to split it: a stage and its clock.
    split: Option<(usize, f64)>,
}

/// Bounds a continuous problem with stages, beginning with a formula that is known, until
/// bound and formula are as near as [`CLOSED`] says.
pub fn search(relaxed: &Problem, known: Option<&Answer>, control: &Control) -> Boxed {
    let mut found = Boxed { best: known.cloned(), bound: 0.0, nodes: 0 };
    let Some(paper) = &relaxed.paper else { return found };
    let Some(whole) = all_clocks(relaxed, paper) else { return Boxed { bound: f64::INFINITY, ..found } };
    let mut open = Vec::new();
    open.extend(look(relaxed, whole, 0.0, &mut found));
    loop {
        // The least bound first: what it closes at holds for all.
        let least = (0..open.len()).min_by(|&a: &usize, &b: &usize| open[a].bound.total_cmp(&open[b].bound));
        let ceiling = found.best.as_ref().map_or(f64::INFINITY, |best| best.evaluation.loss);
        let Some(least) = least else {
            found.bound = ceiling;
            return found;
        };
        if open[least].bound >= (1.0 - CLOSED) * ceiling || found.nodes >= BOXES || control.should_stop() {
            found.bound = open[least].bound.min(ceiling);
            return found;
        }
        let Node { within, bound, split } = open.swap_remove(least);
        let Some((stage, at)) = split else {
            // Too thin to be split: what it bounds stays.
            found.bound = bound;
            return found;
        };
        for is_upper in [false, true] {
            let mut half = within.clone();
            if is_upper {
                half.low[stage] = at
            } else {
                half.high[stage] = at
            }
            open.extend(look(relaxed, half, bound, &mut found));
        }
    }
}

/// Bounds a box; `None` where no formula has its clocks there.
fn look(relaxed: &Problem, within: ClockBox, parent: f64, found: &mut Boxed) -> Option<Node> {
    found.nodes += 1;
    let optimum = Blend::of_clocks(relaxed, &within).and_then(|blend| {
        let optimum = quiet::catch(|| search::continuous_optimum(&blend, relaxed.worst_loss())).ok()??;
        Some((blend, optimum))
    });
    let Some((blend, optimum)) = optimum else {
        // Rounding has taken over: the box is as good as its parent.
        let split = middle(&within);
        return Some(Node { within, bound: parent, split });
    };
    if optimum.bound.is_infinite() {
        return None;
    }
    let mut ppt = vec![0.0; relaxed.palette.materials.len()];
    blend.columns.iter().zip(&optimum.ppt).for_each(|(column, dose)| ppt[column.material] += dose);
    let clocks = offer(relaxed, &ppt, found);
    let split = clocks.as_ref().and_then(|clocks| furthest(relaxed, &blend, &optimum.ppt, &within, clocks));
    let split = split.or_else(|| middle(&within));
    Some(Node { within, bound: optimum.bound.max(parent), split })
}

/// Keeps the formula of a point, or the best by its clocks, where one is better than what is
/// known; the clocks of its film.
fn offer(relaxed: &Problem, ppt: &[f64], found: &mut Boxed) -> Option<Vec<f64>> {
    let formula = whole(relaxed, ppt)?;
    let clocks = relaxed.clocks_of(&formula);
    if clocks.iter().any(|clock| clock.is_infinite()) {
        return None;
    }
    let ceiling = |found: &Boxed| found.best.as_ref().map_or(f64::INFINITY, |best| best.evaluation.loss);
    let mut offered = vec![by_its_own(relaxed, &formula)];
    // What is best by its clocks is often better still.
    let near = crate::evaluate::evaluate(&relaxed.with_clocks(&clocks), &formula).ok()?;
    if near.loss < 1.1 * ceiling(found) {
        let best = direct::best(&relaxed.with_clocks(&clocks), &Control::default()).ok();
        offered.push(best.and_then(|it| by_its_own(relaxed, &it.answer?.formula)));
    }
    for answer in offered.into_iter().flatten() {
        if answer.evaluation.loss < ceiling(found) {
            found.best = Some(answer);
        }
    }
    Some(clocks)
}

/// The formula of doses in ppt, which add up to 1000 but for rounding.
fn whole(relaxed: &Problem, ppt: &[f64]) -> Option<Formula> {
    let mut doses: Vec<Ppt> =
        ppt.iter().map(|&dose| if dose > BORROWED { Ppt::from_ppt(dose) } else { Ppt::ZERO }).collect();
    let rest = Ppt::WHOLE - doses.iter().copied().sum();
    let largest = (0..doses.len()).max_by_key(|&at| doses[at])?;
    doses[largest] = doses[largest] + rest;
    (doses[largest] > Ppt::ZERO).then(|| Formula::from_doses(relaxed.basis, &doses))
}

/// The stage at which a point takes most for left that its own film does not leave, or the
/// other way round, and where to split its clock.
fn furthest(relaxed: &Problem, blend: &Blend, ppt: &[f64], within: &ClockBox, clocks: &[f64]) -> Option<(usize, f64)> {
    let paper = relaxed.paper.as_ref()?;
    let corners = within.corners();
    let count = blend.columns.len() / corners.len();
    let off = |stage: usize| -> f64 {
        let (mut taken, mut whole) = (vec![0.0; relaxed.palette.materials.len()], 0.0);
        for (k, column) in blend.columns.iter().enumerate().filter(|(k, _)| ppt[*k] > 0.0) {
            let corner = within.corner(corners[k / count]);
            for &(material, part) in &relaxed.columns[column.material].neat {
                let strength = part * ppt[k] * relaxed.material(material).strength;
                let own = paper.left_at(clocks[stage], material);
                taken[material] += strength * (paper.left_at(corner[stage], material) - own);
                whole += strength * own;
            }
        }
        taken.iter().map(|it: &f64| it.abs()).sum::<f64>() / whole.max(f64::MIN_POSITIVE)
    };
    let stages = (0..clocks.len()).filter(|&stage| is_wide(within, stage));
    let (stage, _) = stages.map(|stage| (stage, off(stage))).max_by(|a, b| a.1.total_cmp(&b.1))?;
    let (low, high) = (within.low[stage], within.high[stage]);
    // Not too near an end, or nothing is split off.
    let margin = 0.15 * (high - low);
    Some((stage, clocks[stage].clamp(low + margin, high - margin)))
}

fn is_wide(within: &ClockBox, stage: usize) -> bool {
    within.high[stage] - within.low[stage] > THINNEST * within.high[stage]
}

/// The widest stage, in the middle.
fn middle(within: &ClockBox) -> Option<(usize, f64)> {
    let width = |stage: &usize| (within.high[*stage] - within.low[*stage]) / within.high[*stage];
    let wide = (0..within.low.len()).filter(|&stage| is_wide(within, stage));
    let stage = wide.max_by(|a, b| width(a).total_cmp(&width(b)))?;
    Some((stage, within.low[stage].midpoint(within.high[stage])))
}

/// Between which clocks those of every film lie that lasts a tenth longer than the last
/// stage; `None` where no material lasts so long.
///
/// At a stage the hours that have gone by are a mean of what each material alone would have
/// taken until that clock, so that no clock is below that of the slowest there. And of the
/// hours that the film lasts at least so much has gone by as of its slowest material, in
/// spans of the clock.
fn all_clocks(relaxed: &Problem, paper: &Paper) -> Option<ClockBox> {
    let domains = relaxed.domains();
    let usable = relaxed.columns.iter().zip(&domains).filter(|(_, domain)| domain.is_ok());
    let materials: Vec<usize> =
        usable.flat_map(|(column, _)| column.neat.iter().map(|&(material, _)| material)).collect();
    let last = paper.stages.last()?.hours * LASTS;
    let longest = materials.iter().map(|&at| paper.life_hours(at)).fold(0.0, f64::max);
    if longest < last {
        return None;
    }
    let span = |at: &usize| paper.tenacities[*at].hours * paper.tenacities[*at].molar_mass;
    let slowest = materials.iter().map(span).fold(0.0, f64::max);
    let (mut low, mut high) = (Vec::new(), Vec::new());
    for stage in paper.stages.iter() {
        let by = |at: usize| paper.life_hours(at);
        // Alone a material has the clock at which its own hours are gone by.
        let alone =
            |&at: &usize| (by(at) > stage.hours).then(|| -span(&at) * (-stage.hours / by(at)).logarithm_of_one_more());
        low.push(materials.iter().filter_map(alone).fold(f64::INFINITY, f64::min).min(f64::MAX) * (1.0 - 1e-9));
        let part = stage.hours / last.max(stage.hours * LASTS).max(f64::MIN_POSITIVE);
        high.push(-slowest * (-part).logarithm_of_one_more() * (1.0 + 1e-9));
    }
    let high: Vec<f64> = high.into_iter().zip(&low).map(|(high, low)| high.max(*low)).collect();
    Some(ClockBox { low, high })
}
