//! Formulas side by side on the page.

use super::page::Page;
use crate::report::compare::CompareReport;

/// The whole comparison.
pub fn compare(_report: &CompareReport, _page: &Page) -> String {
    String::new()
}
