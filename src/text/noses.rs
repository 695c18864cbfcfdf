//! Several noses, for reading.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::results::check::CheckReport;
use crate::sentences::noses::nose;

/// Disagreements in the short form.
const FEW: usize = 5;

/// What the noses of a brief disagree on, and what people smell differently; the
/// latter by itself in the full form alone.
pub fn noses(report: &CheckReport, page: &Page, out: &mut String) {
    let known = &report.smelled_differently;
    if report.noses.is_none() && (known.is_empty() || !page.full) {
        return;
    }
    page.head(out, "Noses");
    if let Some(noses) = &report.noses {
        let names: Vec<String> = noses.names.iter().map(|name| escaped(&nose(name))).collect();
        let heed = match noses.nose.as_str() {
            "worst" => "the one to which the formula is least like the target decides".to_owned(),
            "mean" => "their mean counts".to_owned(),
            name => format!("{} alone counts", escaped(&nose(name))),
        };
        page.paragraph(out, "  ", 2, &format!("{}; {heed}.", names.join(", ")), Ink::Plain);
        let all = &noses.disagreements;
        if all.is_empty() {
            page.paragraph(out, "  ", 2, "They agree on every number within its error.", Ink::Plain);
        } else {
            let text = "They disagree most, each in its own error, on:";
            page.paragraph(out, "  ", 2, text, Ink::Plain);
        }
        let shown = if page.full { all.len() } else { all.len().min(FEW) };
        for line in &all[..shown] {
            page.paragraph(out, "  - ", 4, &escaped(&line.sentence), Ink::Plain);
        }
        if shown < all.len() {
            page.paragraph(out, "  - ", 4, &format!("and {} further numbers (--full)", all.len() - shown), Ink::Faint);
        }
    }
    if !known.is_empty() {
        let text = "Known to be smelled differently from person to person:";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        for line in known {
            page.paragraph(out, "  - ", 4, &escaped(&line.sentence), Ink::Plain);
        }
    }
}
