//! Rules that collide, and what makes room.

use maud::{Markup, html};

use crate::analysis::conflict::Conflict;
use crate::analysis::repair::{Reasons, Repair};
use crate::escape::escaped;
use crate::explore::changes::edits;
use crate::explore::shell::change_button;
use crate::html::kit::first_upper;
use crate::problem::Problem;

/// The conflicts as sentences, the repairs as buttons.
pub fn reasons(problem: &Problem, brief_file: &str, reasons: &Reasons) -> Markup {
    if reasons.conflicts.is_empty() {
        return html! { p { "Which rules collide was not found out in the time allowed. Undo the last change." } };
    }
    html! {
        @for (at, conflict) in reasons.conflicts.iter().enumerate() {
            h3 { @if at == 0 { "These rules cannot stand together" } @else { "Nor can these" } }
            (rules(problem, conflict))
        }
        @if reasons.repairs.is_empty() {
            p { "No change of these rules alone makes room. Undo the last change." }
        } @else {
            h3 { @if reasons.repairs.len() > 1 { "Any one of these makes room" } @else { "This makes room" } }
            ul.repairs { @for repair in &reasons.repairs { li { (offer(problem, brief_file, repair)) } } }
        }
    }
}

fn rules(problem: &Problem, conflict: &Conflict) -> Markup {
    html! {
        ul {
            @if conflict.rules.is_empty() { li { "Nothing that may be used has an odour that counts." } }
            @for &rule in &conflict.rules { li { (escaped(&problem.sentence(&problem.rules[rule]))) } }
        }
    }
}

fn offer(problem: &Problem, brief_file: &str, repair: &Repair) -> Markup {
    let orders: Vec<String> =
        repair.changes.iter().map(|&(rule, change)| problem.order(&problem.rules[rule], change)).collect();
    let words = first_upper(&orders.join(", and "));
    html! {
        @match edits(problem, brief_file, &repair.changes) {
            Some(edits) => (change_button(&edits, &escaped(&words), &words)),
            None => { (escaped(&words)) span.soft { " (in the palette or a limits file, not here)" } }
        }
    }
}
