//! A pinned formula beside the present one.

use maud::{Markup, html};

use crate::escape::escaped;
use crate::explore::bench::Bench;
use crate::formula::Formula;
use crate::number::rounded;
use crate::questions::compare::breaks;
use crate::results::FormulaReport;
use crate::sentences::said;
use crate::text::money;

/// What changed since it was pinned, and whether it keeps the present rules.
pub fn pinned(bench: &Bench, pin: Option<(&str, &FormulaReport, &Formula)>, now: &FormulaReport) -> Markup {
    let Some((name, then, formula)) = pin else { return html! {} };
    let breaks = breaks(&bench.resolved, formula, None);
    let row = |what: &str, unit: &str, then: Option<f64>, now: Option<f64>, text: fn(f64) -> String| {
        let shown = |value: Option<f64>| value.map_or("·".to_owned(), text);
        html! {
            tr {
                th scope="row" { (what) span.sub { (unit) } }
                td.n { (shown(then)) } td.n.strong { (shown(now)) }
                td.n {
                    @if let (Some(then), Some(now)) = (then, now) {
                        @let by = now - then;
                        @if by.abs() < 0.005 { "=" } @else { (if by > 0.0 { "+" } else { "\u{2212}" }) (text(by.abs())) }
                    }
                }
            }
        }
    };
    let two = |value: f64| rounded(value, 2);
    let is_loose = [then, now].iter().any(|it| !it.loose_strengths.is_empty());
    let strength: fn(f64) -> String =
        if is_loose { |value| said::strength(value, true, 3, 3) } else { |value| said::strength(value, false, 3, 3) };
    let currency = escaped(&bench.resolved.problem.palette.currency);
    html! {
        h2 { "Pinned: " (escaped(name)) }
        table.narrow {
            thead { tr { th { span.hidden { "What" } } th.n { "pinned" } th.n { "now" } th.n { "change" } } }
            tbody {
                (row("Match", "%, by the present target", then.fidelity, now.fidelity, two))
                (row("Second opinion", "%", then.second_opinion.map(|it| it.fidelity), now.second_opinion.map(|it| it.fidelity), two))
                (row("Price", &format!("{currency} per kg"), then.price, now.price, money))
                (row("Strength", "by dilution", then.strength, now.strength, strength))
            }
        }
        @if breaks.is_empty() {
            p.soft { "The pinned formula keeps the present rules." }
        } @else {
            p { "The pinned formula breaks rules as they are now:" }
            ul { @for rule in &breaks { li { (escaped(rule)) } } }
        }
        button.small type="button" data-do="unpin" { "Unpin" }
    }
}
