//! The arithmetic behind the answers to a perfumer's questions: plain
//! functions of a problem and a formula, without a word of text.

pub mod audit;
pub mod basis;
pub mod broken;
pub mod buy;
pub mod check;
pub mod conflict;
pub mod contribution;
pub mod doubt;
pub mod explain;
pub mod loosen;
pub mod packs;
pub mod pour;
pub mod repair;
pub mod replace;
pub mod replacement;
pub mod shelf;
pub mod single;
pub mod unchecked;
pub mod without;
pub mod worth;
