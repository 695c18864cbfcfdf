//! The exact search for whole-part formulas: a branch and bound over which
//! materials are in and at which doses, bounded by a linear relaxation in
//! which Dinkelbach's parameter is the loss that is to be beaten.
//!
//! One file a subject: `lp` (the programme and what multipliers prove),
//! `simplex` (a basis and what belongs to it), `iterate` (its steps),
//! `relaxation` (rows and scaling), `restriction` (without what is ruled out),
//! `node`, `grid` and `remainder` (steps and the sum of 1000), `fixing`, `point`, `branching`,
//! `rounding`, `tally`, `dive` and `improve` (good formulas early), `incumbent`,
//! `explore` (one tree), `tree` (the
//! search and its targets).

mod branching;
mod dive;
mod explore;
mod fixing;
mod grid;
mod improve;
mod incumbent;
mod iterate;
pub mod lp;
mod node;
mod point;
mod relaxation;
mod remainder;
mod restriction;
mod rounding;
pub mod simplex;
mod tally;
mod tree;

pub use tree::{Aim, Certificate, Found, Judged, Known, Outcome, certify, search};
