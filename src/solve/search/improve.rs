//! A better incumbent before the proof: the exact search on a neighbourhood of
//! the incumbent, a few dozen materials that its multipliers find promising
//! (kernel search, Angelelli, Mansini & Speranza 2010).

use super::branch_and_bound::BranchAndBound;
use super::node::{Decision, Node};
use super::simplex::Ended;
use super::subproblem::Subproblem;
use crate::units::Ppt;

/// Materials beside the incumbent's own, in successive neighbourhoods; a
/// larger one is tried when the smaller one holds nothing better.
const SIZES: [usize; 3] = [20, 40, 80];
/// Nodes that one neighbourhood may take.
const NODES: u64 = 1500;
/// Neighbourhoods at most.
const ROUNDS: usize = 24;

impl BranchAndBound<'_> {
    /// Improves the incumbent until no neighbourhood holds a better one.
    pub(super) fn improve(&mut self, root: &Node) {
        let mut size = 0;
        for _ in 0..ROUNDS {
            if size == SIZES.len() || self.knowledge.is_proven() || self.is_over() {
                return;
            }
            let Some(found) = self.knowledge.found() else { return };
            let doses = found.doses.clone();
            let before = self.knowledge.loss_to_beat();
            let Some(subproblem) = self.neighbourhood(root, &doses, SIZES[size]) else { return };
            if !subproblem.is_worthwhile(self.instance.blend) {
                return;
            }
            self.knowledge.set_target(self.knowledge.loss_to_beat());
            self.explore_subproblem(&subproblem, Some(NODES));
            if self.knowledge.loss_to_beat() < before {
                size = 0;
            } else {
                size += 1;
            }
        }
    }

    /// The blend of the incumbent's materials and of `size` others: half of
    /// them those that would lower the bound of the incumbent's own programme
    /// most, half those that the root's point uses most.
    fn neighbourhood(&mut self, root: &Node, doses: &[Ppt], size: usize) -> Option<Subproblem> {
        let n = self.work.relaxation.n;
        let mut own = root.clone();
        for (k, dose) in doses.iter().enumerate() {
            if dose.is_zero() && !own.decide(k, Decision::Out, &self.instance.grid) {
                return None;
            }
        }
        let lambda = self.work.relaxation.lambda();
        self.work.relaxation.set_lambda(self.knowledge.loss_to_beat());
        self.work.settle(&mut own);
        self.work.price(&mut own);
        let ended = self.run_simplex(&mut own, f64::INFINITY);
        let lp = &self.work.relaxation.lp;
        let reduced = |k: usize| lp.cost[n + k] - lp.dot(&own.state.multipliers, n + k);
        let mut promising: Vec<(f64, usize)> =
            (0..n).filter(|&k| doses[k].is_zero()).map(|k| (reduced(k), k)).collect();
        promising.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let share = |k: usize| root.dose_ppt(k, &self.work.relaxation) / self.work.relaxation.scale_ppt[k];
        let mut present: Vec<(f64, usize)> =
            (0..n).filter(|&k| doses[k].is_zero()).map(|k| (share(k), k)).filter(|(share, _)| *share > 0.0).collect();
        present.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        self.work.relaxation.set_lambda(lambda);
        if ended != Ended::Optimal {
            return None;
        }
        let mut keep: Vec<bool> = doses.iter().map(|dose| !dose.is_zero()).collect();
        present.iter().take(size / 2).chain(promising.iter().take(size)).for_each(|&(_, k)| keep[k] = true);
        let mut node = root.clone();
        for (k, keep) in keep.into_iter().enumerate() {
            if !keep && !node.decide(k, Decision::Out, &self.instance.grid) {
                return None;
            }
        }
        Some(Subproblem::new(self.instance.blend, &node))
    }
}
