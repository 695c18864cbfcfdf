//! An answer in the format that was asked for: the one place that ties a report
//! to its text, its table and its JSON.

pub mod csv;
pub mod json;

use serde::Serialize;

use crate::results::adjust::AdjustReport;
use crate::results::buy::BuyReport;
use crate::results::check::CheckReport;
use crate::results::compare::CompareReport;
use crate::results::doubt::DoubtReport;
use crate::results::journal::JournalReport;
use crate::results::learn::LearnReport;
use crate::results::leeway::LeewayReport;
use crate::results::next::NextReport;
use crate::results::next_law::NextLawReport;
use crate::results::product::ProductReport;
use crate::results::propose::ProposeReport;
use crate::results::push::PushReport;
use crate::results::replace::ReplaceReport;
use crate::results::shelf::ShelfReport;
use crate::results::starts::StartsReport;
use crate::results::strengths::StrengthsReport;
use crate::results::strip::StripReport;
use crate::results::tradeoff::TradeoffReport;
use crate::results::verify::VerifyReport;
use crate::results::weigh::WeighReport;
use crate::table::{self, Table};
use crate::text::{self, Page};

/// How a report is written out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Format {
    /// For reading.
    #[default]
    Text,
    /// One object with every number in full.
    Json,
    /// The same on one line.
    JsonLine,
    /// Rows for a spreadsheet.
    Csv,
}

/// A report that can be read, and laid out in rows; JSON is what it serialises to.
pub trait Report: Serialize {
    /// For reading, no wider than the page.
    fn text(&self, page: &Page) -> String;

    /// The same as rows.
    fn table(&self) -> Table;
}

/// A report in the format that was asked for, ending in a line break.
pub fn render(report: &impl Report, format: Format, page: &Page) -> String {
    match format {
        Format::Text => report.text(page),
        Format::Json => json::text(report),
        Format::JsonLine => json::line(report),
        Format::Csv => csv::text(&report.table()),
    }
}

/// Ties report types to the functions of `text` and `table` that have their
/// command's name.
macro_rules! reports {
    ($($report:ident: $command:ident,)*) => {
        $(impl Report for $report {
            fn text(&self, page: &Page) -> String {
                text::$command(self, page)
            }

            fn table(&self) -> Table {
                table::$command(self)
            }
        })*
    };
}

reports! {
    AdjustReport: adjust,
    BuyReport: buy,
    CheckReport: check,
    CompareReport: compare,
    DoubtReport: doubt,
    JournalReport: journal,
    LearnReport: learn,
    LeewayReport: leeway,
    NextReport: next,
    NextLawReport: next_law,
    ProductReport: product,
    ProposeReport: propose,
    PushReport: push,
    ReplaceReport: replace,
    ShelfReport: shelf,
    StartsReport: starts,
    StrengthsReport: strengths,
    StripReport: strip,
    TradeoffReport: tradeoff,
    VerifyReport: verify,
    WeighReport: weigh,
}
