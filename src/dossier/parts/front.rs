//! The first page: what it is of, the finding in a sentence and a few figures.

use maud::{Markup, html};

use crate::dossier::{Dossier, Reader};
use crate::escape::escaped;
use crate::html::kit::{first_upper, list};
use crate::number::{rounded, rounded_up, significant};
use crate::sentences::blotter;
use crate::sentences::care::CAUTION;
use crate::sentences::laws;
use crate::solve::Status;
use crate::trials::Date;

/// Title, day, finding and what was not checked.
pub fn head(dossier: &Dossier<'_>, title: &str, day: Option<Date>) -> Markup {
    html! {
        h1 { (title) }
        p.quiet {
            @if let Some(day) = day { time { (day.to_string()) } ". " }
            @if dossier.reader == Reader::Client { "For the client: without formula, cost and sources of supply." }
            @else { "With the formula: for the perfumer's own use." }
        }
        (finding(dossier))
    }
}

fn finding(dossier: &Dossier<'_>) -> Markup {
    let Some(subject) = &dossier.subject else {
        return html! { p.alert { (verdict(dossier)) } };
    };
    let name = if dossier.reader == Reader::Client { "the formula" } else { &subject.name };
    html! {
        p.lead { (first_upper(&escaped(name))) ": " (verdict(dossier)) }
        (idle(dossier))
        @if !dossier.proposal.care.as_ref().is_none_or(|care| care.limits_applied) {
            p.alert { "NO LIMITS APPLIED: nothing was checked against the law or the trade." }
        }
        @for coverage in subject.care.coverage.iter().filter(|it| !it.complete) {
            @let sentences = if dossier.reader == Reader::Client { coverage.counts() } else { coverage.summary() };
            @for sentence in sentences { p.alert { "Limits: " (escaped(&sentence)) } }
        }
        (key(dossier))
    }
}

/// How much of the formula is idle weight, where that is much, and what would make
/// more of it heard: the perfumer's.
fn idle(dossier: &Dossier<'_>) -> Markup {
    let idle = dossier.subject.as_ref().and_then(|subject| subject.formula.idle.as_ref());
    let Some(sentence) = idle.and_then(|idle| idle.sentence.as_ref()) else { return html! {} };
    if dossier.reader == Reader::Client {
        return html! {};
    }
    let of_proposal = dossier.subject.as_ref().is_some_and(|subject| subject.is_proposal);
    let ways: Vec<String> = match of_proposal {
        true => dossier.proposal.around.ways_out.iter().map(|way| first_upper(&way.sentence)).collect(),
        false => Vec::new(),
    };
    html! { p.alert { "Idle weight: " (escaped(sentence)) "." } (list(&ways)) }
}

/// The few figures. What it costs, and the strength by the scale of a palette that a
/// client does not have, are the perfumer's.
fn key(dossier: &Dossier<'_>) -> Markup {
    let Some(formula) = dossier.subject.as_ref().map(|subject| &subject.formula) else { return html! {} };
    let own = dossier.reader == Reader::Own;
    let currency = escaped(&dossier.proposal.head.currency);
    let likely = formula.range.as_ref().map(|range| format!(", likely {} %", range.words()));
    html! {
        div.key {
            div { b { (match_of(formula.fidelity)) } span { "match on paper" (likely.unwrap_or_default()) } }
            @if let Some(second) = &formula.second_opinion {
                div { b { (rounded(second.fidelity, 2)) " %" } span { (laws::second(second.exponent)) } }
            }
            @if own {
                @if let Some(price) = formula.price {
                    div { b { (significant(price, 4, 2, 4)) " " (currency) } span { "cost per kg of accord" } }
                }
                @if let Some(strength) = formula.strength_shown(4, 6) {
                    div { b { (strength) } span { "strength, on the scale of the palette" } }
                }
            }
        }
    }
}

/// The short caution, and where the whole list is.
pub fn caution() -> Markup {
    html! { p.caution { span.mark { (CAUTION) } " " a href="#cautions" { "All cautions" } "." } }
}

fn match_of(fidelity: Option<f64>) -> String {
    fidelity.map_or("-".to_owned(), |fidelity| format!("{} %", rounded(fidelity, 2)))
}

/// How near it comes, how sure that is, and whether it is proven: a sentence.
pub fn verdict(dossier: &Dossier<'_>) -> String {
    let proposal = &dossier.proposal;
    let Some(subject) = &dossier.subject else { return without_formula(proposal.status).to_owned() };
    let formula = &subject.formula;
    let likely = formula.range.as_ref().map_or(String::new(), |range| format!(" (likely {} %)", range.words()));
    let matches = format!("matches {}{likely}", match_of(formula.fidelity));
    let given = !subject.is_proposal;
    let broken = if dossier.reader == Reader::Client { "breaks rules of the brief" } else { "breaks rules, see below" };
    let kept = if subject.broken.is_empty() { "keeps every rule" } else { broken };
    let scope = blotter::scope(proposal.proven_for, proposal.any_amounts_fidelity);
    match (given, proposal.status) {
        (true, Status::Optimal) => {
            let best = rounded(proposal.formula.fidelity.unwrap_or(0.0), 2);
            format!("it {matches} and {kept}; the best formula inside the rules reaches {best} % (proven{scope}).")
        }
        (true, _) => format!("it {matches} and {kept}; what the best formula would reach is not proven."),
        (false, _) if proposal.gives_from().is_some() => {
            let best = rounded(proposal.gives_from().unwrap_or(0.0), 2);
            format!(
                "it {matches}; the best match found inside the rules is {best} %, and this is nearer to a known formula."
            )
        }
        (false, Status::Optimal) => {
            format!("it {matches}; no formula inside the rules comes nearer to the target (proven{scope}).")
        }
        (false, _) => {
            let most = rounded_up(proposal.bound_fidelity.unwrap_or(100.0), 2);
            format!(
                "it {matches}, the best that was found in the time allowed; not proven best: at most {most} % is possible{scope}."
            )
        }
    }
}

fn without_formula(status: Status) -> &'static str {
    match status {
        Status::Infeasible => "No blend can meet this brief (proven).",
        Status::Optimal | Status::Feasible => "There is a formula, but its match cannot be judged.",
        Status::Unknown => "No formula was found in the time allowed, and it is not proven that there is none.",
    }
}
