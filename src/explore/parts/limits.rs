//! Limits with what is left of them, what was not checked, and the caution.

use maud::{Markup, html};

use crate::escape::escaped;
use crate::explore::shell::{bar, note, scrolling};
use crate::html::kit::to_mind;
use crate::html::limits::{in_use, joints, table};
use crate::results::{Care, FormulaReport, LimitLine};
use crate::sentences::care::{CAUTION, CAUTIONS_HEAD};

/// Every restricted substance that is in it, the fullest limit first.
pub fn limits(report: &FormulaReport, care: Option<&Care>) -> Markup {
    let used = in_use(&report.limits);
    let coverage = care.and_then(|care| care.coverage.as_ref());
    let is_complete = coverage.is_some_and(|coverage| coverage.complete);
    let full =
        |line: &LimitLine| bar(line.share_percent() / 100.0, if line.share_percent() > 90.0 { "full" } else { "fill" });
    let table = table(&used, &full);
    html! {
        @if let Some(care) = care {
            @for sentence in coverage.iter().flat_map(|coverage| coverage.sentences()) {
                (note(if is_complete { "calm" } else { "warn" }, &sentence))
            }
            @for sentence in care.not_checked.iter().filter(|it| it.starts_with("NO LIMITS")) { (note("warn", sentence)) }
        }
        @if used.is_empty() {
            p { @if is_complete { "Nothing in the formula is restricted by the limits files of the brief." }
                @else { "The limits files of the brief have no limit on anything in the formula, which does not mean that there is none." } }
        } @else {
            (scrolling("Limits in the finished product", &table))
        }
        (joints(&report.joints))
    }
}

/// What was not checked, where figures come from, and the caution.
pub fn care(care: Option<&Care>, report: &FormulaReport) -> Markup {
    let bench: Vec<(String, String)> = report
        .materials
        .iter()
        .filter_map(|line| Some((escaped(&line.material), escaped(line.handling.as_deref()?))))
        .collect();
    html! {
        @if let Some(care) = care {
            @let silent: Vec<&String> = care.not_checked.iter().filter(|it| !it.starts_with("NO LIMITS")).collect();
            @if !silent.is_empty() {
                h3 { "Not checked" }
                ul { @for sentence in silent { li { (escaped(sentence)) } } }
            }
            @if !care.specifications.is_empty() || !bench.is_empty() {
                h3 { "At the bench" }
                ul {
                    @for it in &care.specifications { li { (escaped(&it.substance)) ": " (escaped(&it.text)) } }
                    @for (material, handling) in &bench { li { (material) ": " (handling) } }
                }
            }
            @if !care.sources.is_empty() {
                details {
                    summary { "Where the limits come from" }
                    ul { @for source in &care.sources { li { (escaped(source)) } } }
                }
            }
        }
        p.caution { (CAUTION) }
        h3 { (CAUTIONS_HEAD) }
        (to_mind(care))
    }
}
