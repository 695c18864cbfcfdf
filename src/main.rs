//! The `permil` program: parse, run, exit status.

use std::process::ExitCode;

/// Static programs for Linux have an allocator of their own: that of musl takes twice the
/// time of a search.
#[cfg(target_env = "musl")]
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    permil::cli::main()
}
