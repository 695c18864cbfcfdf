//! The `permil` program: parse, run, exit status.

use std::process::ExitCode;

fn main() -> ExitCode {
    permil::cli::main()
}
