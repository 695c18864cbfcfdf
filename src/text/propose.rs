//! The answer of `propose` on the page.

use super::formula::money;
use super::page::{Ink, Page, width};
use super::{care, formula, limits, reasons, steady, worth};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{rounded, rounded_up, significant};
use crate::results::RangeLine;
use crate::results::propose::ProposeReport;
use crate::solve::Status;

/// The whole answer.
pub fn propose(report: &ProposeReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    out.push('\n');
    let (Some(fidelity), Some(care)) = (report.formula.fidelity, &report.care) else {
        without_formula(report, page, &mut out);
        return out;
    };
    headline(report, fidelity, page, &mut out);
    if let Some(found) = &report.steady {
        steady::steady(found, page, &mut out);
    }
    formula::parts(&report.formula, page, &mut out);
    formula::brings(&report.formula, page, &mut out);
    formula::gaps(&report.formula, report.head.matching, page, &mut out);
    worth::binding(&report.around, page, &mut out);
    worth::without(&report.around, page, &mut out);
    care::before_limits(care, page, &mut out);
    limits::limits(&report.formula, page, &mut out);
    let lines: Vec<_> = report.formula.limits.iter().collect();
    care::after_limits(care, &lines, &report.formula.materials, page, &mut out);
    out
}

fn without_formula(report: &ProposeReport, page: &Page, out: &mut String) {
    if report.status == Status::Infeasible {
        page.paragraph(out, "  ", 2, "No blend can meet this brief (proven).", Ink::Alert);
        reasons::reasons(&report.reasons, page, out);
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
    let steady = report.steady.as_ref().filter(|steady| steady.buys);
    let (sure, ink) = if let Some(steady) = steady {
        let best = rounded(steady.best_on_paper.on_paper, 2);
        (format!("the steadiest found, not proven; the best on paper has {best} %"), Ink::Plain)
    } else if report.is_proven() {
        ("the best these numbers allow (proven)".to_owned(), Ink::Good)
    } else {
        let most = report.bound_fidelity.unwrap_or(100.0);
        let further = rounded_up((most - fidelity).max(0.0), 2);
        (
            format!(
                "not proven best: it could still be up to {further} points better, {} % at most",
                rounded_up(most, 2)
            ),
            Ink::Alert,
        )
    };
    line("Match on paper", format!("{} %", rounded(fidelity, 2)), sure, ink);
    if let Some(range) = &report.formula.range {
        line("Likely", format!("{} %", range.words()), RangeLine::likely().to_owned(), Ink::Plain);
    }
    if let Some(second) = &report.formula.second_opinion {
        let words = "second opinion, strong materials weighing less".to_owned();
        line("", format!("{} %", rounded(second.fidelity, 2)), words, Ink::Plain);
    }
    let currency = escaped(&report.head.currency);
    let by_bottle = report.formula.formula.as_ref().is_some_and(|formula| formula.basis == Basis::Bottle);
    let as_poured = if by_bottle { " as poured" } else { "" };
    match report.formula.price {
        Some(price) => {
            let sure = if report.cheapest_of_its_match { ", cheapest of its match (proven)" } else { "" };
            line("Price", money(price), format!("{currency} per kg{as_poured}{sure}"), Ink::Plain);
        }
        None => line("Price", "-".to_owned(), "unknown: a material in it has no price".to_owned(), Ink::Plain),
    }
    if let Some(strength) = report.formula.strength {
        line("Strength", significant(strength, 4, 0, 12), "on the scale of the palette".to_owned(), Ink::Plain);
    }
    if let Some(price) = report.formula.price_of_effect {
        let words = format!("{currency} per kg for each unit of strength");
        line("Price of effect", significant(price, 3, 2, 6), words, Ink::Plain);
    }
    if let Some(replaced) = &report.replaces {
        let name = escaped(&replaced.material);
        let mut words = format!("for 1 g of {name}, by strength");
        if let (Some(price), Some(original)) = (replaced.price, replaced.price_of_original) {
            words += &format!(": {} instead of {} {currency}", money(price / 1000.0), money(original / 1000.0));
        }
        line("Stands in with", format!("{} g", significant(replaced.grams_per_gram, 3, 2, 4)), words, Ink::Plain);
    }
    if let Some(single) = &report.best_single {
        let words = format!("{} alone, the best single material", escaped(&single.material));
        line("For comparison", format!("{} %", rounded(single.fidelity, 2)), words, Ink::Plain);
    }
}
