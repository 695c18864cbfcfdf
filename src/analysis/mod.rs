//! The arithmetic behind the answers to a perfumer's questions: plain
//! functions of a problem and a formula, without a word of text.

pub mod add;
pub mod adjust;
pub mod along;
pub mod apart;
pub mod audit;
pub mod axis;
pub mod basis;
pub mod broken;
pub mod buy;
pub mod caps;
pub mod check;
pub mod conflict;
pub mod contribution;
pub mod curve;
pub mod doubt;
pub mod explain;
pub mod furthest;
pub mod leeway;
pub mod loosen;
pub mod packs;
pub mod passing;
pub mod pour;
pub mod push;
pub mod repair;
pub mod replace;
pub mod replacement;
pub mod shelf;
pub mod single;
pub mod starts;
pub mod tradeoff;
pub mod unchecked;
pub mod verify;
pub mod without;
pub mod worth;
