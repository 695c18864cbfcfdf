//! Reports for reading, at 80 columns and without colour as well.

mod adjust;
pub mod broken;
mod buy;
mod care;
mod check;
mod compare;
mod compositions;
pub mod coverage;
mod doubt;
mod formula;
mod in_short;
mod journal;
mod learn;
mod learn_lasting;
mod leeway;
mod limits;
mod near;
mod next;
mod next_law;
mod noses;
mod overshoot;
mod page;
mod product;
mod propose;
mod push;
mod reasons;
mod replace;
mod shelf;
pub mod stages;
mod starts;
mod steady;
mod strengths;
mod strip;
pub mod sure;
mod table;
mod teaching;
mod tradeoff;
mod verify;
mod weigh;
pub mod worth;

pub use adjust::adjust;
pub use buy::buy;
pub use check::check;
pub use compare::compare;
pub use doubt::doubt;
pub use formula::{dose, money};
pub use journal::journal;
pub use learn::learn;
pub use leeway::leeway;
pub use next::next;
pub use next_law::next_law;
pub use page::{Ink, Page};
pub use product::product;
pub use propose::{propose, propose_formula, propose_reasons};
pub use push::push;
pub use replace::replace;
pub use shelf::shelf;
pub use starts::{key, starts};
pub use strengths::strengths;
pub use strip::{called, moment, span, strip};
pub use tradeoff::tradeoff;
pub use verify::verify;
pub use weigh::weigh;

/// Sentences of the sheet to weigh from, for its printed page as well.
pub mod sheet {
    pub use super::overshoot::{DOES_NOT_KEEP, NOTHING_OVER, broken, comes_to, fresh, keeps, no_room, vessel, ways};
    pub use super::weigh::{
        bottle, decimals, least, marks, missing, money, nearness, other_bottles, poured, remedy, smallest, unchecked,
        what,
    };
}
