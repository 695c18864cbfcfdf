//! The formula itself: what it comes to, and its parts.

use maud::{Markup, html};

use crate::brief::Basis;
use crate::escape::escaped;
use crate::explore::shell::{bar, scrolling};
use crate::html::kit::first_upper;
use crate::html::stages::stages;
use crate::number::{plain, rounded};
use crate::results::{FormulaReport, PartLine};
use crate::sentences::blotter;
use crate::sentences::laws;
use crate::solve::clocks::Holds;
use crate::text::{dose, money};
use crate::units::Ppt;

/// What a formula is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stage {
    /// The best over continuous doses: not one to weigh.
    Continuous,
    /// The best so far, with the fidelity in percent that none can pass.
    Better(f64),
    /// Proven best; where the brief has stages, for which amounts left on the paper.
    Proven(Option<Holds>),
    /// Stopped, likewise with a ceiling.
    Open(f64),
    /// Nearer to a known formula than the best, whose fidelity in percent it is.
    Nearer(f64),
}

impl Stage {
    /// Said after a match.
    pub fn word(self) -> &'static str {
        match self {
            Stage::Continuous => "over continuous doses",
            Stage::Better(_) => "the best so far",
            Stage::Proven(Some(Holds::OwnAmounts)) => "proven best for the amounts that it leaves on the paper",
            Stage::Proven(_) => "proven best",
            Stage::Open(_) => "not proven best",
            Stage::Nearer(_) => "not the best match, but nearer to a known formula",
        }
    }
}

/// Around the figures, so that all headlines look alike.
pub fn figures(content: Markup) -> Markup {
    html! { div.figures { (content) } }
}

/// Match, price and the like, each with its unit.
pub fn headline(report: &FormulaReport, stage: Stage, currency: &str) -> Markup {
    let fidelity = rounded(report.fidelity.unwrap_or(0.0), 2);
    let currency = escaped(currency);
    let (class, badge) = match stage {
        Stage::Continuous => ("busy", "continuous optimum; whole doses are being looked for".to_owned()),
        Stage::Better(best) => ("busy", format!("the best so far; nothing passes {} %", rounded(best, 2))),
        Stage::Proven(holds @ Some(Holds::OwnAmounts)) => {
            let scope = blotter::scope(holds, None);
            ("proven", format!("proven{scope}: by them nothing inside the rules comes nearer"))
        }
        Stage::Proven(_) => ("proven", "proven: nothing inside the rules comes nearer".to_owned()),
        Stage::Nearer(best) => {
            ("proven", format!("nearer to a known formula; the best match is {} %", rounded(best, 2)))
        }
        Stage::Open(best) => ("open", format!("stopped at the time limit; nothing passes {} %", rounded(best, 2))),
    };
    figures(html! {
        div.figure.main {
            span.value { (fidelity) " %" }
            span.what { (if report.blotter.is_some() { "match at the worst stage" } else { "match on paper" }) @if let Some(range) = &report.range { ", likely " (range.words()) " %" } }
            span class={ "badge " (class) } { (badge) }
        }
        @if let Some(price) = report.price {
            div.figure { span.value { (money(price)) } span.what { (currency) " per kg" } }
        }
        @if let Some(second) = report.second_opinion {
            div.figure title="The same formula judged by the other law" {
                span.value { (rounded(second.fidelity, 2)) " %" } span.what { (laws::second(second.exponent)) }
            }
        }
        @if let Some(strength) = report.strength_shown(3, 3) {
            div.figure { span.value { (strength) } span.what { "strength, by dilution" } }
        }
        div.figure {
            span.value { (report.materials.len()) }
            span.what { @if report.materials.len() == 1 { "material" } @else { "materials" } }
        }
        @if let Some(views) = &report.views { p { (escaped(&first_upper(&views.sentence))) "." } }
        @if let Some(sentence) = report.idle.as_ref().and_then(|idle| idle.sentence.as_ref()) {
            p.alert { "Idle weight: " (escaped(sentence)) "." }
        }
    })
}

/// The stages of the brief, and how far it is from its known formula; nothing where it names
/// neither.
pub fn near(report: &FormulaReport) -> Markup {
    let Some(near) = &report.near else { return stages(report, true) };
    html! {
        (stages(report, true))
        h3 { "Near " (escaped(&near.to)) }
        @for sentence in near.sentences(report.fidelity) { p { (sentence) } }
    }
}

/// The parts, the largest first; beside those of a pinned formula.
pub fn parts(report: &FormulaReport, stage: Stage, pin: Option<(&str, &FormulaReport)>, currency: &str) -> Markup {
    let Some(formula) = &report.formula else { return html! {} };
    let most = report.materials.iter().filter_map(|line| line.share).fold(0.0, f64::max).max(1e-9);
    let priced = report.price.is_some();
    let other = |line: &PartLine| {
        let (_, pin) = pin.as_ref()?;
        Some(pin.materials.iter().find(|other| other.material == line.material).map(|other| other.parts))
    };
    let gone: Vec<&PartLine> = pin
        .iter()
        .flat_map(|(_, pin)| &pin.materials)
        .filter(|old| report.materials.iter().all(|line| line.material != old.material))
        .collect();
    let what = if formula.basis == Basis::Bottle { "‰ poured" } else { "‰" };
    let table = html! {
        table.parts.with-pin[pin.is_some()] {
            thead { tr {
                th { "Material" }
                th.n { (what) }
                @if pin.is_some() { th.n { "pinned" } th.n { "change" } }
                th { "odour share" }
                @if priced { th.n { (escaped(currency)) "/kg" } }
                th { span.hidden { "Lock the dose" } }
            } }
            tbody {
                @for line in &report.materials {
                    tr {
                        th scope="row" {
                            (escaped(&line.material))
                            @if line.bottle_percent < 100.0 {
                                span.sub {
                                    "from " (plain(line.bottle_percent)) " %: "
                                    (dose(line.poured)) " ‰ poured"
                                }
                            }
                            @if let Some(mark) = line.unusual_mark() {
                                span.sub.unusual { "unusual dose: " (mark) " ‰ neat" }
                            }
                        }
                        td.n.strong { (dose(line.parts.as_f64())) }
                        @if let Some(old) = other(line) {
                            td.n { (old.map_or("·".to_owned(), |old| dose(old.as_f64()))) }
                            td.n { (change(old.unwrap_or(Ppt::ZERO), line.parts)) }
                        }
                        td.share {
                            @let share = line.share.unwrap_or(0.0);
                            (bar(share / most, "fill"))
                            span.n { (rounded(share, 1)) " %" }
                        }
                        @if priced {
                            td.n { (line.price_share.zip(report.price).map_or("·".to_owned(), |(share, price)| rounded(share * price / 100.0, 2))) }
                        }
                        td {
                            @if stage != Stage::Continuous {
                                button.small.lock type="button" data-lock=(line.material) data-at=(line.parts.to_string())
                                    data-key={ "lock " (escaped(&line.material)) } aria-pressed="false"
                                    aria-label={ "Lock " (escaped(&line.material)) " at " (dose(line.parts.as_f64())) " ‰" } { "Lock" }
                            }
                        }
                    }
                }
                @for line in gone {
                    tr.gone {
                        th scope="row" { (escaped(&line.material)) }
                        td.n { "·" } td.n { (dose(line.parts.as_f64())) } td.n { (change(line.parts, Ppt::ZERO)) }
                        td {} @if priced { td {} } td {}
                    }
                }
            }
        }
    };
    let basis = if formula.basis == Basis::Bottle { "poured from the bottles" } else { "of neat material" };
    html! {
        (scrolling("Formula", &table))
        p.soft {
            "1000 parts " (basis) "."
            @if let Some(poured) = &report.poured {
                @if poured.concentration_percent < 100.0 - 1e-9 && formula.basis != Basis::Bottle {
                    " From the usual bottles " (dose(poured.total)) " parts are poured, at "
                    (rounded(poured.concentration_percent, 1)) " % accord."
                }
            }
        }
    }
}

/// A change of a dose with its sign.
fn change(from: Ppt, to: Ppt) -> String {
    match to.cmp(&from) {
        std::cmp::Ordering::Equal => "=".to_owned(),
        std::cmp::Ordering::Greater => format!("+{}", dose((to - from).as_f64())),
        std::cmp::Ordering::Less => format!("\u{2212}{}", dose((from - to).as_f64())),
    }
}
