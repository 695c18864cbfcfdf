//! Why no blend can meet a brief, on the page.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::results::ReasonsReport;

/// Why there is no formula, and what would mend it.
pub fn reasons(report: &ReasonsReport, page: &Page, out: &mut String) {
    let say = |out: &mut String, text: &str| page.paragraph(out, "  ", 2, text, Ink::Plain);
    if report.conflict.is_empty() {
        say(
            out,
            "Its rules contradict each other, or nothing that may be used has an odour; which rules they are was not found in the time allowed.",
        );
        return;
    }
    let all = std::iter::once(&report.conflict).chain(&report.further_conflicts);
    for (index, conflict) in all.enumerate() {
        out.push('\n');
        say(out, if index == 0 { "These rules cannot stand together:" } else { "And neither can these:" });
        for line in conflict {
            let at = line.line.map(|line| format!(":{line}")).unwrap_or_default();
            let text = format!("{} ({}{at})", escaped(&line.sentence), escaped(&line.file));
            page.paragraph(out, "  - ", 4, &text, Ink::Plain);
        }
    }
    out.push('\n');
    match &report.repairs[..] {
        [] => say(out, "What would mend it was not found in the time allowed."),
        [joint] if joint.changes.len() > 1 => {
            say(out, "No single change suffices. Together these do, as a formula shows:");
            for change in &joint.changes {
                page.paragraph(out, "  - ", 4, &escaped(&change.order), Ink::Plain);
            }
        }
        repairs => {
            let any = if repairs.len() == 1 { "This change makes" } else { "Any one of these changes makes" };
            say(out, &format!("{any} room, as a formula shows:"));
            for change in repairs.iter().flat_map(|repair| &repair.changes) {
                page.paragraph(out, "  - ", 4, &escaped(&change.order), Ink::Plain);
            }
        }
    }
}
