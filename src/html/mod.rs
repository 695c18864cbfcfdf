//! Reports as pages to print: one file each, nothing loaded from elsewhere.

pub mod align;
mod weigh;

pub use weigh::weigh;
