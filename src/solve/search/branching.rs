//! Which material to decide next: pseudo-costs with a product score, made
//! reliable by short trial runs of the simplex method (Achterberg, Koch &
//! Martin 2005).

use super::branch_and_bound::BranchAndBound;
use super::node::{Decision, Node, UseStatus};
use super::point::Point;
use super::pseudo_costs::Side;
use super::simplex::Ended;
use crate::tolerance::search::UNCOMPLETED;
use crate::units::Ppt;

/// Trial runs stop after so many iterations.
const TRIAL_ITERATIONS: usize = 15;
/// Candidates tried in a row without a better score before trials stop.
const PATIENCE: usize = 8;

/// Two decisions that between them cover everything.
#[derive(Clone, Copy, Debug)]
pub struct Branch {
    /// The material.
    pub material: usize,
    /// The side with less of it.
    pub less: Decision,
    /// The side with more of it.
    pub more: Decision,
}

/// What the choice came to.
pub enum Choice {
    /// Split the node.
    Split(Branch),
    /// One side of a trial is empty, so the other side holds: the decision to
    /// apply to the node itself.
    Forced(Branch, Decision),
    /// Both sides of a trial are empty: the node is.
    Empty(Branch),
}

/// A way to split, before it is chosen.
struct Candidate {
    branch: Branch,
    sides: [Side; 2],
    /// Share of a step (or of the way to being used) below and above.
    shares: [f64; 2],
    score: f64,
}

/// A rise of the bound, or a share of a step, counts as this much at least: a
/// side without any does not cancel the other in a product.
const LEAST_GAIN: f64 = 1e-3;

fn product(less: f64, more: f64) -> f64 {
    less.max(LEAST_GAIN) * more.max(LEAST_GAIN)
}

impl BranchAndBound<'_> {
    /// Chooses how to split a node whose point is not a formula.
    pub(super) fn choose(&mut self, node: &Node, point: &Point) -> Option<Choice> {
        let mut candidates = self.candidates(node, point);
        let average = |side| self.work.pseudo_costs.average(side);
        let averages = [average(Side::Out), average(Side::In), average(Side::Down), average(Side::Up)];
        for candidate in &mut candidates {
            let k = candidate.branch.material;
            let expect = |i: usize| {
                let side = candidate.sides[i];
                self.work.pseudo_costs.expect(k, side, averages[side as usize]) * candidate.shares[i]
            };
            candidate.score = product(expect(0), expect(1));
        }
        candidates.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.branch.material.cmp(&b.branch.material)));
        let mut best: Option<(f64, Branch)> = None;
        let mut without_gain = 0;
        let now = node.state.objective(&self.work.relaxation.lp);
        for candidate in &candidates {
            let k = candidate.branch.material;
            let mut score = candidate.score;
            if !self.work.pseudo_costs.is_reliable(k, candidate.sides) && without_gain < PATIENCE {
                let mut gains = [0.0; 2];
                let mut empty = [false; 2];
                for (i, decision) in [candidate.branch.less, candidate.branch.more].into_iter().enumerate() {
                    match self.trial(node, k, decision, now) {
                        Some(gain) => {
                            gains[i] = gain;
                            let unit = candidate.shares[i].max(LEAST_GAIN);
                            self.work.pseudo_costs.observe(k, candidate.sides[i], gain / unit);
                        }
                        None => empty[i] = true,
                    }
                }
                match empty {
                    [true, true] => return Some(Choice::Empty(candidate.branch)),
                    [true, false] => return Some(Choice::Forced(candidate.branch, candidate.branch.more)),
                    [false, true] => return Some(Choice::Forced(candidate.branch, candidate.branch.less)),
                    [false, false] => score = product(gains[0], gains[1]),
                }
                without_gain += 1;
            }
            if best.is_none_or(|(most, _)| score > most) {
                best = Some((score, candidate.branch));
                without_gain = 0;
            }
        }
        best.map(|(_, branch)| Choice::Split(branch))
    }

    /// The ways to split: on using a material while the count or a least dose
    /// is at issue, on a dose otherwise.
    fn candidates(&self, node: &Node, point: &Point) -> Vec<Candidate> {
        let on_use = |k: usize| Candidate {
            branch: Branch { material: k, less: Decision::Out, more: Decision::In(node.least[k]) },
            sides: [Side::Out, Side::In],
            shares: [1.0, 1.0],
            score: 0.0,
        };
        if !point.count_holds() {
            return point.too_many(&self.work.relaxation).map(on_use).collect();
        }
        if !point.too_small.is_empty() {
            return point.too_small.iter().map(|&k| on_use(k)).collect();
        }
        let on_dose = |&(k, share): &(usize, f64)| {
            let below = self.instance.grid.down(k, Ppt::from_ppt(point.ppt[k]));
            let above = below + self.instance.grid.step(k);
            Candidate {
                branch: Branch { material: k, less: Decision::AtMost(below), more: Decision::In(above) },
                sides: [Side::Down, Side::Up],
                shares: [share, 1.0 - share],
                score: 0.0,
            }
        };
        point.between.iter().map(on_dose).collect()
    }

    /// A split in the middle of the doses that are left to a material; `None`
    /// where one alone is.
    pub(super) fn halve(&self, node: &Node, k: usize) -> Option<Branch> {
        let (least, most) = (node.least[k], node.most[k]);
        let half = Ppt::from_units((most - least).units() / 2);
        let below = least + half.floor_to(self.instance.grid.step(k));
        let above = below + self.instance.grid.step(k);
        let halves = Branch { material: k, less: Decision::AtMost(below), more: Decision::In(above) };
        (above <= most).then_some(halves)
    }

    /// A remainder whose sum at the node's point completes no coarse sum: its
    /// index and the next sum below that does. The one that is furthest off.
    pub(super) fn uncompleted(&self, node: &Node) -> Option<(usize, Ppt)> {
        let mut furthest: Option<(f64, usize, Ppt)> = None;
        for (index, kept) in self.work.relaxation.remainders.iter().enumerate() {
            let sum = Ppt::from_ppt(node.state.value(kept.column) * kept.unit_ppt);
            let below = kept.remainder.down(sum);
            let share = (sum - below).as_f64() / kept.remainder.step.as_f64();
            let off = share.min(1.0 - share);
            let (least, most) = node.remainders[index];
            if off > UNCOMPLETED && below >= least && below < most && furthest.is_none_or(|(known, ..)| off > known) {
                furthest = Some((off, index, below));
            }
        }
        furthest.map(|(_, index, below)| (index, below))
    }

    /// The rise of the bound when a decision is taken, after a short run;
    /// `None` when nothing is left.
    fn trial(&mut self, node: &Node, k: usize, decision: Decision, now: f64) -> Option<f64> {
        let mut child = node.clone();
        if !child.decide(k, decision, &self.instance.grid)
            || !self.instance.grid.complete(&mut child)
            || !child.close_count(&self.work.relaxation)
        {
            return None;
        }
        self.work.settle(&mut child);
        let lp = &self.work.relaxation.lp;
        match child.state.run(lp, 0.0, TRIAL_ITERATIONS, &mut self.work.scratch) {
            Ended::Infeasible(row) if lp.proves_infeasible(child.state.inverse_row(row), child.state.boxes()) => {
                return None;
            }
            Ended::Cutoff => {
                lp.safe_bound(&child.state.multipliers, child.state.boxes(), &mut self.work.safe);
                if self.work.safe.value >= 0.0 {
                    return None;
                }
            }
            _ => {}
        }
        Some(child.state.objective(lp) - now)
    }

    /// A split of a node whose point says nothing (the numbers failed, or the
    /// formula it stands for did not pass its check): any material that is
    /// not settled. `None` when all are.
    pub(super) fn any_split(&self, node: &Node, point: &Point) -> Option<Branch> {
        let used = (0..self.work.relaxation.n).filter(|&k| point.ppt[k] > 0.0);
        let others = (0..self.work.relaxation.n).filter(|&k| point.ppt[k] <= 0.0);
        for k in used.chain(others).filter(|&k| node.is_open(k)) {
            let step = self.instance.grid.step(k);
            let (least, most) = (node.least[k], node.most[k]);
            let undecided = node.use_status[k] == UseStatus::Undecided;
            if self.instance.grid.is_continuous(k) && !undecided {
                // The relaxation has the best dose already.
                continue;
            }
            let dose =
                self.instance.grid.down(k, Ppt::from_ppt(point.ppt[k] + step.as_f64() / 2.0)).max(least).min(most);
            let branch = if undecided && (point.ppt[k] <= 0.0 || self.instance.grid.is_continuous(k)) {
                Branch { material: k, less: Decision::Out, more: Decision::In(least) }
            } else if dose > least {
                Branch { material: k, less: Decision::AtMost(dose - step), more: Decision::In(dose) }
            } else if least < most {
                Branch { material: k, less: Decision::AtMost(least), more: Decision::In(least + step) }
            } else {
                Branch { material: k, less: Decision::Out, more: Decision::In(least) }
            };
            return Some(branch);
        }
        None
    }
}
