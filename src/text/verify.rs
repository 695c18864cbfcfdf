//! What a certificate proves, on the page.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::number::{rounded, rounded_up, significant};
use crate::results::states::Certified;
use crate::results::verify::VerifyReport;

/// The whole report.
pub fn verify(report: &VerifyReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    out.push('\n');
    let (verdict, ink) = match (report.status, report.has_formula) {
        (Certified::Proven, true) => {
            ("The formula is the best that these numbers allow: the certificate proves it.", Ink::Good)
        }
        (Certified::Proven, false) => ("No blend can meet this brief: the certificate proves it.", Ink::Good),
        (Certified::Bounded, _) => ("The certificate holds, but it does not prove the formula best.", Ink::Alert),
        (Certified::Refuted, _) => ("This is no proof.", Ink::Alert),
    };
    page.paragraph(&mut out, "  ", 2, verdict, ink);
    for fault in &report.faults {
        page.paragraph(&mut out, "  - ", 4, &format!("{}.", escaped(fault)), Ink::Plain);
    }
    for line in &report.broken {
        let place = line.line.map_or(String::new(), |at| format!(" ({}:{at})", escaped(&line.file)));
        page.paragraph(&mut out, "    ", 4, &format!("{}{place}", escaped(&line.sentence)), Ink::Plain);
    }
    let mut say = |text: String| page.paragraph(&mut out, "  ", 2, &text, Ink::Plain);
    if let (Some(loss), Some(fidelity)) = (report.loss, report.fidelity) {
        say(format!("Loss of the formula {}, a match of {} %.", significant(loss, 8, 0, 12), rounded(fidelity, 4)));
    }
    if let Some(views) = &report.views {
        say(format!("Several views judge it: {}.", escaped(&views.sentence)));
    }
    if let (Some(bound), Some(most)) = (report.bound, report.bound_fidelity) {
        say(format!(
            "No formula inside the rules has a loss below {}, a match of more than {} %.",
            significant(bound, 8, 0, 12),
            rounded_up(most, 4)
        ));
    }
    if report.parts_closed > 0 {
        let parts = if report.parts_closed == 1 { "part" } else { "parts" };
        let none = if report.bound.is_some() { "none below that" } else { "none" };
        say(format!(
            "All formulas are divided into {} {parts}; multipliers in plain arithmetic show of each that it holds \
             {none}. No search was needed.",
            report.parts_closed
        ));
    }
    out
}
