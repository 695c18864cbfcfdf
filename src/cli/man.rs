//! `permil man`.

use clap::CommandFactory;

use super::{Cli, Ending, output};

/// Print the manual page
///
/// For example:
///     permil man > permil.1
///     permil man propose > permil-propose.1
///     man ./permil.1
#[derive(Debug, clap::Args)]
#[command(verbatim_doc_comment)]
pub struct Args {
    /// The command whose page is printed; permil itself without one
    command: Option<String>,
}

/// Prints the manual page of the program or of one of its commands.
pub fn run(args: &Args) -> Ending {
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    let asked = match &args.command {
        None => Some(program),
        // Names on the command line ignore case.
        Some(name) => program.get_subcommands().find(|command| command.get_name().eq_ignore_ascii_case(name)).cloned(),
    };
    let Some(asked) = asked else {
        output::complain("man: no such command; `permil help` lists them");
        return Ending::Wrong;
    };
    let mut text = Vec::new();
    match clap_mangen::Man::new(asked).render(&mut text) {
        Ok(()) => output::print(&String::from_utf8_lossy(&text), Ending::Done),
        Err(error) => {
            output::complain(&format!("the manual page cannot be made: {error}"));
            Ending::NoAnswer
        }
    }
}
