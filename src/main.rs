//! The `permil` program: parse, run, exit status.

fn main() {}
