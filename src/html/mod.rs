//! Reports as pages to print: one file each, nothing loaded from elsewhere.

mod weigh;

pub use weigh::weigh;
