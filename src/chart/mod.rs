//! Pictures of the reports: one file for each chart, on one drawing kit.
//!
//! A chart takes a report, or a small plain input that lives beside it, and
//! becomes an SVG with real text or a PNG; both from the same drawing.

pub mod leeway;
pub mod push;
pub mod starts;
pub mod tradeoff;
