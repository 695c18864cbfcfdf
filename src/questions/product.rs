//! What becomes of a formula in the finished product: limits, highest dosage,
//! label and mixture.

use super::{Outcome, Refusal};
use crate::balance::ethanol::mixture;
use crate::balance::own::own_problem;
use crate::balance::product::Plan;
use crate::balance::vessel::Vessel;
use crate::batch::Batch;
use crate::formula::Formula;
use crate::limits::Limits;
use crate::number::{plain, rounded_down};
use crate::palette::Palette;
use crate::results::product::{Mix, ProductReport};

/// What is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Labels of the product, as the limits files use them.
    pub categories: Vec<String>,
    /// Percent of concentrate in the finished product.
    pub dosage_percent: f64,
    /// Percent of the concentrate that is this accord.
    pub accord_share_percent: f64,
    /// Grams of finished product to mix, if it is to be mixed.
    pub batch_grams: Option<f64>,
    /// Strength by volume of the ethanol and water that the concentrate goes
    /// into, in percent; that of the ethanol at hand unless said.
    pub alcohol_percent: Option<f64>,
    /// Strength by volume of the ethanol at hand, in percent.
    pub ethanol_percent: f64,
}

impl Asked {
    /// Percent of the concentrate that is the accord unless said.
    pub const ACCORD_SHARE_PERCENT: f64 = 100.0;
    /// Strength of the ethanol at hand unless said, in percent by volume.
    pub const ETHANOL_PERCENT: f64 = 96.0;
}

/// The accord as it stands in its vessel: that of a batch as it was weighed, that
/// of a formula as if poured from the usual bottles. Bases stand on the shelf in
/// bottles of their own: what is poured does not depend on whether they are
/// unfolded.
pub fn vessel(palette: &Palette, formula: &Formula, batch: Option<&Batch>) -> Vessel {
    match batch {
        Some(batch) => Vessel::weighed(batch),
        None => {
            let poured = formula.rescaled();
            Vessel::assumed(&own_problem(palette.clone(), &poured), &poured)
        }
    }
}

/// What is mixed, if that is wanted.
///
/// # Errors
/// So much concentrate does not fit, or the ethanol is too weak.
pub fn mix(vessel: &Vessel, asked: &Asked) -> Result<Option<Mix>, Refusal> {
    let (dosage, share) = (asked.dosage_percent, asked.accord_share_percent);
    let Some(shares) = vessel.shares(asked.batch_grams.unwrap_or(1.0), dosage, share) else {
        let (stands, most) = (vessel.accord_percent, vessel.most_dosage_percent(share));
        let (stands, most, dosage) = (rounded_down(stands, 2), rounded_down(most, 2), plain(dosage));
        return Err(Refusal::Wrong(format!(
            "accord concentration in the vessel: {stands} %; {dosage} % concentrate does not fit, {most} % does"
        )));
    };
    let Some(grams) = asked.batch_grams else { return Ok(None) };
    let ethanol_percent = asked.ethanol_percent;
    let solvent_percent = asked.alcohol_percent.unwrap_or(ethanol_percent);
    let solvent = mixture(shares.solvent_grams, solvent_percent, ethanol_percent).ok_or_else(|| {
        Refusal::Wrong(format!("ethanol of {ethanol_percent} % cannot make a mixture of {solvent_percent} %"))
    })?;
    Ok(Some(Mix { grams, shares, solvent, solvent_percent, ethanol_percent }))
}

/// What goes into the product.
#[derive(Clone, Debug)]
pub struct Subject<'a> {
    /// The shelf.
    pub palette: Palette,
    /// The formula; scaled where its parts do not add up to 1000.
    pub formula: &'a Formula,
    /// Bases that were replaced by what they are mixed from.
    pub unfolded: Vec<String>,
    /// The vessel that it stands in.
    pub vessel: &'a Vessel,
    /// The batch that it was weighed as, if it was.
    pub batch: Option<&'a Batch>,
    /// Limits to keep and label lists.
    pub limits: &'a [Limits],
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// The finished product.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All of it.
    pub report: ProductReport,
}

impl Answer {
    /// How it ended: a no where a limit is passed.
    pub fn outcome(&self) -> Outcome {
        if self.report.passed.is_empty() { Outcome::Answered } else { Outcome::No }
    }
}

/// Works the product out; `mix` is what [`mix`] gave.
pub fn ask(of: Subject<'_>, asked: &Asked, mix: Option<Mix>) -> Answer {
    let plan = Plan {
        categories: asked.categories.clone(),
        dosage_percent: asked.dosage_percent,
        accord_share_percent: asked.accord_share_percent,
    };
    let (formula, poured) = (of.formula.rescaled(), (of.vessel, of.batch));
    let report = ProductReport::new(of.palette, &formula, of.limits, &plan, poured, mix, of.warnings);
    Answer { report: ProductReport { unfolded: of.unfolded, ..report } }
}
