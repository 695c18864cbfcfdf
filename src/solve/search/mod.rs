//! The exact search for whole-part formulas: a branch and bound over which
//! materials are used and at which doses, bounded by a linear relaxation in
//! which Dinkelbach's parameter is the loss that is to be beaten.
//!
//! One file a subject, in the order in which they are best read:
//!
//! - the state: `branch_and_bound` is made of `instance` (what is searched),
//!   `knowledge` (incumbent or ceiling, and bound), `counters` and `workspace`;
//!   `outcome` has what is asked and answered
//! - the course: `targets` (trees for rising targets), `root` (the first bound, with `settling` for several views),
//!   `ladder` (a search for each part of a rule on idle weight), `explore` (one tree), `examine` (one node), `epochs` (one tree by several at
//!   once)
//! - a node: `node` (what is decided), `grid` and `remainder` (steps and the sum
//!   of 1000), `point` (the relaxation's point), `reduced_cost_fixing`,
//!   `branching` with `pseudo_costs`, `subproblem` (a blend without what is ruled
//!   out)
//! - good formulas early: `dive`, `rounding` on a `tally`, `improve` (kernel
//!   search), `incumbent` (what is offered)
//! - the programme: `relaxation` (rows, scaling, multipliers), `lp` (what
//!   multipliers prove), `simplex` (a basis and what belongs to it), `iterate` (its
//!   steps)
//! - a proof written down: `prove` (its tree), `prove_part` (one part of it),
//!   `certificate_writer` (its lines)
//! - without a search: `continuous` (the continuous optimum), `at_loss` (whether many models
//!   alike have a point below a loss), `extent` (how far
//!   blends below a ceiling reach)

mod at_loss;
mod branch_and_bound;
mod branching;
mod certificate_writer;
mod continuous;
mod counters;
mod dive;
mod epochs;
mod examine;
mod explore;
mod extent;
mod grid;
mod improve;
mod incumbent;
mod instance;
mod iterate;
mod knowledge;
mod ladder;
pub mod lp;
mod node;
mod outcome;
mod point;
mod prove;
mod prove_part;
mod pseudo_costs;
mod reduced_cost_fixing;
mod relaxation;
mod remainder;
mod root;
mod rounding;
mod settling;
pub mod simplex;
mod subproblem;
mod tally;
mod targets;
mod workspace;

pub use at_loss::{Alike, AtLoss};
pub use continuous::{ContinuousOptimum, ParametricModel, Started, continuous_optimum};
pub use extent::{Extent, Reached};
pub(super) use grid::Grid;
pub use ladder::{Leaf, Rung, Union, over_rungs, search};
pub use outcome::{Aim, Found, Judge, Judged, Known, Outcome};
pub use prove::{Purpose, Unwritten, prove};
pub use root::{RootBound, root_bound};
pub(super) use rounding::round;
pub use simplex::Basis;
