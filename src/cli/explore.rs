//! `permil explore`.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use super::colour::Colour;
use super::error::CliError;
use super::output;
use super::shared::seconds;
use super::{Ending, stop};
use crate::explore::serve::{Closer, Doorstep, Explorer};
use crate::explore::{Desk, Options, check};
use crate::questions::Refusal;
use crate::store::Disk;

const AFTER_HELP: &str = "\
The page stays on this machine: it is served on 127.0.0.1 alone, answers no other \
page, and loads nothing from elsewhere. The printed address holds a key, new with each \
start: whoever has it can use the page, and other users of the machine cannot without \
it. Open it once, and a bookmark of the page works in that browser until the program \
ends; after a restart open the new address first, and give the same --port.

It writes no file until you press Save, and then beside the brief: new files, the brief \
itself, and what the page wrote before, never through a link.

Examples:
  permil explore profiles/rose-otto/brief.toml
  permil explore brief.toml --port 8080 --no-open

Exit status:
  0  ended by Ctrl-C or by the system
  2  wrong usage, a fault in the files, or a port that cannot be used
  3  the page could not be served";

/// Explore a brief on a page in the browser
///
/// Opens a page on which target, rules and shelf are moved, and the nearest
/// blend is found again with every move: the best over continuous doses at once,
/// the formula in your own doses as soon as it is proven. The page shows what
/// holds the formula back, what it could be traded for and what the limits
/// leave; formulas can be pinned and compared, and brief and formula saved. It
/// runs until Ctrl-C.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The port of 127.0.0.1; 0 takes any that is free
    #[arg(long, value_name = "PORT", default_value = "0")]
    port: u16,
    /// Do not open the browser; the address is printed either way
    #[arg(long)]
    no_open: bool,
    /// Stop each search after so many seconds with the best formula so far
    #[arg(long, value_name = "SECONDS", default_value = "10", value_parser = seconds, allow_negative_numbers = true, hide_short_help = true)]
    time_limit: f64,
    /// No warnings on standard error
    #[arg(long, short)]
    quiet: bool,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN")]
    color: Colour,
}

/// Serves the page until it is told to end.
///
/// # Errors
/// Why the page could not be shown any more, or not at all.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let time_limit = Duration::from_secs_f64(args.time_limit).max(Duration::from_millis(1));
    let options = Options::of(args.brief.clone(), time_limit);
    let warnings =
        check(&Desk::new(options.clone(), Arc::new(Disk))).map_err(|faults| CliError::Faults(faults, args.color))?;
    output::warn(&warnings, args.quiet);
    let explorer = Explorer::bind(args.port, options).map_err(|error| CliError::Wrong(error.to_string()))?;
    let closer = Closer::default();
    let closing = closer.clone();
    stop::on_signal(move || closing.close());

    let address = explorer.address();
    if output::print(
        &format!("{address}\nKeep the address to yourself: it opens the page. Ctrl-C ends it.\n"),
        Ending::Done,
    ) != Ending::Done
    {
        return Ok(Ending::Wrong);
    }
    // The key must not stand on a command line, which everybody can read.
    let step = if args.no_open { None } else { Doorstep::to(&address).ok() };
    let is_opened = step.as_ref().is_some_and(|step| open(step.path()));
    if !args.no_open && !is_opened && !args.quiet {
        let _ = writeln!(std::io::stderr().lock(), "no browser could be opened: open the address yourself");
    }
    explorer.serve(&closer).map_err(|error| Refusal::Stopped(error.to_string()))?;
    Ok(Ending::Done)
}

/// Asks the system to open a page, and does not wait for the browser.
fn open(page: &Path) -> bool {
    let mut command = if cfg!(target_os = "macos") {
        Command::new("open")
    } else if cfg!(target_os = "windows") {
        let mut command = Command::new("cmd");
        command.args(["/C", "start", ""]);
        command
    } else {
        Command::new("xdg-open")
    };
    command.arg(page).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().is_ok()
}
