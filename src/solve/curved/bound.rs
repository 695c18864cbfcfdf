//! What multipliers prove of a part of the tree, in closed form and with rounding
//! deducted: nothing else closes a part.

use super::super::search::lp::{Boxes, SafeBound};
use super::curve::{Least, Worth};
use super::node::{Node, Use};
use super::relaxation::Relaxation;
use crate::tolerance::simplex::ROUNDING;
use crate::units::Ppt;

/// What some multipliers say of a node.
#[derive(Default)]
pub(super) struct Priced {
    /// No formula of the node has a lower theta.
    pub value: f64,
    /// What each material is worth to them.
    pub worths: Vec<Worth>,
    /// Its least worth at the doses that are open to it: 0 where leaving it out is
    /// worth less, or it is out.
    pub least: Vec<f64>,
    /// Its least worth where it is used, and the dose of that.
    pub used: Vec<Least>,
    /// Buffers.
    multipliers: Vec<f64>,
    bound: SafeBound,
}

/// What is bounded.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    /// Theta.
    Theta,
    /// Nothing: a value above 0 proves that the rows cannot hold.
    Nothing,
}

impl Priced {
    /// Prices a node with multipliers of the rows times `sign`. Those of the
    /// convexity rows are not needed.
    pub fn price(&mut self, relaxation: &mut Relaxation, node: &Node, multipliers: &[f64], sign: f64, of: Of) {
        let convexity = relaxation.convexity;
        self.multipliers.clear();
        self.multipliers.extend(multipliers[..convexity].iter().map(|pi| pi * sign));
        self.multipliers.resize(relaxation.lp.rows, 0.0);
        let theta = relaxation.theta;
        relaxation.lp.cost[theta] = if of == Of::Theta { 1.0 } else { 0.0 };
        let boxes = Boxes { lower: &relaxation.lower, upper: &relaxation.upper, live: &relaxation.structural };
        relaxation.lp.safe_bound(&self.multipliers, boxes, &mut self.bound);
        relaxation.lp.cost[theta] = 1.0;

        let n = relaxation.model.columns();
        self.worths.clear();
        self.least.clear();
        self.used.clear();
        let (mut sum, mut terms) = (self.bound.value, self.bound.value.abs());
        for k in 0..n {
            let (used, used_doubt) = self.combined(&relaxation.switched[k], convexity);
            let (slope, slope_doubt) = self.combined(&relaxation.straight[k], convexity);
            let (bend, bend_doubt) = self.combined(&relaxation.bent[k], convexity);
            let worth = Worth { used, slope, bend, used_doubt, slope_doubt, bend_doubt };
            let (least, used) = match node.uses[k] {
                Use::Out => (0.0, Least { value: 0.0, at: Ppt::ZERO }),
                Use::In => {
                    let used = worth.least(node.spans[k]);
                    (used.value, used)
                }
                Use::Open => {
                    let used = worth.least(node.spans[k]);
                    (used.value.min(0.0), used)
                }
            };
            sum += least;
            terms += least.abs() + sum.abs();
            self.worths.push(worth);
            self.least.push(least);
            self.used.push(used);
        }
        self.value = sum - 2.0 * ROUNDING * terms;
    }

    /// The negated product of multipliers and entries, and how far rounding may have
    /// put it off.
    fn combined(&self, entries: &[(usize, f64)], convexity: usize) -> (f64, f64) {
        let (mut sum, mut terms, mut operations) = (0.0, 0.0, 1.0);
        for &(row, a) in entries {
            if row < convexity {
                let product = self.multipliers[row] * a;
                sum -= product;
                terms += product.abs();
                operations += 1.0;
            }
        }
        (sum, ROUNDING * terms * operations)
    }

    /// Narrows what is open in a node to what may still hold a formula below the loss
    /// to beat. False where nothing does.
    pub fn narrow(&self, relaxation: &Relaxation, node: &mut Node) -> bool {
        for k in 0..relaxation.model.columns() {
            if node.uses[k] == Use::Out || node.is_settled(k) {
                continue;
            }
            // With all others at their least, its worth has to be below this. Adding
            // and taking away again may round, so a hair is left.
            let cap = self.least[k] - self.value;
            let cap = cap + 4.0 * ROUNDING * (self.least[k].abs() + self.value.abs());
            if node.uses[k] == Use::Open && cap <= 0.0 {
                node.uses[k] = Use::In;
            }
            match self.worths[k].below(cap, node.spans[k]) {
                Some(span) => node.spans[k] = span,
                None if node.uses[k] == Use::Open => node.uses[k] = Use::Out,
                None => return false,
            }
        }
        true
    }
}
