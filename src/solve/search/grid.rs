//! The grids that doses live on, and what the sum of exactly 1000 says about
//! them: when all open materials but one have coarse steps, the fine one can
//! only take doses that complete a coarse sum.

use super::node::{Node, UseStatus};
use crate::model::Blend;
use crate::units::{Ppt, gcd};

/// Step of each material in units of 1e-9 ppt; a continuous dose has the
/// finest step there is, 1.
#[derive(Clone, Debug)]
pub struct Grid {
    steps: Vec<i64>,
    /// Whether all materials have the same step: then no residue is ever
    /// left over.
    uniform: bool,
}

impl Grid {
    /// The grids of a blend.
    pub fn new(blend: &Blend) -> Grid {
        let steps: Vec<i64> = blend.columns.iter().map(|column| column.step.units().max(1)).collect();
        let uniform = steps.windows(2).all(|pair| pair[0] == pair[1])
            && steps.first().is_none_or(|step| Ppt::WHOLE.units() % step == 0)
            && blend.columns.iter().all(|column| column.least.units() % column.step.units().max(1) == 0);
        Grid { steps, uniform }
    }

    /// Step of a material.
    pub fn step(&self, k: usize) -> Ppt {
        Ppt::from_units(self.steps[k])
    }

    /// Whether doses of a material are continuous.
    pub fn is_continuous(&self, k: usize) -> bool {
        self.steps[k] == 1
    }

    /// The dose itself or the next one above it on the material's grid.
    pub fn up(&self, k: usize, dose: Ppt) -> Ppt {
        dose.ceil_to(self.step(k))
    }

    /// The dose itself or the next one below it on the material's grid.
    pub fn down(&self, k: usize, dose: Ppt) -> Ppt {
        dose.floor_to(self.step(k))
    }

    /// Moves dose bounds of materials that are in inwards to doses that can
    /// complete a sum of 1000 with what is still open. False when no sum can.
    pub fn complete(&self, node: &mut Node) -> bool {
        if self.uniform {
            return true;
        }
        let n = self.steps.len();
        // Sum of what is settled, and the steps of what is not.
        let mut rest = Ppt::WHOLE.units();
        let mut open: Vec<usize> = Vec::new();
        for k in 0..n {
            match node.use_status[k] {
                UseStatus::Out => {}
                UseStatus::In if node.least[k] == node.most[k] => rest -= node.least[k].units(),
                _ => open.push(k),
            }
        }
        // gcd of all open steps but one, from both sides.
        let mut before = vec![0; open.len() + 1];
        for (i, &k) in open.iter().enumerate() {
            before[i + 1] = gcd(before[i], self.steps[k]);
        }
        let all = before[open.len()];
        if all == 0 {
            return rest == 0;
        }
        if rest % all != 0 {
            return false;
        }
        let mut after = 0;
        for (i, &k) in open.iter().enumerate().rev() {
            let others = gcd(before[i], after);
            after = gcd(after, self.steps[k]);
            if others == self.steps[k] || (others != 0 && self.steps[k] % others == 0) {
                continue;
            }
            // The dose is rest modulo `others`, on its own step.
            if !self.narrow(node, k, rest, others) {
                return false;
            }
        }
        true
    }

    /// Narrows the bounds of a material to doses that leave a multiple of
    /// `others` (0: nothing) of `rest`.
    fn narrow(&self, node: &mut Node, k: usize, rest: i64, others: i64) -> bool {
        let fits = |dose: i64| if others == 0 { dose == rest } else { (rest - dose).rem_euclid(others) == 0 };
        let period = if others == 0 { 1 } else { others / gcd(others, self.steps[k]) };
        // Searching one period of the material's own steps is enough; a long
        // period (nearly continuous grids) tells nothing worth the search.
        if period > 10_000 && others != 0 {
            return true;
        }
        let (least, most) = (node.least[k].units(), node.most[k].units());
        let undecided_zero = node.use_status[k] == UseStatus::Undecided && fits(0);
        let (low, high) = if others == 0 {
            let fits = rest >= least && rest <= most && rest % self.steps[k] == 0;
            (fits.then_some(rest), fits.then_some(rest))
        } else {
            let up = (0..period)
                .map(|i| least + i * self.steps[k])
                .take_while(|dose| *dose <= most)
                .find(|dose| fits(*dose));
            let down = (0..period)
                .map(|i| most - i * self.steps[k])
                .take_while(|dose| *dose >= least)
                .find(|dose| fits(*dose));
            (up, down)
        };
        match (low, high) {
            (Some(low), Some(high)) => {
                node.set_bounds(k, Ppt::from_units(low), Ppt::from_units(high));
                true
            }
            _ if undecided_zero => node.leave_out(k),
            _ => false,
        }
    }
}
