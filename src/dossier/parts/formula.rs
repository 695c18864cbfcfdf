//! The formula, and what holds it back.

use maud::{Markup, html};

use crate::brief::Basis;
use crate::dossier::Dossier;
use crate::dossier::page::Part;
use crate::escape::escaped;
use crate::html::align::Column;
use crate::html::around::{left_out, loosened, that_could_go};
use crate::html::kit::{first_upper, list};
use crate::html::stages::stages;
use crate::number::{plain, rounded, significant};
use crate::results::{FormulaReport, PartLine};
use crate::solve::Status;
use crate::text::sure::key_of_counts;
use crate::text::worth::{FEW, full_limits, not_settled};

/// Why there is no formula.
pub fn none(dossier: &Dossier<'_>) -> Option<Part> {
    let reasons = &dossier.proposal.reasons;
    if dossier.proposal.status != Status::Infeasible {
        return None;
    }
    let all = || std::iter::once(&reasons.conflict).chain(&reasons.further_conflicts).filter(|it| !it.is_empty());
    let orders: Vec<String> =
        reasons.repairs.iter().flat_map(|repair| repair.changes.iter().map(|it| first_upper(&it.order))).collect();
    let together = reasons.repairs.len() == 1 && orders.len() > 1;
    Some((
        "conflict",
        "Why no blend can meet it",
        html! {
            @for conflict in all() {
                p { (if conflict.len() == 1 { "No blend can keep this rule:" } else { "These rules cannot stand together:" }) }
                ul { @for line in conflict {
                    li { (first_upper(&escaped(&line.sentence))) @if let Some(line) = line.line { span.quiet { " (line " (line) ")" } } }
                } }
            }
            @if orders.is_empty() { p { "What would mend it was not found in the time allowed." } } @else {
                p { (if together { "Together these changes make room, as a formula shows:" } else { "Any one of these changes makes room, as a formula shows:" }) }
                (list(&orders))
            }
        },
    ))
}

/// The formula: on the first page, a line for each material.
pub fn part(dossier: &Dossier<'_>) -> Option<Part> {
    let subject = dossier.subject.as_ref()?;
    let broken: Vec<String> = subject.broken.iter().map(|it| first_upper(it)).collect();
    Some((
        "formula",
        "The formula",
        html! {
            (parts(&subject.formula))
            @if let Some(views) = &subject.formula.views { p { (escaped(&first_upper(&views.sentence))) "." } }
            (stages(&subject.formula, subject.is_proposal))
            @if let Some(near) = &subject.formula.near { @for sentence in near.sentences(subject.formula.fidelity) { p { (sentence) } } }
            @if !broken.is_empty() { p.alert { "It breaks these rules:" } (list(&broken)) }
        },
    ))
}

fn parts(formula: &FormulaReport) -> Markup {
    let is_diluted = formula.materials.iter().any(|line| line.bottle_percent < 100.0);
    let counts = match formula.formula.as_ref().map(|formula| formula.basis) {
        Some(Basis::Bottle) => "Parts per thousand of what is poured from the usual bottles",
        _ => "Parts per thousand of neat material",
    };
    let share = |share: Option<f64>| share.map_or("-".to_owned(), tenth);
    let bottle = |percent: f64| if percent < 100.0 { format!("{} %", plain(percent)) } else { "neat".to_owned() };
    let poured = |ppt: f64| significant(ppt, 4, 0, 6);
    let total = formula.poured.as_ref().map_or(String::new(), |it| poured(it.total));
    let lines = || formula.materials.iter();
    let doses = Column::of(lines().map(|line| line.parts.to_string()));
    let pours = Column::of(lines().map(|line| poured(line.poured)).chain([total.clone()]));
    let odours = Column::of(lines().map(|line| share(line.share)));
    let costs = Column::of(lines().map(|line| share(line.price_share)));
    html! {
        div.scroll { table.formula {
            caption { (counts) }
            thead { tr {
                th { "Material" } th.cas { "CAS" } th.n { "Parts \u{2030}" }
                @if is_diluted { th.n { "From the bottle \u{2030}" } th.n { "Bottle" } }
                th.n { "Odour %" } th.n { "Cost %" }
            } }
            tbody { @for line in lines() { tr {
                th scope="row" {
                    (escaped(&line.material))
                    @if let Some(mark) = line.unusual_mark() { " " span.quiet { "(unusual dose: " (mark) " \u{2030} neat)" } }
                }
                td.cas { (line.cas.as_deref().unwrap_or("")) }
                (doses.cell(&line.parts.to_string()))
                @if is_diluted { (pours.cell(&poured(line.poured))) td.n { (bottle(line.bottle_percent)) } }
                (odours.cell(&share(line.share))) (costs.cell(&share(line.price_share)))
            } } }
            tfoot { tr {
                th scope="row" { "Together" } td.cas {} (doses.cell("1000"))
                @if is_diluted { (pours.cell(&total)) td {} }
                td {} td {}
            } }
        } }
        @if let Some(poured) = formula.poured.as_ref().filter(|_| is_diluted) {
            p.quiet { "Accord concentration as poured from the usual bottles: " (rounded(poured.concentration_percent, 1)) " %." }
        }
    }
}

/// What each material brings, and how it is handled.
pub fn materials(dossier: &Dossier<'_>) -> Option<Part> {
    let formula = &dossier.subject.as_ref()?.formula;
    let brings = |line: &PartLine| {
        let most = line.brings.0.iter().filter(|(_, points)| *points >= 0.05).take(4);
        most.map(|(word, points)| format!("{} {}", escaped(word), rounded(*points, 1))).collect::<Vec<_>>().join(", ")
    };
    let is_handled = formula.materials.iter().any(|line| line.handling.is_some());
    Some((
        "materials",
        "What each material brings",
        html! {
            div.scroll { table {
                caption { "Scores of the blend that come from it, on the 0-" (plain(dossier.problem.palette.scale)) " scale, the most first" }
                thead { tr { th { "Material" } th { "Brings" } @if is_handled { th { "To handle" } } } }
                tbody { @for line in &formula.materials { tr {
                    th scope="row" { (escaped(&line.material)) } td { (brings(line)) }
                    @if is_handled { td { (escaped(line.handling.as_deref().unwrap_or(""))) } }
                } } }
            } }
        },
    ))
}

/// A percentage to a tenth; what is less than that is said to be.
fn tenth(percent: f64) -> String {
    if percent > 0.0 && percent < 0.05 { "<0.1".to_owned() } else { rounded(percent, 1) }
}

/// What holds the proposal back, and what could go.
pub fn held_back(dossier: &Dossier<'_>) -> Option<Part> {
    let around = &dossier.proposal.around;
    let binding = around.binding.as_ref()?;
    let without = that_could_go(around);
    let open = around.binding_open.as_ref().and_then(|open| not_settled(open, FEW));
    Some((
        "back",
        "What holds it back, and what could go",
        html! {
            @if let Some(full) = full_limits(around) { p { (escaped(&full)) } }
            @if binding.is_empty() && open.is_none() {
                p { "No single rule, loosened by a little, would bring the proposal nearer." }
            } @else if !binding.is_empty() {
                div.scroll { (loosened(binding, None)) }
                p.quiet { "The best formula with one rule loosened, everything else solved again." }
                p.quiet { (key_of_counts("the proposal")) }
            }
            @if let Some(open) = &open { p.quiet { (open) } }
            @if !without.is_empty() {
                div.scroll { (left_out(&without, None)) }
                p.quiet { "The best formula without one of the materials, everything else solved again." }
            }
        },
    ))
}
