//! Answers as text, JSON and CSV.
//!
//! Every command has one report type. It serialises to the JSON of that
//! command, and text and CSV are made from the same fields, so that no format
//! can say what another does not know.

pub mod adjust;
pub mod buy;
mod care;
pub mod check;
pub mod compare;
mod coverage;
mod csv;
pub mod doubt;
pub mod finding;
mod formula;
mod head;
pub mod html;
pub mod identity;
pub mod journal;
mod json;
pub mod learn;
pub mod leeway;
mod limits;
pub mod next;
mod offered;
mod offers;
mod ordered;
pub mod product;
pub mod propose;
mod purchase;
pub mod push;
mod reasons;
pub mod replace;
pub mod shelf;
pub mod starts;
pub mod steady;
pub mod strengths;
pub mod sure;
pub mod text;
pub mod tradeoff;
pub mod verify;
pub mod weigh;
mod worth;

use serde::Serialize;

pub use care::{CAUTION, CAUTION_AND_FIRE, CAUTIONS_HEAD, Care, Caution, FIRE, cautions, light};
pub use coverage::{CoverageReport, WithoutFigure};
pub use formula::{FormulaParts, FormulaReport, PartLine, ProfileLine};
pub use head::{Head, on_scale};
pub use limits::{AdviceLine, JointLine, LimitLine};
pub use offered::Offered;
pub use ordered::Ordered;
pub use purchase::{Item, PackLine, PurchaseReport};
pub use reasons::{ChangeLine, ConflictLine, ReasonsReport, RepairLine};
pub use sure::RangeLine;
pub use text::{Ink, Page};
pub use worth::{Around, BindingLine, WithoutLine};

/// How a report is written out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Format {
    /// For reading.
    #[default]
    Text,
    /// One object with every number in full.
    Json,
    /// Rows for a spreadsheet.
    Csv,
}

/// A report that knows all three formats.
pub trait Report: Serialize {
    /// For reading, no wider than the page.
    fn text(&self, page: &Page) -> String;

    /// Rows for a spreadsheet, with a head.
    fn csv(&self) -> String;
}

/// A report in the format that was asked for, ending in a line break.
pub fn render(report: &impl Report, format: Format, page: &Page) -> String {
    match format {
        Format::Text => report.text(page),
        Format::Json => json::text(report),
        Format::Csv => report.csv(),
    }
}
