//! The command line: one file for each command.

mod adjust;
mod applying;
mod buy;
mod check;
mod colour;
mod compare;
mod completions;
mod doubt;
mod error;
#[cfg(feature = "serve")]
mod explore;
mod export;
mod help;
mod import;
mod journal;
mod learn;
mod leeway;
mod lessons;
mod man;
mod many;
mod names;
mod new;
mod next;
mod output;
mod panic;
mod plot;
mod product;
mod progress;
mod propose;
mod push;
mod replace;
mod report;
mod save;
mod session;
mod shared;
mod sheets;
mod shelf;
mod starts;
mod stop;
mod strengths;
mod strip;
mod tradeoff;
mod verify;
mod weigh;

use std::process::ExitCode;
use std::sync::LazyLock;

use clap::{FromArgMatches, Parser, Subcommand};
use error::CliError;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// It did what was asked.
    Done,
    /// No: no blend can meet the rules, or a check found faults.
    No,
    /// Wrong usage or wrong input.
    Wrong,
    /// Stopped at a limit without an answer, or a result that failed its own
    /// check.
    NoAnswer,
}

impl Ending {
    /// The one of two that matters more: wrong input before a missing answer, that before
    /// a no.
    pub fn worse(self, other: Ending) -> Ending {
        let rank = |ending: Ending| match ending {
            Ending::Done => 0,
            Ending::No => 1,
            Ending::NoAnswer => 2,
            Ending::Wrong => 3,
        };
        if rank(other) > rank(self) { other } else { self }
    }
}

impl From<Ending> for ExitCode {
    fn from(ending: Ending) -> ExitCode {
        ExitCode::from(match ending {
            Ending::Done => 0,
            Ending::No => 1,
            Ending::Wrong => 2,
            Ending::NoAnswer => 3,
        })
    }
}

const ABOUT: &str = "Accords in parts per thousand, for perfumers";

const LONG_ABOUT: &str = "\
Accords in parts per thousand, for perfumers.

You describe your shelf (palette.toml): what each material smells of, how strong \
it is, what it costs. You describe what you want (brief.toml): a target and your \
rules. permil looks for the blend that comes nearest within every rule, and says \
how near the numbers are, and how sure. The nose decides.";

const EXIT_STATUSES: &str = "\
Exit status:
  0  done
  1  no: no blend can meet the rules, or a check found faults
  2  wrong usage or wrong input
  3  stopped at a limit without an answer, or a result failed its own check";

static LONG_VERSION: LazyLock<String> =
    LazyLock::new(|| format!("{}\n\nTo begin:\n  permil new mine\n  permil propose mine/brief.toml", crate::VERSION));

/// The command line as clap knows it; [`help::command`] is the whole of it, from
/// which help, completions and man page come.
#[derive(Debug, Parser)]
#[command(name = "permil", version = crate::VERSION, long_version = LONG_VERSION.as_str(), about = ABOUT, long_about = LONG_ABOUT, after_help = EXIT_STATUSES, max_term_width = 80)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Propose(propose::Args),
    #[cfg(feature = "serve")]
    Explore(explore::Args),
    Check(check::Args),
    Compare(compare::Args),
    Buy(buy::Args),
    Replace(replace::Args),
    Verify(verify::Args),
    Leeway(leeway::Args),
    Learn(learn::Args),
    Journal(journal::Args),
    Next(next::Args),
    #[command(visible_alias = "variants")]
    Starts(starts::Args),
    Adjust(adjust::Args),
    Tradeoff(tradeoff::Args),
    Product(product::Args),
    #[command(visible_alias = "range")]
    Push(push::Args),
    #[command(visible_alias = "certainty")]
    Doubt(doubt::Args),
    Shelf(shelf::Args),
    Strengths(strengths::Args),
    Strip(strip::Args),
    Import(import::Args),
    New(new::Args),
    Export(export::Args),
    Weigh(weigh::Args),
    Report(report::Args),
    Completions(completions::Args),
    Man(man::Args),
}

impl Command {
    fn run(self) -> Result<Ending, CliError> {
        match self {
            Command::Propose(args) => propose::run(&args),
            #[cfg(feature = "serve")]
            Command::Explore(args) => explore::run(&args),
            Command::Check(args) => check::run(&args),
            Command::Compare(args) => compare::run(&args),
            Command::Product(args) => product::run(&args),
            Command::Buy(args) => buy::run(&args),
            Command::Replace(args) => replace::run(&args),
            Command::Verify(args) => verify::run(&args),
            Command::Leeway(args) => leeway::run(&args),
            Command::Learn(args) => learn::run(&args),
            Command::Journal(args) => journal::run(&args),
            Command::Next(args) => next::run(&args),
            Command::Starts(args) => starts::run(&args),
            Command::Adjust(args) => adjust::run(&args),
            Command::Tradeoff(args) => tradeoff::run(&args),
            Command::Push(args) => push::run(&args),
            Command::Doubt(args) => doubt::run(&args),
            Command::Shelf(args) => shelf::run(&args),
            Command::Strengths(args) => strengths::run(&args),
            Command::Strip(args) => strip::run(&args),
            Command::Import(args) => import::run(&args),
            Command::New(args) => new::run(&args),
            Command::Export(args) => export::run(&args),
            Command::Weigh(args) => weigh::run(&args),
            Command::Report(args) => report::run(&args),
            Command::Completions(args) => Ok(completions::run(&args)),
            Command::Man(args) => man::run(&args),
        }
    }
}

/// Parses the command line of this process, runs the command and gives its
/// exit status. No panic leaves it.
pub fn main() -> ExitCode {
    panic::caught(|| match help::command().try_get_matches().and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli.command.run().unwrap_or_else(|error| error.tell()).into(),
        Err(error) => {
            // Help goes to standard output and a closed pipe is no fault.
            let _ = error.print();
            ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2))
        }
    })
    .unwrap_or_else(|| Ending::NoAnswer.into())
}
