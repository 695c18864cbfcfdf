//! `permil verify`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::session::Session;
use super::shared::Shown;
use crate::certificate;
use crate::escape::escaped;
use crate::questions::{Resolved, verify};
use crate::store::{Disk, Store};

const AFTER_HELP: &str = "\
Examples:
  permil propose brief.toml --save best.toml --certificate best.proof
  permil verify brief.toml best.toml best.proof
  permil verify brief.toml none.proof      (that no blend can meet the brief)

Exit status:
  0  proven
  1  not proven: the certificate or the formula does not hold what is claimed
  2  wrong usage, or a fault in the files";

/// Check a proof that `propose --certificate` wrote
///
/// Checks that the formula keeps every rule, works out its loss, and checks
/// the certificate: a list of cases that between them cover every formula, and
/// for each the multipliers that rule it out. The check computes in exact
/// fractions and shares no code with the search.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief
    brief: PathBuf,
    /// The formula, unless the certificate says that there is none, and the
    /// certificate
    #[arg(required = true, num_args = 1..=2, value_names = ["FORMULA", "CERTIFICATE"])]
    files: Vec<PathBuf>,
    #[command(flatten)]
    shown: Shown,
}

/// Reads all three and checks them.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    let mut scenario = session.scenario(&args.brief)?;
    let (formula, path) = match &args.files[..] {
        [formula, certificate] => (Some(formula), certificate),
        [certificate] => (None, certificate),
        _ => return Ok(Ending::Wrong),
    };
    let formula = match formula {
        Some(path) => Some(session.formula(path, &scenario.palette, &mut scenario.warnings)?),
        None => None,
    };
    let shown = escaped(&path.to_string_lossy());
    let wrong = |why: String| CliError::Wrong(format!("{shown} {why}"));
    let text = Disk.text(path, certificate::MOST_BYTES).map_err(|why| wrong(why.to_string()))?;
    let certificate = certificate::read(&text).map_err(|why| wrong(format!("is no certificate: {why}")))?;
    // What the problem warns of is a matter of the proposal, not of its proof.
    let warnings = scenario.warnings.clone();
    let mut resolved = Resolved::from(scenario);
    resolved.warnings = warnings;
    session.warn(&resolved.warnings);
    let answer = verify::ask(&resolved, formula.as_ref(), &certificate);
    session.answer(&answer.report, answer.outcome())
}
