//! The exact search for whole-part formulas: a branch and bound over which
//! materials are in and at which doses, bounded by a linear relaxation in
//! which Dinkelbach's parameter is the loss that is to be beaten.
//!
//! One file a subject: `lp` (the programme and what multipliers prove),
//! `simplex` (a basis and what belongs to it), `iterate` (its steps),
//! `relaxation` (rows and scaling), `restriction` (without what is ruled out),
//! `node`, `grid` and `remainder` (steps and the sum of 1000), `fixing`, `point`, `branching`,
//! `rounding`, `tally`, `dive` and `improve` (good formulas early), `incumbent`,
//! `prove` (a tree with its reasons), `written` (its lines), `explore` (one tree), `epochs` (the same by
//! several at once), `tree` (the search and its targets), `extent` (how far
//! blends below a ceiling reach), `level` (the best of a continuous model
//! without a search).

mod branching;
mod dive;
mod epochs;
mod explore;
mod extent;
mod fixing;
mod grid;
mod improve;
mod incumbent;
mod iterate;
mod level;
pub mod lp;
mod node;
mod point;
mod prove;
mod relaxation;
mod remainder;
mod restriction;
mod rounding;
pub mod simplex;
mod tally;
mod tree;
mod written;

pub use extent::Extent;
pub use level::{Level, Started, Sweep, level};
pub use prove::{Purpose, Unwritten, prove};
pub use tree::{Aim, Certificate, Found, Judged, Known, MARGIN, Outcome, TIE, certify, search};
