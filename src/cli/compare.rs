//! `permil compare`.

use std::path::PathBuf;

use super::Ending;
use super::error::CliError;
use super::plot::ProfilePlotting;
use super::session::Session;
use super::shared::{Sections, Shown};
use crate::chart::profile::ProfileChart;
use crate::questions::Resolved;
use crate::questions::compare::{self, Asked};

const AFTER_HELP: &str = "\
Examples:
  permil compare profiles/rose-otto/brief.toml profiles/rose-otto/mod-1.toml
  permil compare brief.toml mod-1.toml mod-2.toml mod-3.toml
  permil compare brief.toml mod-1.toml mod-2.toml --plot mods.svg

Exit status:
  0  compared, whether or not a formula breaks rules
  1  the parts of a formula do not add up to 1000
  2  wrong usage, a fault in the files, or --plot refused";

/// Set formulas side by side with the target of a brief
///
/// Says for every formula how near it comes to the target, what it costs, how
/// strong it is, which rules of the brief it breaks and how far it uses the
/// limits, and what differs between them. A formula whose parts do not add up
/// to 1000 is reported with its sum, and used only with --rescale.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The brief: target and rules
    brief: PathBuf,
    /// The formulas
    #[arg(required = true, value_name = "FORMULA")]
    formulas: Vec<PathBuf>,
    /// Scale formulas whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    plotting: ProfilePlotting,
    #[command(flatten)]
    shown: Shown,
    #[command(flatten)]
    sections: Sections,
}

/// Reads brief and formulas and compares them.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown).with(args.sections);
    let scenario = session.scenario(&args.brief)?;
    args.plotting.allowed(args.formulas.len(), &scenario)?;
    let mut resolved = Resolved::from(scenario);
    let formulas = session.formulas(&args.formulas, &mut resolved)?;
    session.warn(&resolved.warnings);
    let answer = compare::ask(&resolved, &Asked { formulas: &formulas, rescale: args.rescale });
    let draw = || args.plotting.drawn(|| ProfileChart::of_comparison(&answer.report));
    session.drawn(&answer.report, answer.outcome(), draw)
}
