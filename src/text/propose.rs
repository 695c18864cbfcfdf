//! The answer of `propose` on the page, in two parts: the formula with all that
//! is known of it, and the reasons, which take solving again and may come later.

use super::formula::money;
use super::page::{Ink, Page, width};
use super::{care, formula, near, reasons, stages, steady, teaching, worth};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{rounded, rounded_up, significant};
use crate::results::propose::ProposeReport;
use crate::results::{Around, RangeLine};
use crate::sentences::blotter;
use crate::sentences::laws;
use crate::solve::Status;

/// The whole answer.
pub fn propose(report: &ProposeReport, page: &Page) -> String {
    propose_formula(report, page) + &propose_reasons(report, page)
}

/// What is known as soon as the search has ended: the verdict, the formula with
/// its gaps and its cost, the limits, and what is to be minded at the bench.
/// Nothing in it depends on what was found around the formula.
pub fn propose_formula(report: &ProposeReport, page: &Page) -> String {
    let mut out = String::new();
    let says_each = report.formula.views.as_ref().is_some_and(|views| views.is_of_more_than_stages());
    let is_weighed = report.formula.views.iter().flat_map(|views| &views.each).any(|view| view.weight != 1.0);
    if says_each && !is_weighed {
        page.title_alone(&mut out, &report.head);
    } else {
        page.title(&mut out, &report.head);
    }
    if page.full || report.care.is_none() {
        out.push('\n');
    }
    let (Some(fidelity), Some(care)) = (report.formula.fidelity, &report.care) else {
        without_formula(report, page, &mut out);
        return out;
    };
    if page.full {
        headline(report, fidelity, page, &mut out);
    } else {
        verdict(report, fidelity, page, &mut out);
        formula::views(&report.formula, page, &mut out);
    }
    if let Some(choice) = &report.law_choice {
        page.paragraph(&mut out, "  ", 2, &format!("{}.", escaped(choice)), Ink::Plain);
    }
    formula::idle_weight(&report.formula, None, page, &mut out);
    if let Some(taught) = &report.taught {
        steady::taught(taught, page, &mut out);
    }
    if let Some(found) = &report.steady {
        steady::steady(found, page, &mut out);
    }
    if let Some(found) = &report.expected {
        steady::expected(found, report.explore.is_none(), page, &mut out);
    }
    if let Some(found) = &report.explore {
        teaching::teaching(found, page, &mut out);
    }
    formula::parts(&report.formula, page, &mut out);
    stages::stages(&report.formula, true, page, &mut out);
    let on_scale = report.head.on_scale();
    if page.full {
        formula::brings(&report.formula, &on_scale, page, &mut out);
        formula::gaps(&report.formula, &report.head, page, &mut out);
    } else {
        out.push('\n');
        formula::misses(&report.formula, &on_scale, page, &mut out);
        cost(report, page, &mut out);
    }
    if let Some(found) = &report.formula.near {
        if page.full {
            out.push('\n');
        }
        near::near(found, report.formula.fidelity, page, &mut out);
    }
    care::of_one(care, &report.formula, page, &mut out);
    out
}

/// What takes solving again: what holds the formula back and what could go from
/// it, or why there is none; and the caution.
pub fn propose_reasons(report: &ProposeReport, page: &Page) -> String {
    let mut out = String::new();
    let Some(care) = &report.care else {
        if report.status == Status::Infeasible {
            reasons::reasons(&report.reasons, page, &mut out);
        }
        return out;
    };
    ways_out(&report.around, page, &mut out);
    worth::binding(&report.around, page, &mut out);
    worth::without(&report.around, page, &mut out);
    care::caution(care, page, &mut out);
    page.options(&mut out, "every gap, rule and removal");
    out
}

/// How near the formula comes and how sure that is, in a sentence.
fn verdict(report: &ProposeReport, fidelity: f64, page: &Page, out: &mut String) {
    let likely = report.formula.range.as_ref().map_or(String::new(), |range| format!(", likely {}", range.words()));
    let (sure, ink) = sureness(report, fidelity);
    let text = format!("Match on paper {} %{likely}: {sure}", rounded(fidelity, 2));
    page.paragraph(out, "  ", 2, &text, ink);
}

/// What would make more of it heard, solved.
fn ways_out(around: &Around, page: &Page, out: &mut String) {
    if around.ways_out.is_empty() {
        return;
    }
    page.head(out, "More that is heard");
    for way in &around.ways_out {
        page.paragraph(out, "  - ", 4, &format!("{}.", escaped(&way.sentence)), Ink::Plain);
    }
}

/// How sure it is that no other formula is nearer.
fn sureness(report: &ProposeReport, fidelity: f64) -> (String, Ink) {
    if let Some(steady) = report.steady.as_ref().filter(|steady| steady.buys) {
        let best = rounded(steady.best_on_paper.on_paper, 2);
        return (format!("the steadiest found, not proven; the best on paper has {best} %"), Ink::Plain);
    }
    if let Some(explore) = &report.explore {
        let less = explore.mods.first().map_or(0.0, |one| (explore.best_now - one.expected).max(0.0));
        let text = format!(
            "chosen for what it teaches, not proven; {} % points less are to be expected of it than of the best",
            rounded(less, 2)
        );
        return (text, Ink::Plain);
    }
    if let Some(expected) = report.expected.as_ref().filter(|expected| expected.buys) {
        let best = rounded(expected.best_on_paper.on_paper, 2);
        let text = format!("the best to be expected that was found, not proven; the best on paper has {best} %");
        return (text, Ink::Plain);
    }
    if let Some(best) = report.gives_from() {
        let found =
            if report.formula.near.as_ref().is_some_and(|near| near.best_proven == Some(true)) { "" } else { " found" };
        let text = format!("nearer to a known formula than the best match{found}, {} %", rounded(best, 2));
        return (text, Ink::Plain);
    }
    let scope = blotter::scope(report.proven_for, report.any_amounts_fidelity);
    if report.is_proven() {
        return (format!("the best these numbers allow (proven{scope})"), Ink::Good);
    }
    let most = report.bound_fidelity.unwrap_or(100.0);
    let further = rounded_up((most - fidelity).max(0.0), 2);
    let text = format!(
        "not proven best: up to {further} % points more may be possible, {} % at most{scope}",
        rounded_up(most, 2)
    );
    (text, Ink::Alert)
}

/// What a kilogram costs, and what that is beside the material it replaces.
fn cost(report: &ProposeReport, page: &Page, out: &mut String) {
    let currency = escaped(&report.head.currency);
    let text = match report.formula.price {
        Some(price) => format!("{} {currency} per kg{}.", money(price), cheapest(report)),
        None => "unknown: a material in it has no price.".to_owned(),
    };
    let replaces = replaces(report).map_or(String::new(), |(grams, words)| format!(" {grams} {words}."));
    page.labelled(out, "Cost", &format!("{text}{replaces}"), Ink::Plain);
}

/// What a cost is of, and how sure it is that it is the least.
fn cheapest(report: &ProposeReport) -> String {
    let by_bottle = report.formula.formula.as_ref().is_some_and(|formula| formula.basis == Basis::Bottle);
    let as_poured = if by_bottle { " as poured" } else { "" };
    let sure = if report.cheapest_of_its_match { ", the cheapest of its match (proven)" } else { "" };
    format!("{as_poured}{sure}")
}

/// How much of the formula stands for a gram of the material that it replaces.
fn replaces(report: &ProposeReport) -> Option<(String, String)> {
    let replaced = report.replaces.as_ref()?;
    let mut words = format!("replaces 1 g of {} at equal strength", escaped(&replaced.material));
    if let (Some(price), Some(original)) = (replaced.price, replaced.price_of_original) {
        let currency = escaped(&report.head.currency);
        words += &format!(": {currency} {}, not {}", money(price / 1000.0), money(original / 1000.0));
    }
    Some((format!("{} g", significant(replaced.grams_per_gram, 3, 2, 4)), words))
}

fn without_formula(report: &ProposeReport, page: &Page, out: &mut String) {
    if report.status == Status::Infeasible {
        page.paragraph(out, "  ", 2, "No blend can meet this brief (proven).", Ink::Alert);
    } else {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        let text = "No formula was found, and it is not proven that there is none. A longer \
                    --time-limit, or another --solver, may tell.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}

fn headline(report: &ProposeReport, fidelity: f64, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: String, words: String, ink: Ink| {
        // A long value takes the room of its label's blanks.
        let room = 27_usize.saturating_sub(width(label));
        let value = format!("  {label}{value:>room$}  ");
        let indent = width(&value);
        page.paragraph(out, &value, indent, &words, ink);
    };
    let (sure, ink) = sureness(report, fidelity);
    line("Match on paper", format!("{} %", rounded(fidelity, 2)), sure, ink);
    if let Some(range) = &report.formula.range {
        line("Likely", format!("{} %", range.words()), RangeLine::likely().to_owned(), Ink::Plain);
    }
    if let Some(views) = &report.formula.views {
        line("", String::new(), escaped(&views.sentence), Ink::Plain);
    }
    if let Some(second) = &report.formula.second_opinion {
        let words = laws::second(second.exponent).to_owned();
        line("", format!("{} %", rounded(second.fidelity, 2)), words, Ink::Plain);
    }
    let currency = escaped(&report.head.currency);
    match report.formula.price {
        Some(price) => {
            line("Cost", money(price), format!("{currency} per kg{}", cheapest(report)), Ink::Plain);
        }
        None => line("Cost", "-".to_owned(), "unknown: a material in it has no price".to_owned(), Ink::Plain),
    }
    if let Some(price) = report.formula.price_of_effect {
        let words = format!("{currency} per kg for each unit of strength");
        line("", significant(price, 3, 2, 6), words, Ink::Plain);
    }
    if let Some(strength) = report.formula.strength_shown(4, 12) {
        let words = "on the palette's scale of strengths".to_owned();
        line("Strength", strength, words, Ink::Plain);
    }
    if let Some((grams, words)) = replaces(report) {
        line("In its place", grams, words, Ink::Plain);
    }
    if let Some(single) = &report.best_single {
        let words = format!("{} alone, the best single material", escaped(&single.material));
        line("For comparison", format!("{} %", rounded(single.fidelity, 2)), words, Ink::Plain);
    }
}
