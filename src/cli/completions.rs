//! `permil completions`.

use clap_complete::Shell;

use super::{Ending, help, output};

/// Print completions for a shell
///
/// For example, in bash:
///     permil completions bash > ~/.local/share/bash-completion/completions/permil
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub struct Args {
    /// The shell
    shell: Shell,
}

/// Prints the completions.
pub fn run(args: &Args) -> Ending {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut help::command(), "permil", &mut text);
    output::print(&String::from_utf8_lossy(&text), Ending::Done)
}
