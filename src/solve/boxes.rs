//! What any continuous formula reaches by the clock of its own film: branch and bound over
//! boxes of clocks. In each box [`Drying::within`] is a model without a clock, which holds
//! every formula with clocks in the box.
//!
//! As in the exact search the loss lives in the programme: whether a box holds a formula
//! below a loss is one programme, solved from the basis of the box that it was split from.
//! A box that may is split where what its point takes for left is furthest from what the
//! point's own film leaves. When all are closed the loss is a bound, and the next one lies
//! nearer to the best formula known; what was split stays split.
//!
//! Boxes are looked at a batch at a time, so that the answer is the same for any number of
//! threads.

use std::sync::Arc;

use super::own_film::by_its_own;
use super::search::{Alike, AtLoss, Basis};
use super::{Answer, quiet};
use crate::control::Control;
use crate::formula::Formula;
use crate::model::{AtClock, ClockBox, Drying};
use crate::pool;
use crate::portable::Portable;
use crate::problem::stage::LASTS;
use crate::problem::{Paper, Problem};
use crate::tolerance::clocks::{CLOSED, THINNEST};
use crate::tolerance::doses::BORROWED;
use crate::units::Ppt;

/// Boxes that are looked at before what they found counts for the next ones.
const BATCH: usize = 8;
/// So many boxes are all asked for a formula, then one of each batch.
const EARLY: u64 = 64;
/// The next loss to bound lies this part of the way from the bound to the last one.
const PART: f64 = 0.6;
/// Within this part of the best formula's loss it is the last one.
const LAST: f64 = 0.02;

/// What a search over boxes came to.
#[derive(Clone, Debug)]
pub struct Boxed {
    /// The best formula by the clocks of its own film.
    pub best: Option<Answer>,
    /// No formula loses less by the clocks of its own film; infinite where none keeps the
    /// rules.
    pub bound: f64,
    /// Programmes that were solved.
    pub nodes: u64,
}

/// A part of all clocks.
#[derive(Clone)]
struct Node {
    within: ClockBox,
    /// No formula there loses less.
    bound: f64,
    /// From which its programme goes on.
    basis: Option<Arc<Basis>>,
}

/// What came of a look at a node.
enum Look {
    /// It holds nothing below the loss.
    Closed,
    /// Its halves may; a formula was met.
    Split([ClockBox; 2], Option<Arc<Basis>>, Option<Box<Answer>>),
    /// It cannot be split any further.
    Thin,
}

struct Boxes<'a> {
    relaxed: &'a Problem,
    paper: &'a Paper,
    drying: Drying<'a>,
    alike: Alike,
}

/// Bounds a continuous problem with stages, beginning with a formula that is known, until
/// bound and formula are as near as [`CLOSED`] says, or `most` programmes are solved.
pub fn search(relaxed: &Problem, known: Option<&Answer>, most: u64, control: &Control) -> Boxed {
    let mut found = Boxed { best: known.cloned(), bound: 0.0, nodes: 0 };
    let Some(paper) = &relaxed.paper else { return found };
    let nothing = |found: Boxed| Boxed { bound: f64::INFINITY, ..found };
    let Some((low, high)) = all_clocks(relaxed, paper) else { return nothing(found) };
    let Some(drying) = Drying::new(relaxed, &low) else { return nothing(found) };
    let ends = |clocks: &[f64]| -> Option<Vec<Arc<AtClock>>> {
        clocks.iter().enumerate().map(|(stage, &clock)| drying.at(stage, clock).map(Arc::new)).collect()
    };
    let (Some(low), Some(high)) = (ends(&low), ends(&high)) else { return found };
    let whole = ClockBox { low, high };
    let Ok(alike) = quiet::catch(|| Alike::new(&drying.within(&whole))) else { return found };
    let Some(alike) = alike else { return nothing(found) };
    let boxes = Boxes { relaxed, paper, drying, alike };
    boxes.search(whole, &mut found, most, control);
    found
}

impl Boxes<'_> {
    fn search(&self, whole: ClockBox, found: &mut Boxed, most: u64, control: &Control) {
        let mut parts = vec![Node { within: whole, bound: 0.0, basis: None }];
        loop {
            let loss = found.best.as_ref().map(|best| best.evaluation.loss);
            // No formula loses more: closed at that there is none.
            let last = loss.map_or(self.alike.greatest(), |loss| (1.0 - CLOSED) * loss);
            let least = parts.iter().map(|node| node.bound).fold(f64::INFINITY, f64::min);
            if least >= last {
                found.bound = loss.map_or(f64::INFINITY, |loss| least.min(loss));
                return;
            }
            found.bound = least.min(last);
            let target = least + PART * (last - least);
            let target = if last - target <= LAST * last || loss.is_none() { last } else { target };
            let (mut open, mut closed) = parts.into_iter().partition::<Vec<_>, _>(|node| node.bound < target);
            while !open.is_empty() {
                let beaten = found.best.as_ref().map_or(f64::INFINITY, |best| best.evaluation.loss);
                if target > (1.0 - CLOSED) * beaten {
                    // More is asked than has to be proven by now.
                    break;
                }
                if found.nodes >= most || control.should_stop() {
                    return;
                }
                // The last first: the others would fill the memory.
                let batch = open.split_off(open.len().saturating_sub(BATCH));
                let is_early = found.nodes < EARLY;
                found.nodes += batch.len() as u64;
                let batch: Vec<(usize, Node)> = batch.into_iter().enumerate().collect();
                let looks = pool::in_parallel(&batch, control, |(place, node)| {
                    let meets = is_early || *place == 0;
                    self.look(node, target, meets.then_some(beaten))
                });
                for ((_, node), look) in batch.into_iter().zip(looks) {
                    match look {
                        // Time is up.
                        None => open.push(node),
                        Some(Look::Closed) => closed.push(Node { bound: target, basis: None, ..node }),
                        Some(Look::Thin) => return,
                        Some(Look::Split(halves, basis, met)) => {
                            let bound = node.bound;
                            let half = |within| Node { within, bound, basis: basis.clone() };
                            open.extend(halves.map(half));
                            offer(found, met.map(|met| *met));
                        }
                    }
                }
            }
            closed.append(&mut open);
            parts = closed;
        }
    }

    /// Closes a node at a loss, or splits it.
    fn look(&self, node: &Node, target: f64, beaten: Option<f64>) -> Look {
        let looked = quiet::catch(|| {
            let blend = self.drying.within(&node.within);
            self.alike.at_loss(&blend, target, node.basis.as_deref())
        });
        let (split, basis, met) = match looked {
            Ok(AtLoss::Closed) => return Look::Closed,
            Ok(AtLoss::Open { ppt, basis }) => {
                let mut doses = vec![0.0; self.relaxed.palette.materials.len()];
                let columns = self.drying.columns();
                for (at, dose) in ppt.iter().enumerate() {
                    doses[columns[at % columns.len()].material] += dose;
                }
                let clocks = self.clocks(&doses);
                let met = clocks.as_ref().zip(beaten).and_then(|(clocks, beaten)| self.meet(clocks, beaten));
                let split = clocks.and_then(|clocks| self.furthest(&ppt, &node.within, &clocks));
                (split, Some(Arc::new(basis)), met)
            }
            // Rounding has taken over: its halves may be sound.
            Ok(AtLoss::Trouble) | Err(_) => (None, None, None),
        };
        let Some((stage, at)) = split.or_else(|| middle(&node.within)) else { return Look::Thin };
        let Some(end) = self.drying.at(stage, at) else { return Look::Thin };
        Look::Split(node.within.halves(stage, Arc::new(end)), basis, met.map(Box::new))
    }

    /// The clocks of a point's own film.
    fn clocks(&self, doses: &[f64]) -> Option<Vec<f64>> {
        let clocks = self.relaxed.clocks_of(&whole(self.relaxed, doses)?);
        clocks.iter().all(|clock| clock.is_finite()).then_some(clocks)
    }

    /// The best formula whose film has some clocks, where it loses less than so much.
    fn meet(&self, clocks: &[f64], beaten: f64) -> Option<Answer> {
        let met = quiet::catch(|| {
            let ends: Option<Vec<Arc<AtClock>>> =
                clocks.iter().enumerate().map(|(stage, &clock)| self.drying.at(stage, clock).map(Arc::new)).collect();
            let ends = ends?;
            let blend = self.drying.within(&ClockBox { low: ends.clone(), high: ends });
            let ppt = self.alike.below(&blend, beaten.min(self.alike.greatest()))?;
            let mut doses = vec![0.0; self.relaxed.palette.materials.len()];
            self.drying.columns().iter().zip(&ppt).for_each(|(column, dose)| doses[column.material] += dose);
            by_its_own(self.relaxed, &whole(self.relaxed, &doses)?)
        });
        met.ok().flatten().filter(|answer| answer.evaluation.loss < beaten)
    }

    /// The stage at which a point takes most for left that its own film does not leave, or the
    /// other way round, and where to split its clock.
    fn furthest(&self, ppt: &[f64], within: &ClockBox, clocks: &[f64]) -> Option<(usize, f64)> {
        let corners = within.corners();
        let columns = self.drying.columns();
        let off = |stage: usize| -> f64 {
            let (mut taken, mut whole) = (vec![0.0; self.relaxed.palette.materials.len()], 0.0);
            for (k, &dose) in ppt.iter().enumerate().filter(|(_, dose)| **dose > 0.0) {
                let clock = within.end(stage, corners[k / columns.len()]).clock;
                for &(material, part) in &self.relaxed.columns[columns[k % columns.len()].material].neat {
                    let strength = part * dose * self.relaxed.material(material).strength;
                    let own = self.paper.left_at(clocks[stage], material);
                    taken[material] += strength * (self.paper.left_at(clock, material) - own);
                    whole += strength * own;
                }
            }
            taken.iter().map(|it: &f64| it.abs()).sum::<f64>() / whole.max(f64::MIN_POSITIVE)
        };
        let stages = (0..clocks.len()).filter(|&stage| is_wide(within, stage));
        let (stage, _) = stages.map(|stage| (stage, off(stage))).max_by(|a, b| a.1.total_cmp(&b.1))?;
        let (low, high) = (within.low[stage].clock, within.high[stage].clock);
        // Not too near an end, or nothing is split off.
        let margin = 0.15 * (high - low);
        Some((stage, clocks[stage].clamp(low + margin, high - margin)))
    }
}

/// Keeps a formula that is better than what is known.
fn offer(found: &mut Boxed, met: Option<Answer>) {
    let ceiling = found.best.as_ref().map_or(f64::INFINITY, |best| best.evaluation.loss);
    if let Some(met) = met.filter(|met| met.evaluation.loss < ceiling) {
        found.best = Some(met);
    }
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

fn is_wide(within: &ClockBox, stage: usize) -> bool {
    within.high[stage].clock - within.low[stage].clock > THINNEST * within.high[stage].clock
}

/// The widest stage, in the middle.
fn middle(within: &ClockBox) -> Option<(usize, f64)> {
    let ends = |stage: usize| (within.low[stage].clock, within.high[stage].clock);
    let width = |stage: &usize| (ends(*stage).1 - ends(*stage).0) / ends(*stage).1;
    let wide = (0..within.low.len()).filter(|&stage| is_wide(within, stage));
    let stage = wide.max_by(|a, b| width(a).total_cmp(&width(b)))?;
    Some((stage, ends(stage).0.midpoint(ends(stage).1)))
}

/// Between which clocks those of every film lie that lasts a tenth longer than the last
/// stage; `None` where no material lasts so long.
///
/// At a stage the hours that have gone by are a mean of what each material alone would have
/// taken until that clock, so that no clock is below that of the slowest there. And of the
/// hours that the film lasts at least so much has gone by as of its slowest material, in
/// spans of the clock.
fn all_clocks(relaxed: &Problem, paper: &Paper) -> Option<(Vec<f64>, Vec<f64>)> {
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
    Some((low, high))
}
