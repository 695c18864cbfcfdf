//! `permil man`.

use clap::CommandFactory;

use super::{Cli, Ending, output};

/// Print the manual page
///
/// For example:
///     permil man > permil.1
///     man ./permil.1
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub struct Args {}

/// Prints the manual page: the program, then each command.
pub fn run(_args: &Args) -> Ending {
    match page() {
        Ok(text) => output::print(&String::from_utf8_lossy(&text), Ending::Done),
        Err(error) => {
            output::complain(&format!("the manual page cannot be made: {error}"));
            Ending::NoAnswer
        }
    }
}

fn page() -> std::io::Result<Vec<u8>> {
    let mut text = Vec::new();
    clap_mangen::Man::new(Cli::command()).render(&mut text)?;
    Ok(text)
}
