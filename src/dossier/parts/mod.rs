//! The parts of the page: one file for each subject.

pub(super) mod brief;
pub(super) mod client;
pub(super) mod figures;
pub(super) mod formula;
pub(super) mod front;
pub(super) mod limits;
pub(super) mod proof;
pub(super) mod weigh;
