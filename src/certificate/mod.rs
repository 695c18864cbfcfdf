//! What a proof rests on, for anyone to check: a tree that divides all
//! formulas into parts, and for each part multipliers that show that it holds
//! none below the bound.
//!
//! The format, what every line must show and why that is enough stand in
//! profiles/CERTIFICATE.md. `shape` refuses what is not of the format, `state`
//! knows the parts and their whole numbers, `rungs` the rows of a rule on idle weight, `reading` what multipliers prove, in
//! the numbers of `exact`; `check` follows the tree.

mod check;
mod exact;
mod reading;
mod room;
mod rungs;
mod shape;
mod state;
mod text;
mod views;

pub use check::{Fault, Walk, bound_on_d, check};
pub use reading::{bound_of_row, room_of_cap};
pub use shape::shortened;
pub use state::greatest_d;
pub use text::{HEAD, MOST_BYTES, Unreadable, read, write};
pub use views::claimed;

use crate::model::{Blend, Role};
use crate::palette::Palette;
use crate::units::Ppt;

/// What is claimed of all formulas.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Claim {
    /// None has a loss below this, in score points.
    NoneBelow(f64),
    /// There is none.
    None,
}

/// Multipliers, those that are 0 left out: (index, value).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Multipliers {
    /// Weight of `N - lambda D`: 1, or 0 where no formula is left at all.
    pub objective: f64,
    /// Of the sum of 1000.
    pub sum: f64,
    /// Of D.
    pub d: f64,
    /// Of the targets, by their index in the blend.
    pub targets: Vec<(usize, f64)>,
    /// Of the rows of the rules.
    pub rules: Vec<(usize, f64)>,
    /// Of the counts.
    pub counts: Vec<(usize, f64)>,
    /// Of the remainders.
    pub remainders: Vec<(usize, f64)>,
    /// Of the rows of the part's rungs: the strength at most (0), the strength at
    /// least (1), the idle weight at most (2).
    pub rungs: Vec<(usize, f64)>,
    /// Of the caps.
    pub caps: Vec<CapMultipliers>,
}

/// Multipliers of one cap.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CapMultipliers {
    /// The cap, by its index in the blend.
    pub cap: usize,
    /// Of the whole cap, above 0.
    pub most: f64,
    /// Of its targets, those that are 0 left out.
    pub targets: Vec<(usize, f64)>,
}

/// What is said of one column's dose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Said {
    /// It is 0.
    Out,
    /// It is used, at least at this dose.
    In(Ppt),
    /// Where it is used, at least at this dose.
    AtLeast(Ppt),
    /// At most this dose.
    AtMost(Ppt),
}

/// What is said of a column, by its index.
pub type Change = (usize, Said);

/// One line of the tree, in the order: a part, then what is below its first
/// side, then what is below its second side.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// The part holds no formula, by these multipliers.
    Closed(Multipliers),
    /// The part holds no formula: doses, counts or the sum of 1000 contradict
    /// each other.
    Empty,
    /// Formulas with other doses are ruled out by these multipliers. The
    /// part goes on in the next entry.
    Narrowed(Multipliers, Vec<Change>),
    /// Other doses cannot complete a sum of 1000 on their steps. The part
    /// goes on in the next entry.
    OnGrid(Vec<Change>),
    /// The part is split by the dose of a column: two parts follow.
    Split(usize, Said, Said),
    /// The part is split by the sum of a remainder: at most, or at least.
    SplitRemainder(usize, Ppt, Ppt),
    /// The part is split by D: at most, or at least.
    SplitD(f64),
    /// The part is split by rung: up to this one, or above it.
    SplitLadder(usize),
}

/// Columns whose doses add up to 1000 less a multiple of a step that all the
/// other columns keep.
#[derive(Clone, Debug, PartialEq)]
pub struct Remainder {
    /// The step.
    pub step: Ppt,
    /// The columns.
    pub columns: Vec<usize>,
}

/// A bound on D with the multipliers that prove it.
#[derive(Clone, Debug, PartialEq)]
pub struct BoundOnD {
    /// The bound, in the units of the model.
    pub at: f64,
    /// What proves it; the weight of the objective is 0.
    pub by: Multipliers,
}

/// A proof that can be checked without searching.
#[derive(Clone, Debug, PartialEq)]
pub struct Certificate {
    /// What it proves.
    pub claim: Claim,
    /// Names of the columns, in order.
    pub columns: Vec<String>,
    /// Remainders that the tree speaks of.
    pub remainders: Vec<Remainder>,
    /// Least and greatest D inside the rules.
    pub d: [Option<BoundOnD>; 2],
    /// The tree.
    pub entries: Vec<Entry>,
}

/// Names for the columns of a blend: that of the material, and where a rule
/// counts its doses some words more.
pub fn column_names(blend: &Blend, palette: &Palette) -> Vec<String> {
    let name = |column: &crate::model::BlendColumn| {
        let name = &palette.materials[column.material].name;
        match column.role {
            Role::Any => name.clone(),
            Role::Stays => format!("{name} (as it is)"),
            Role::Usual => format!("{name} (at a usual dose)"),
            Role::Unusual => format!("{name} (at any dose)"),
        }
    };
    blend.columns.iter().map(name).collect()
}
