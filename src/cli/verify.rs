//! `permil verify`.

use std::path::PathBuf;

use super::Ending;
use super::output::{self, complain};
use super::shared::Shown;
use crate::analysis::basis::in_basis;
use crate::analysis::verify::Verification;
use crate::certificate;
use crate::escape::escaped;
use crate::files::{Scenario, load_formula_with_warnings, load_scenario};
use crate::problem::Problem;
use crate::results::states::Certified;
use crate::results::verify::VerifyReport;
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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let scenario = match load_scenario(&args.brief) {
        Ok(scenario) => scenario,
        Err(faults) => return output::faults(&faults, colour),
    };
    let Scenario { palette, brief, limits, mut warnings } = scenario;
    let problem = Problem::new(palette, &brief, &limits);
    let (formula, path) = match &args.files[..] {
        [formula, certificate] => (Some(formula), certificate),
        [certificate] => (None, certificate),
        _ => return Ending::Wrong,
    };
    let formula = match formula.map(|path| load_formula_with_warnings(path, &problem.palette)) {
        None => None,
        Some(Err(faults)) => return output::faults(&faults, colour),
        Some(Ok((formula, more))) => {
            warnings.extend(more);
            Some(formula)
        }
    };
    let shown = escaped(&path.to_string_lossy());
    let text = match Disk.text(path, certificate::MOST_BYTES) {
        Ok(text) => text,
        Err(why) => {
            complain(&format!("{shown} {why}"));
            return Ending::Wrong;
        }
    };
    let certificate = match certificate::read(&text) {
        Ok(certificate) => certificate,
        Err(unreadable) => {
            complain(&format!("{shown} is no certificate: {unreadable}"));
            return Ending::Wrong;
        }
    };
    output::warn(&warnings, args.shown.quiet);
    let formula = formula.map(|formula| in_basis(&problem.palette, &formula, problem.basis));
    let verification = Verification::of(&problem, &brief, formula.as_ref(), &certificate);
    let report = VerifyReport::new(&problem, &brief, formula.is_some(), verification, warnings);
    let ending = if report.status == Certified::Proven { Ending::Done } else { Ending::No };
    output::answer(&report, args.shown.format.into(), colour, ending)
}
