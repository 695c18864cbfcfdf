//! What the report of `weigh` holds.

use serde::Serialize;

use crate::brief::{Basis, Match};
use crate::results::broken::BrokenLine;
use crate::results::{AdviceLine, Care, IdleReport, JointLine, LimitLine, Ordered, UsualLine};
use crate::solve::Status;
use crate::units::Ppt;

/// A sheet to weigh from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeighReport {
    /// Version of the JSON.
    pub schema: u32,
    /// `weigh`.
    pub command: &'static str,
    /// Title of the formula.
    pub title: Option<String>,
    /// The formula's file.
    pub formula_file: String,
    /// The brief's file; null without one.
    pub brief: Option<String>,
    /// The palette's file.
    pub palette: String,
    /// Scores run from 0 to this.
    #[serde(skip)]
    pub scale: f64,
    /// Label of the currency.
    pub currency: String,
    /// How the brief compares; null without one.
    #[serde(rename = "match")]
    pub matching: Option<Match>,
    /// Seed of the simulation.
    pub seed: u64,
    /// `neat` or `bottle`: what the batch and the doses count.
    pub basis: Basis,
    /// Grams of neat accord, or of what is poured in basis bottle.
    pub batch: f64,
    /// What the balance shows last, in grams.
    pub balance: f64,
    /// The wanted error of a weighing in percent; null with the
    /// pharmacopoeial rule.
    pub error: Option<f64>,
    /// The least mass that weighs well enough, in grams.
    pub least: f64,
    /// Bases that were replaced by what they are mixed from.
    pub unfolded: Vec<String>,
    /// What to pour, in the order of weighing, into one vessel.
    pub lines: Vec<WeighLine>,
    /// All that is poured, in grams.
    pub poured_grams: f64,
    /// Neat accord in it, in grams.
    pub neat_grams: f64,
    /// Percent of neat accord in it.
    pub concentration_percent: f64,
    /// Carriers that bottles bring, in grams; on top of the formula in basis
    /// neat.
    pub carriers: Ordered<f64>,
    /// What fills it up; null where no final mass was asked for.
    pub top_up: Option<TopUp>,
    /// What rounding to steps of the balance does.
    pub rounding: Rounding,
    /// What of the formula is idle weight; null where it has no odour.
    pub idle: Option<IdleReport>,
    /// The blend in points: as wanted, as weighed, and where nine of ten
    /// batches lie.
    pub profile: Vec<WeighedProfile>,
    /// The simulation; null where the formula has no odour.
    pub simulation: Option<Simulation>,
    /// The smallest batch, in grams, that needs no other dilution.
    pub smallest_batch: f64,
    /// The largest batch, in grams, that what is on hand allows; null where no
    /// stock is known.
    pub largest_batch: Option<f64>,
    /// What the batch costs; null where a price is missing.
    pub cost: Option<f64>,
    /// What has no price.
    pub without_price: Vec<String>,
    /// What `--take` takes from the stock in the palette; null without it.
    pub taken: Option<TakenReport>,
    /// What to do where too much was poured; null where nothing was said to be
    /// in the vessel.
    pub overshoot: Option<Overshoot>,
    /// Every restriction that holds, of what is weighed, the fullest first.
    pub limits: Vec<LimitLine>,
    /// Shared limits.
    pub joints: Vec<JointLine>,
    /// Advice of the palette.
    pub advice: Vec<AdviceLine>,
    /// What was checked and what was not.
    pub care: Care,
    /// What may not be what was meant.
    pub warnings: Vec<String>,
}

/// One thing to pour.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeighLine {
    /// The material.
    pub material: String,
    /// Its CAS number.
    pub cas: Option<String>,
    /// Percent of neat material in the bottle; 100 when neat.
    pub bottle_percent: f64,
    /// What it is diluted in.
    pub bottle_carrier: Option<String>,
    /// Whether it is another bottle than the usual one.
    pub other_bottle: bool,
    /// Percent of neat material in the usual bottle, which reports of formulas
    /// count on; 100 when neat.
    pub usual_percent: f64,
    /// Grams to pour, as the balance shows them.
    pub grams: f64,
    /// What the balance shows after it, in grams.
    pub reading: f64,
    /// Grams to pour if the balance showed all.
    pub exact_grams: f64,
    /// Half a step of the balance in percent of the grams.
    pub error_percent: f64,
    /// Whether it weighs less than the least mass.
    pub below_least: bool,
    /// The dose that is wanted, in ppt of the basis.
    pub parts: Ppt,
    /// The dose that results.
    pub parts_weighed: f64,
    /// The usual doses, and whether the one that is wanted is among them; left out
    /// where the palette names none of any material.
    #[serde(flatten)]
    pub usual: Option<UsualLine>,
    /// What to do before or while weighing it.
    pub handling: Option<String>,
    /// Grams on hand in this bottle.
    pub stock: Option<f64>,
    /// Grams that are missing; null where there are enough or nobody knows.
    pub stock_missing: Option<f64>,
    /// The dilution to make; null where none is needed or none helps.
    pub remedy: Option<Remedy>,
}

/// What is taken from the stock.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TakenReport {
    /// The materials, in the order of weighing.
    pub lines: Vec<TakenLine>,
    /// Materials of which nothing is taken: their stock is not on file, or
    /// another bottle is poured than the one that it counts.
    pub not_counted: Vec<String>,
}

/// What is taken from the stock of one material, in grams.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TakenLine {
    /// The material.
    pub material: String,
    /// On hand before.
    pub before: f64,
    /// What is poured.
    pub poured: f64,
    /// On hand after it.
    pub after: f64,
}

/// A dilution to make.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remedy {
    /// Percent by mass of neat material.
    pub percent: f64,
    /// The carrier.
    pub carrier: String,
    /// Grams to pour of it then.
    pub grams: f64,
    /// How it is made, one mixing after the other.
    pub mixings: Vec<MixingLine>,
    /// What to write on the bottle.
    pub label: String,
}

/// One mixing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MixingLine {
    /// Percent of the bottle that is diluted.
    pub from_percent: f64,
    /// Grams taken of it.
    pub take_grams: f64,
    /// Grams of carrier.
    pub carrier_grams: f64,
    /// Percent of what it gives.
    pub gives_percent: f64,
}

/// A carrier that fills up to a final mass.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TopUp {
    /// The final mass, in grams.
    pub total: f64,
    /// The carrier.
    pub carrier: Option<String>,
    /// Grams left to add, as the balance shows them; 0 where there are none.
    pub left_grams: f64,
    /// Grams that are already too much; 0 where there are none.
    pub too_much_grams: f64,
    /// What the balance shows at the end.
    pub reading: f64,
    /// Percent of neat accord then.
    pub concentration_percent: f64,
    /// The largest batch that fits into the final mass, in grams.
    pub batch_that_fits: f64,
}

/// What rounding does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rounding {
    /// Half the sum of the differences of the odour shares, in points from 0
    /// to 100.
    pub share_distance: f64,
    /// Whether no other choice of neighbouring steps is nearer.
    pub proven: bool,
    /// Fidelity of the formula as written, in percent; null without a brief.
    pub fidelity_wanted: Option<f64>,
    /// Fidelity of what is weighed.
    pub fidelity_weighed: Option<f64>,
    /// The second opinion on the formula as written.
    pub second_wanted: Option<f64>,
    /// The second opinion on what is weighed.
    pub second_weighed: Option<f64>,
}

/// A descriptor of the blend.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WeighedProfile {
    /// The word.
    pub descriptor: String,
    /// Of the formula as written, in points.
    pub wanted: f64,
    /// Of the masses on the sheet.
    pub weighed: f64,
    /// The lower end of what nine of ten batches have.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// What the errors of all weighings together do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Simulation {
    /// Batches that were tried.
    pub draws: usize,
    /// Percent of them that lie between the ends.
    pub inside_percent: f64,
    /// Lower end of the fidelity in percent; null without a brief.
    pub fidelity_low: Option<f64>,
    /// Upper end.
    pub fidelity_high: Option<f64>,
    /// The largest distance of an end from the blend as weighed, in points.
    pub widest: f64,
}

/// What can be done about what was poured.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Overshoot {
    /// (material, grams) in the vessel.
    pub in_vessel: Ordered<f64>,
    /// Whether any of it is too much.
    pub is_over: bool,
    /// A larger batch that holds the formula; null where nothing is too much.
    pub larger: Option<WayOut>,
    /// The best formula in the batch that was meant, with what is in the
    /// vessel; null likewise, and where there is none.
    pub same: Option<WayOut>,
    /// `optimal`, `feasible`, `infeasible` or `unknown`: how sure it is that the
    /// same batch has no better formula; null where nothing is too much.
    pub same_status: Option<Status>,
    /// Where there is none: rules that what is in the vessel does not let stand
    /// together.
    pub same_conflict: Vec<BrokenLine>,
    /// A fresh start in another vessel; null where nothing is too much.
    pub fresh: Option<WayOut>,
    /// What is in the vessel, in grams, which a fresh start wastes.
    pub wasted_grams: f64,
    /// What that cost; null where nothing is too much, or a price is missing.
    pub wasted_cost: Option<f64>,
}

/// One way out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WayOut {
    /// The batch in grams.
    pub batch: f64,
    /// What to pour still.
    pub lines: Vec<AddLine>,
    /// Half the sum of the differences of the odour shares from the formula,
    /// in points from 0 to 100.
    pub share_distance: f64,
    /// Fidelity in percent; null without a brief.
    pub fidelity: Option<f64>,
    /// What it costs; null where a price is missing.
    pub cost: Option<f64>,
    /// Rules of the brief, stocks (`stock:NAME`) and least masses
    /// (`least:NAME`) that it does not keep.
    pub broken: Vec<BrokenLine>,
}

/// What to pour still of a material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AddLine {
    /// The material.
    pub material: String,
    /// Percent of neat material in the bottle.
    pub bottle_percent: f64,
    /// Grams to add.
    pub add_grams: f64,
    /// What the balance shows after it.
    pub reading: f64,
    /// Grams of it in the end.
    pub grams: f64,
    /// The dose that results, in ppt of the basis.
    pub parts_weighed: f64,
}
