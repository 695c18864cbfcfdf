//! Answers as pages to print, one file each with nothing loaded from elsewhere, and
//! the pieces that all pages share.

pub mod align;
pub mod around;
pub mod kit;
pub mod limits;
pub mod stages;
mod weigh;

pub use weigh::weigh;
