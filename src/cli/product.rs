//! `permil product`.

use std::path::PathBuf;

use super::error::CliError;
use super::session::{Session, adds_up};
use super::shared::{Shown, in_range, unfolded};
use super::{Ending, names};
use crate::balance::product::labels;
use crate::balance::unfold::Unfolded;
use crate::files::{Mixed, load_limits, load_mixed};
use crate::questions::product::{self, Asked, Subject};

const AFTER_HELP: &str = "\
Examples:
  permil product mod-3.toml --limits limits.toml --category 4 --dosage 18
  permil product batch.toml --limits limits.toml --category 4 --dosage 18 \\
    --batch 50
  permil product mod-3.toml --limits profiles/limits/ifra.toml \\
    --limits profiles/limits/eu.toml --limits profiles/limits/eu-allergens.toml \\
    --category 4,leave-on,fine-fragrance --dosage 18 --batch 50 --alcohol 85

Exit status:
  0  every limit that was given is kept
  1  a limit is exceeded at this dosage, or the parts of the formula do not add
     up to 1000
  2  wrong usage, or a fault in the files";

/// Work out the finished product: limits, dosage, label, mixture
///
/// Says whether the limits are kept, the highest dosage that keeps them all,
/// which names must be on the label, and with --batch what to mix. With --full
/// also what every restriction uses and what brings it, and the highest dosage
/// in every category of the limits files.
///
/// The highest dosage is "not established" where any material has no figure on
/// file and was not looked up: the figure beside it is what the figures on file
/// allow, and says nothing of the rest.
///
/// The accord is poured with its solvents, which take the place of ethanol and
/// count towards the limits: those of a batch as it was weighed, those of a
/// formula as if poured from the usual bottles. For orientation: the edition in
/// force where the product is sold and a qualified assessor decide.
#[derive(Debug, clap::Args)]
#[command(after_help = AFTER_HELP)]
pub struct Args {
    /// The formula, or a batch that `weigh --save` wrote; it names its palette
    formula: PathBuf,
    /// Limits to keep and label lists; several files can be given
    #[arg(long, required = true, value_name = "FILE")]
    limits: Vec<PathBuf>,
    /// Labels of the product as the limits files use them, with commas between
    #[arg(long, required = true, value_name = "LABEL", value_delimiter = ',')]
    category: Vec<String>,
    /// Percent of concentrate in the finished product
    #[arg(long, value_name = "PERCENT", value_parser = percent, allow_negative_numbers = true)]
    dosage: f64,
    /// Percent of the concentrate that is this accord
    #[arg(long, value_name = "PERCENT", default_value_t = Asked::ACCORD_SHARE_PERCENT, value_parser = percent, allow_negative_numbers = true)]
    share: f64,
    /// Grams of finished product to mix
    #[arg(long, value_name = "GRAMS", value_parser = grams, allow_negative_numbers = true)]
    batch: Option<f64>,
    /// Strength in percent by volume of the ethanol and water that the
    /// concentrate goes into; that of the ethanol at hand unless said
    #[arg(long, value_name = "PERCENT", value_parser = percent, requires = "batch", allow_negative_numbers = true)]
    alcohol: Option<f64>,
    /// Strength in percent by volume of the ethanol at hand
    #[arg(long, value_name = "PERCENT", default_value_t = Asked::ETHANOL_PERCENT, value_parser = percent, allow_negative_numbers = true)]
    ethanol: f64,
    /// Name what the bases of the formula are mixed from, in their place
    #[arg(long)]
    unfold: bool,
    /// Scale a formula whose parts do not add up to 1000
    #[arg(long)]
    rescale: bool,
    #[command(flatten)]
    shown: Shown,
}

fn percent(text: &str) -> Result<f64, String> {
    in_range(text, 100.0, "a percentage")
}

fn grams(text: &str) -> Result<f64, String> {
    in_range(text, 1e9, "a number of grams")
}

/// Reads formula and limits and reports.
///
/// # Errors
/// Why there is nothing to report.
pub fn run(args: &Args) -> Result<Ending, CliError> {
    let session = Session::new(&args.shown);
    // The faults of all the files are told in one run.
    let mut errors = Vec::new();
    let read = load_mixed(&args.formula).map_err(|faults| errors.push(session.faulty(faults)));
    let limits = args.limits.iter().map(|path| load_limits(path).map_err(|faults| errors.push(session.faulty(faults))));
    let limits: Vec<_> = limits.filter_map(Result::ok).collect();
    let Ok((palette, mixed, warnings)) = read else { return Err(CliError::Several(errors)) };
    CliError::all(errors)?;
    let (formula, batch) = match mixed {
        Mixed::Formula(formula) => (formula, None),
        Mixed::Batch(batch) => (batch.formula(), Some(batch)),
    };
    adds_up(&formula, &args.formula, args.rescale)?;
    let vessel = product::vessel(&palette, &formula, batch.as_ref());
    let Unfolded { palette, formula, bases: unfolded } =
        unfolded(args.unfold, palette, formula).map_err(CliError::Wrong)?;
    let (categories, mut errors) = categories(args, &labels(&limits));
    let asked = Asked {
        categories,
        dosage_percent: args.dosage,
        accord_share_percent: args.share,
        batch_grams: args.batch,
        alcohol_percent: args.alcohol,
        ethanol_percent: args.ethanol,
    };
    let mix = product::mix(&vessel, &asked).unwrap_or_else(|refusal| {
        errors.push(refusal.into());
        None
    });
    CliError::all(errors)?;
    session.warn(&warnings);
    let (formula, vessel, batch) = (&formula, &vessel, batch.as_ref());
    let subject = Subject { palette, formula, unfolded, vessel, batch, limits: &limits, warnings };
    let answer = product::ask(subject, &asked, mix);
    session.answer(&answer.report, answer.outcome())
}

/// The categories as the limits files write them, and what is wrong with others.
fn categories(args: &Args, known: &[&str]) -> (Vec<String>, Vec<CliError>) {
    let (mut categories, mut errors): (Vec<String>, Vec<CliError>) = (Vec::new(), Vec::new());
    for asked in args.category.iter().map(|label| label.trim()) {
        match names::find(asked, known, "label of the limits files") {
            Ok(at) if categories.iter().any(|label| label == known[at]) => {}
            Ok(at) => categories.push(known[at].to_owned()),
            Err(complaint) => errors.push(CliError::Wrong(complaint)),
        }
    }
    (categories, errors)
}
