//! `permil report`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::save::spares_input;
use super::session::Session;
use super::shared::{FormatName, Search, Shown, in_range, present_day};
use crate::dossier::files::Fingerprint;
use crate::dossier::page;
use crate::files::{could_save, save_text};
use crate::questions::report::{self, Asked, Reader};
use crate::questions::{Resolved, weigh};

const AFTER_HELP: &str = "\
Examples:
  permil report profiles/rose-otto/brief.toml --save report.html
  permil report brief.toml --formula mod-3.toml --save mod-3.html
  permil report brief.toml --save report.html --batch 2 --balance 0.0001
  permil report brief.toml --for client --save for-the-client.html

Exit status:
  0  a report on a formula
  1  no blend can meet the brief: the report says why; or the parts of the
     formula do not add up to 1000
  2  wrong usage, a fault in the files, or --save refused
  3  stopped without an answer, or a result failed its own check";

/// Write everything about a brief and its formula to one page
///
/// On its first page the verdict, the formula, and target and blend; then the brief
/// in words, what money buys, how far
/// each dose and each strong material may go, six starting points, limits and
/// label, the sheet to weigh from, and what is proven and how sure it is: one
/// HTML file with everything inside, to keep, to print on A4 or to send. The
/// same files give the same page on one day as long as every answer is proven in
/// the time allowed.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// Report on this formula instead of the proposal
    #[arg(long, value_name = "FILE")]
    formula: Option<PathBuf>,
    /// Who reads it: a client's page has no formula, doses, costs, shelf or files
    #[arg(long = "for", value_enum, default_value_t, value_name = "READER")]
    reader: ReaderName,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long, requires = "formula")]
    rescale: bool,
    /// Grams of the batch on the sheet to weigh from
    #[arg(long, value_name = "GRAMS", default_value_t = weigh::Asked::BATCH_GRAMS, value_parser = grams, allow_negative_numbers = true)]
    batch: f64,
    /// What the balance shows last, in grams
    #[arg(long, value_name = "GRAMS", default_value_t = weigh::Asked::STEP_GRAMS, value_parser = step, allow_negative_numbers = true)]
    balance: f64,
    /// The page to write
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    save: PathBuf,
    /// Let --save overwrite an older page
    #[arg(long, help_heading = "Output")]
    force: bool,
    #[command(flatten)]
    search: Search,
    /// No progress and no warnings on standard error
    #[arg(long, short, help_heading = "Output")]
    quiet: bool,
    /// When to use colour
    #[arg(long, value_enum, default_value_t, value_name = "WHEN", help_heading = "Output")]
    color: super::colour::Colour,
}

/// Who reads the report.
#[derive(Clone, Copy, Debug, Default, clap::ValueEnum)]
enum ReaderName {
    /// You: everything
    #[default]
    #[value(name = "self")]
    Own,
    /// A client: target and blend, limits in counts, label names, cautions
    Client,
}

impl From<ReaderName> for Reader {
    fn from(name: ReaderName) -> Reader {
        match name {
            ReaderName::Own => Reader::Own,
            ReaderName::Client => Reader::Client,
        }
    }
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e6, "a number of grams")
}

fn step(text: &str) -> Result<f64, String> {
    match in_range(text, 1000.0, "a number of grams")? {
        step if step < 1e-6 => Err("expected a number of grams, at least 0.000001".to_owned()),
        step => Ok(step),
    }
}

/// Asks every question of the brief and writes the page.
///
/// # Errors
/// Why there is no page.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&Shown { format: FormatName::Text, full: false, quiet: args.quiet, color: args.color });
    let mut scenario = session.scenario(&args.brief)?;
    spares_input(&args.save, "--save", &scenario)?;
    weigh::weighable(args.batch, args.balance)?;
    let given = session.given(args.formula.as_deref(), args.rescale, &mut scenario)?;
    // Before the search, so that nobody waits for what is then lost.
    may_write(args)?;
    let resolved = Resolved::from(scenario);
    session.warn(&resolved.warnings);
    let asked = Asked {
        formula: given.as_ref(),
        batch_grams: args.batch,
        step_grams: args.balance,
        method: args.search.solver.into(),
        reader: args.reader.into(),
    };
    let answer =
        session.work(&args.search, Some(&resolved.problem), |control| report::ask(&resolved, &asked, control))?;
    let mut files = Fingerprint::of_all(&session.store, &resolved);
    let file = given.as_ref().and_then(|formula| formula.file.as_ref());
    files.extend(file.map(|file| Fingerprint::of(&session.store, file)));
    save_text(&args.save, &page(&answer, &files, Some(present_day())), args.force)?;
    Ok(session.end(answer.outcome()))
}

fn may_write(args: &Args) -> Result<(), CliError> {
    let ending = args.save.extension().map(|extension| extension.to_string_lossy().to_ascii_lowercase());
    if !matches!(ending.as_deref(), Some("html" | "htm")) {
        return Err(CliError::Wrong("--save writes a page; give a file that ends in .html".to_owned()));
    }
    could_save(&args.save, args.force).map_err(CliError::refused)
}
