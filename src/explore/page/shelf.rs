//! The shelf: may, must, never; cap; lock.

use maud::{Markup, html};

use super::controls::{Ends, Value};
use crate::brief::Permission;
use crate::escape::escaped;
use crate::explore::bench::Bench;
use crate::problem::Absence;
use crate::units::Ppt;

/// A row for each material.
pub fn shelf(bench: &Bench) -> Markup {
    let problem = &bench.resolved.problem;
    let domains = problem.domains();
    html! {
        details.card open {
            summary { h2 { "Shelf" } }
            p.soft { "May, must or must not be used; a cap and a locked dose in parts per thousand (‰)." }
            p { label.find { span.hidden { "Find a material" } input #find type="search" placeholder="Find a material" autocomplete="off"; } }
            ul.shelf {
                @for (at, material) in problem.palette.materials.iter().enumerate() {
                    (row(bench, at, &material.name, domains[at].err()))
                }
            }
        }
    }
}

fn row(bench: &Bench, at: usize, name: &str, absence: Option<Absence>) -> Markup {
    let (problem, brief) = (&bench.resolved.problem, &bench.resolved.brief);
    let entry = brief.doses.iter().find(|entry| entry.material == at);
    let dose = |dose: Option<&crate::place::Placed<Ppt>>| dose.map(|it| it.value.as_f64());
    let permission = match (entry.map(|entry| entry.permission.value), absence) {
        (Some(Permission::Must), _) => "must",
        (Some(Permission::Never), _) | (None, Some(Absence::UnnamedCarrier | Absence::TargetItself)) => "never",
        _ => "may",
    };
    let why = absence.and_then(|absence| problem.absence_in_short(absence));
    let shown = escaped(name);
    let path = |key: &str| serde_json::to_string(&["doses", name, key]).unwrap_or_default();
    let ends = Ends { min: 0.0, max: 1000.0, step: 1.0 };
    let label = format!("{shown}, cap in parts per thousand");
    let cap = Value { path: &["doses", name, "max"], file: dose(entry.and_then(|it| it.max.as_ref())), label: &label };
    let label = format!("{shown}, locked at so many parts per thousand");
    let fixed =
        Value { path: &["doses", name, "fixed"], file: dose(entry.and_then(|it| it.fixed.as_ref())), label: &label };
    html! {
        li data-material=(name) {
            span.word { (shown) @if let Some(why) = why { span.sub { (why) } } }
            span.now aria-hidden="true" {}
            select aria-label={ (shown) ": may, must or must not be used" } data-path=(path("use"))
                data-file=(serde_json::to_string(permission).unwrap_or_default()) data-kind="text" {
                @for word in ["may", "must", "never"] {
                    option value=(word) selected[word == permission] { (word) }
                }
            }
            label.tiny { span aria-hidden="true" { "cap" } (cap.entry(ends, true)) }
            label.tiny { span aria-hidden="true" { "lock" } (fixed.entry(ends, true)) }
        }
    }
}
