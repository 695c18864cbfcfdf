//! From rules to linear rows: solver-neutral programmes.

pub mod programme;
