//! `permil man`.

use std::fmt::Write;

use clap::Command;

use super::error::CliError;
use super::help::{self, Listed};
use super::{Ending, output};
use crate::questions::Refusal;

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
///
/// # Errors
/// There is no such command, or its page cannot be made.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let mut program = help::command().disable_help_subcommand(true).long_version(None);
    program.build();
    let asked = match &args.command {
        None => Some(program),
        // Names on the command line ignore case.
        Some(name) => program.get_subcommands().find(|command| is_named(command, name)).cloned(),
    };
    let asked = asked.ok_or_else(|| CliError::Wrong("man: no such command; `permil help` lists them".to_owned()))?;
    let (list, others) = (commands(&asked), other_names(&asked));
    let mut text = Vec::new();
    clap_mangen::Man::new(asked)
        .render(&mut text)
        .map_err(|error| Refusal::Stopped(format!("the manual page cannot be made: {error}")))?;
    Ok(output::print(&(in_groups(&String::from_utf8_lossy(&text), &list) + &others), Ending::Done))
}

fn is_named(command: &Command, name: &str) -> bool {
    command.get_name().eq_ignore_ascii_case(name)
        || command.get_visible_aliases().any(|alias| alias.eq_ignore_ascii_case(name))
}

/// The groups of commands as roff; empty of a command without any.
fn commands(command: &Command) -> String {
    let mut text = String::new();
    for (title, commands) in help::groups(command) {
        if !commands.is_empty() {
            let _ = writeln!(text, ".SS {title}");
        }
        for Listed { name, about, aliases } in commands {
            let also = if aliases.is_empty() { String::new() } else { format!(" (also {})", aliases.join(", ")) };
            let _ = writeln!(text, ".TP\n{}\n{}", roff(&format!("permil-{name}(1){also}")), roff(&about));
        }
    }
    text
}

/// The other names of a command as roff, if it has any.
fn other_names(command: &Command) -> String {
    let names: Vec<&str> = command.get_visible_aliases().collect();
    if names.is_empty() { String::new() } else { format!(".SH \"OTHER NAMES\"\n{}\n", roff(&names.join(", "))) }
}

/// A page whose flat list of commands gives way to the groups.
fn in_groups(page: &str, list: &str) -> String {
    let parted = page.split_once(".SH SUBCOMMANDS\n").filter(|_| !list.is_empty());
    let Some((before, rest)) = parted else { return page.to_owned() };
    let after = rest.find(".SH ").map_or("", |at| &rest[at..]);
    format!("{before}.SH COMMANDS\n{list}{after}")
}

fn roff(text: &str) -> String {
    text.replace('\\', "\\e").replace('-', "\\-")
}
