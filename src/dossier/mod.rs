//! The report to keep or send: everything that is known of a brief and its
//! formula on one page that needs nothing else.
//!
//! [`gather`] asks the questions, [`page`] sets the answers as HTML: fonts and
//! drawings inside, no script, no address of any network. The same input gives
//! the same bytes as long as every answer was proven in the time allowed.

pub mod files;
pub mod gather;
mod page;
mod parts;

pub use page::page;

use crate::brief::Brief;
use crate::problem::Problem;
use crate::results::leeway::LeewayReport;
use crate::results::propose::ProposeReport;
use crate::results::push::PushReport;
use crate::results::starts::StartsReport;
use crate::results::tradeoff::TradeoffReport;
use crate::results::weigh::WeighReport;
use crate::results::{Care, FormulaReport};

/// Everything that the page tells.
#[derive(Debug)]
pub struct Dossier<'a> {
    /// The brief's problem.
    pub problem: &'a Problem,
    /// The brief.
    pub brief: &'a Brief,
    /// The proposal, with what holds it back; or why there is none.
    pub proposal: ProposeReport,
    /// The formula that the page is about.
    pub subject: Option<Subject>,
    /// What money buys; `None` where prices are missing.
    pub tradeoff: Option<TradeoffReport>,
    /// How far its doses may go.
    pub leeway: Option<LeewayReport>,
    /// How far its strongest materials can go.
    pub pushes: Vec<PushReport>,
    /// Formulas to smell side by side.
    pub starts: Option<StartsReport>,
    /// Names for the label, for each finished product.
    pub labels: Vec<LabelOf>,
    /// What to weigh.
    pub weigh: Option<WeighReport>,
    /// The files that it was made from.
    pub files: Vec<files::Fingerprint>,
}

/// The formula that a page is about.
#[derive(Clone, Debug)]
pub struct Subject {
    /// What it is called: "the proposal", or the title or file of a formula.
    pub name: String,
    /// Whether it is the proposal.
    pub is_proposal: bool,
    /// The formula, judged.
    pub formula: FormulaReport,
    /// Rules that it breaks, a sentence each.
    pub broken: Vec<String>,
    /// What was checked of it.
    pub care: Care,
}

/// What must stand on the label of a finished product.
#[derive(Clone, Debug)]
pub struct LabelOf {
    /// The product's name; `None` where the brief gives none.
    pub product: Option<String>,
    /// Whether a label list was given for its categories.
    pub checked: bool,
    /// Name and percent of the product of what must be named.
    pub named: Vec<(String, f64)>,
}
