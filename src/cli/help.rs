//! The list of commands by what they are for: clap knows no groups of
//! subcommands, so that help and man page are made from one table.

use std::fmt::Write;

use clap::{Command, CommandFactory};

use super::Cli;

/// Every command in one group, in the order in which they are of use.
const GROUPS: &[(&str, &[&str])] = &[
    ("Shelf", &["shelf", "import", "export", "buy"]),
    ("Compose", &["check", "propose", "explore", "starts", "report"]),
    ("Question", &["compare", "strip", "doubt", "leeway", "tradeoff", "push"]),
    ("Rework", &["adjust", "replace"]),
    ("Smell and learn", &["strengths", "learn", "journal", "next"]),
    ("Bench and product", &["weigh", "product"]),
    ("Proof and set-up", &["new", "verify", "completions", "man", "help"]),
];

/// A command, and the other names under which it is found.
pub struct Listed {
    /// Its name.
    pub name: String,
    /// What it does, in a line.
    pub about: String,
    /// Its other names.
    pub aliases: Vec<String>,
}

/// The groups with what clap knows of their commands.
pub fn groups(program: &Command) -> Vec<(&'static str, Vec<Listed>)> {
    let listed = |name: &&str| {
        let command = program.find_subcommand(name)?;
        Some(Listed {
            name: command.get_name().to_owned(),
            about: command.get_about().map(ToString::to_string).unwrap_or_default(),
            aliases: command.get_visible_aliases().map(str::to_owned).collect(),
        })
    };
    GROUPS.iter().map(|(title, names)| (*title, names.iter().filter_map(listed).collect())).collect()
}

/// The command line as clap knows it, its commands listed in groups.
pub fn command() -> Command {
    let mut program = Cli::command();
    // From here on the program has its own `help`.
    program.build();
    let header = *program.get_styles().get_header();
    let literal = *program.get_styles().get_literal();
    let groups = groups(&program);
    let width = groups.iter().flat_map(|(_, commands)| commands).map(|it| it.name.len()).max().unwrap_or(0);
    let mut list = String::new();
    for (title, commands) in &groups {
        let _ = writeln!(list, "{header}{title}:{header:#}");
        for Listed { name, about, aliases } in commands {
            let gap = " ".repeat(width - name.len());
            let also = if aliases.is_empty() { String::new() } else { format!(" [also: {}]", aliases.join(", ")) };
            let _ = writeln!(list, "  {literal}{name}{literal:#}{gap}  {about}{also}");
        }
        list.push('\n');
    }
    let template = format!(
        "{{about-with-newline}}\n{{usage-heading}} {{usage}}\n{header}To begin:{header:#} permil new mine\n\n{list}{header}Options:{header:#}\n{{options}}{{after-help}}"
    );
    // A command that is built keeps the template of its building.
    Cli::command().help_template(template)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use clap::CommandFactory;

    use super::{GROUPS, command};
    use crate::cli::Cli;

    #[test]
    fn every_command_is_in_one_group() {
        let mut program = Cli::command();
        program.build();
        let mut groups: BTreeMap<&str, usize> = BTreeMap::new();
        GROUPS.iter().flat_map(|(_, names)| *names).for_each(|name| *groups.entry(name).or_default() += 1);
        let commands: Vec<&str> = program.get_subcommands().map(clap::Command::get_name).collect();
        assert!(commands.len() > 20, "{commands:?}");
        for name in &commands {
            assert_eq!(groups.remove(name), Some(1), "{name}");
        }
        // The page is there where the program is built with its server.
        groups.retain(|name, _| *name != "explore" || cfg!(feature = "serve"));
        assert!(groups.is_empty(), "no command has these names: {groups:?}");
    }

    #[test]
    fn each_has_one_line() {
        let help = command().render_help().to_string();
        for line in help.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        for (title, names) in GROUPS {
            assert!(help.contains(&format!("{title}:\n  {}", names[0])), "{title}");
        }
        for alias in ["variants", "range", "certainty"] {
            assert!(help.contains(&format!("[also: {alias}]")), "{alias}");
        }
    }

    #[test]
    fn what_clap_debugs() {
        command().debug_assert();
    }
}
