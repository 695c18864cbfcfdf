//! `permil product`.

use std::path::PathBuf;

use super::output::{self, complain};
use super::shared::{Shown, in_range, unfolded};
use super::{Ending, names};
use crate::balance::ethanol::mixture;
use crate::balance::own::own_problem;
use crate::balance::product::{Plan, labels};
use crate::balance::unfold::Unfolded;
use crate::balance::vessel::Vessel;
use crate::escape::escaped;
use crate::files::{Mixed, load_limits, load_mixed};
use crate::number::{plain, rounded_down};
use crate::results::product::{Mix, ProductReport};
use crate::units::Ppt;

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
    #[arg(long, value_name = "PERCENT", default_value = "100", value_parser = percent, allow_negative_numbers = true)]
    share: f64,
    /// Grams of finished product to mix
    #[arg(long, value_name = "GRAMS", value_parser = grams, allow_negative_numbers = true)]
    batch: Option<f64>,
    /// Strength in percent by volume of the ethanol and water that the
    /// concentrate goes into; that of the ethanol at hand unless said
    #[arg(long, value_name = "PERCENT", value_parser = percent, requires = "batch", allow_negative_numbers = true)]
    alcohol: Option<f64>,
    /// Strength in percent by volume of the ethanol at hand
    #[arg(long, value_name = "PERCENT", default_value = "96", value_parser = percent, allow_negative_numbers = true)]
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
pub fn run(args: &Args) -> Ending {
    let colour = args.shown.color;
    let mut ending = Ending::Done;
    let read = load_mixed(&args.formula).map_err(|faults| ending = output::faults(&faults, colour)).ok();
    let mut limits = Vec::new();
    for path in &args.limits {
        match load_limits(path) {
            Ok(file) => limits.push(file),
            // The faults of all the files are told in one run.
            Err(faults) => ending = output::faults(&faults, colour),
        }
    }
    let Some((palette, mixed, warnings)) = read.filter(|_| ending == Ending::Done) else { return ending };
    let (formula, batch) = match mixed {
        Mixed::Formula(formula) => (formula, None),
        Mixed::Batch(batch) => (batch.formula(), Some(batch)),
    };
    if formula.sum() != Ppt::WHOLE && !args.rescale {
        let file = escaped(&args.formula.to_string_lossy());
        complain(&format!("the parts of {file} add up to {}, not 1000; --rescale scales them", formula.sum()));
        return Ending::No;
    }
    // Bases stand on the shelf in bottles of their own: what is poured does not
    // depend on whether they are unfolded.
    let poured = formula.rescaled();
    let vessel = match &batch {
        Some(batch) => Vessel::weighed(batch),
        None => Vessel::assumed(&own_problem(palette.clone(), &poured), &poured),
    };
    let Unfolded { palette, formula, bases: unfolded } = match unfolded(args.unfold, palette, formula) {
        Ok(unfolded) => unfolded,
        Err(why) => {
            complain(&why);
            return Ending::Wrong;
        }
    };
    let known = labels(&limits);
    let mut categories: Vec<String> = Vec::new();
    for asked in args.category.iter().map(|label| label.trim()) {
        match names::find(asked, &known, "label of the limits files") {
            Ok(at) if categories.iter().any(|label| label == known[at]) => {}
            Ok(at) => categories.push(known[at].to_owned()),
            Err(complaint) => {
                complain(&complaint);
                ending = Ending::Wrong;
            }
        }
    }
    let strength = args.alcohol.unwrap_or(args.ethanol);
    let plan = Plan { categories, dosage_percent: args.dosage, accord_share_percent: args.share };
    let mut mix = None;
    let shares = vessel.shares(args.batch.unwrap_or(1.0), args.dosage, args.share);
    if shares.is_none() {
        let (stands, most) = (vessel.accord_percent, vessel.most_dosage_percent(args.share));
        let (stands, most, dosage) = (rounded_down(stands, 2), rounded_down(most, 2), plain(args.dosage));
        complain(&format!(
            "accord concentration in the vessel: {stands} %; {dosage} % concentrate does not fit, {most} % does"
        ));
        ending = Ending::Wrong;
    }
    if let (Some(grams), Some(shares)) = (args.batch, shares) {
        match mixture(shares.solvent_grams, strength, args.ethanol) {
            Some(solvent) => {
                mix = Some(Mix { grams, shares, solvent, solvent_percent: strength, ethanol_percent: args.ethanol });
            }
            None => {
                complain(&format!("ethanol of {} % cannot make a mixture of {strength} %", args.ethanol));
                ending = Ending::Wrong;
            }
        }
    }
    if ending != Ending::Done {
        return ending;
    }
    output::warn(&warnings, args.shown.quiet);
    let formula = formula.rescaled();
    let poured = (&vessel, batch.as_ref());
    let report =
        ProductReport { unfolded, ..ProductReport::new(palette, &formula, &limits, &plan, poured, mix, warnings) };
    let ending = if report.passed.is_empty() { Ending::Done } else { Ending::No };
    output::answer(&report, &args.shown, ending)
}
