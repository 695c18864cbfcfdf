//! `next` for reading.

use super::formula::dose;
use super::page::{Ink, Page};
use super::{care, in_short, reasons};
use crate::analysis::next::Per;
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_up};
use crate::results::LimitLine;
use crate::results::next::{AboutLine, LessonLine, NextReport};
use crate::results::states::LessonKind;
use crate::solve::Status;

/// The trials worth weighing, with the reason for each.
pub fn next(report: &NextReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, "What to smell next", Ink::Plain);
    out.push('\n');
    let Some(doubt) = report.doubt else {
        if report.status == Status::Infeasible {
            page.paragraph(&mut out, "  ", 2, "No blend can meet this brief (proven).", Ink::Alert);
            reasons::reasons(&report.reasons, page, &mut out);
        } else {
            page.paragraph(&mut out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        }
        return out;
    };
    let used = match report.used.len() {
        0 => "no trial yet".to_owned(),
        1 => "1 trial".to_owned(),
        count => format!("{count} trials"),
    };
    let text = format!(
        "After {used} the match of the best formula is known to within {} % points (one standard deviation). Each trial \
         below settles part of what is unsure.",
        rounded_up(doubt, 1)
    );
    page.paragraph(&mut out, "  ", 2, &text, Ink::Plain);
    if report.next.is_empty() {
        page.paragraph(&mut out, "  ", 2, "No trial would teach much: weigh the proposal.", Ink::Good);
    }
    let currency = &report.head.currency;
    for (at, line) in report.next.iter().enumerate() {
        one(at + 1, line, currency, page, &mut out);
    }
    if !report.next.is_empty() {
        out.push('\n');
        page.paragraph(&mut out, "  ", 2, &taken(report, page.full), Ink::Faint);
    }
    let formulas = || report.next.iter().filter_map(|line| line.mod_formula.as_ref());
    if let (Some(care), false) = (&report.care, page.full) {
        let named = report.next.iter().enumerate().filter_map(|(at, line)| Some((at + 1, line.mod_formula.as_ref()?)));
        let all = named.flat_map(|(at, it)| it.limits.iter().map(move |limit| (Some(format!("trial {at}")), limit)));
        let joints = formulas().flat_map(|formula| &formula.joints);
        in_short::close(care, &all.collect::<Vec<_>>(), joints, &care::parts_of(formulas()), page, &mut out);
        page.full_adds(&mut out, "how much of each doubt a trial takes away, every limit, and the handling");
        return out;
    }
    if let Some(care) = &report.care {
        care::before_limits(care, page, &mut out);
        let named = report.next.iter().enumerate().filter_map(|(at, line)| Some((at + 1, line.mod_formula.as_ref()?)));
        let all = named.flat_map(|(at, formula)| formula.limits.iter().map(move |limit| (at.to_string(), limit)));
        super::limits::fullest(all, page, &mut out);
        let lines: Vec<&LimitLine> = formulas().flat_map(|formula| &formula.limits).collect();
        care::after_limits(care, &lines, &care::parts_of(formulas()), page, &mut out);
    }
    out
}

fn one(number: usize, line: &LessonLine, currency: &str, page: &Page, out: &mut String) {
    out.push('\n');
    let (what, work) = match (&line.material, &line.beside) {
        (Some(one), Some(other)) => {
            let both = format!("{} beside {}, diluted until they smell equally strong", escaped(one), escaped(other));
            (both, "dilutions".to_owned())
        }
        (Some(material), None) => {
            let bottle = line.bottle_percent.filter(|percent| *percent < 100.0);
            let at = bottle.map_or(String::new(), |percent| format!(", from its bottle at {} %", plain(percent)));
            (format!("{} alone{at}", escaped(material)), "a dip, nothing to weigh".to_owned())
        }
        (None, _) => ("a mod near the best".to_owned(), format!("{} weighings", line.weighings)),
    };
    let cost = match line.cost {
        Some(cost) if cost < 0.01 => String::new(),
        Some(cost) => format!(", {} {}", rounded(cost, 2), escaped(currency)),
        None => ", a price is missing".to_owned(),
    };
    let first = format!("  {number}  ");
    let takes = format!("{what} ({work}: {} minutes{cost})", plain(line.minutes));
    page.paragraph(out, &first, 5, &takes, Ink::Strong);
    let for_a_minute = rounded(line.fall_percent / line.minutes, 2);
    let settles =
        format!("settles {} % of what is unsure, {for_a_minute} % for a minute", rounded(line.fall_percent, 0));
    if page.full {
        let text = format!("{settles}; the match is then known to within {} % points", rounded_up(line.doubt_after, 1));
        page.paragraph(out, "     ", 5, &text, Ink::Plain);
        for (at, about) in line.about.iter().enumerate() {
            page.paragraph(out, "     ", 7, &reason(about, at == 0), Ink::Plain);
        }
    } else {
        let about: Vec<String> =
            line.about.iter().map(|it| format!("{} ({} %)", what_of(it), rounded(it.part_percent, 0))).collect();
        let about = if about.is_empty() { String::new() } else { format!(": {}", about.join(", ")) };
        page.paragraph(out, "     ", 5, &format!("{settles}{about}"), Ink::Plain);
    }
    if let Some(formula) = &line.mod_formula {
        let parts: Vec<String> = formula
            .materials
            .iter()
            .map(|part| format!("{} {}", escaped(&part.material), dose(part.parts.as_f64())))
            .collect();
        let basis = formula.formula.as_ref().is_some_and(|formula| formula.basis == Basis::Bottle);
        let how = if basis { "as poured" } else { "neat" };
        let fidelity = formula.fidelity.map_or(String::new(), |fidelity| format!("; match {} %", rounded(fidelity, 1)));
        page.paragraph(out, "     ", 7, &format!("{} ‰ {how}{fidelity}", parts.join(", ")), Ink::Plain);
        if let Some(idle) = formula.idle.as_ref().and_then(|idle| idle.sentence.as_ref()) {
            page.paragraph(out, "     ", 7, &format!("Idle weight: {}.", escaped(idle)), Ink::Alert);
        }
        if let Some(unusual) = formula.unusual_told() {
            page.paragraph(out, "     ", 7, &unusual, Ink::Plain);
        }
    }
}

/// What minutes and money are counted by; what is assumed of them for whoever asks.
fn taken(report: &NextReport, is_full: bool) -> String {
    let effort = &report.effort;
    let (order, others) = match report.per {
        Per::Minute => ("First comes what teaches most for a minute", "--per cost, --per trial"),
        Per::Cost => ("First comes what teaches most for its cost", "--per minute, --per trial"),
        Per::Trial => ("First comes what teaches most, whatever it takes", "--per minute, --per cost"),
    };
    let matches = if report.next.iter().any(|line| line.kind == LessonKind::Match) {
        " A match goes into a file for `permil strengths`."
    } else {
        ""
    };
    let assumed = if effort.is_assumed { " are assumed" } else { "" };
    if !is_full {
        let assumed = if effort.is_assumed { "; minutes are assumed (--full)" } else { "" };
        return format!("{order}{assumed}.{matches}");
    }
    format!(
        "{order} ({others}). Minutes{assumed}: {} for each weighing, {} for smelling, {} for each row of dilutions; a \
         mod is {} g, a dip a drop of {} g.{matches}",
        plain(effort.weighing_minutes),
        plain(effort.smelling_minutes),
        plain(effort.dilution_minutes),
        plain(effort.batch_grams),
        plain(effort.drop_grams),
    )
}

/// What is unsure: a strength, or a score.
fn what_of(about: &AboutLine) -> String {
    let material = escaped(&about.material);
    match about.what.as_str() {
        "strength" => format!("the strength of {material}"),
        "lasting" => format!("how long {material} lasts"),
        word => format!("how {} {material} is", escaped(word)),
    }
}

/// "because the strength of ... is 32 % of what is unsure"
fn reason(about: &AboutLine, is_first: bool) -> String {
    let what = what_of(about);
    let lead = if is_first { "because" } else { "and" };
    let taken = match about.taken_percent {
        taken if taken >= 75.0 => "nearly all of that",
        taken if taken >= 50.0 => "more than half of that",
        taken if taken >= 25.0 => "some of that",
        _ => "a little of that",
    };
    format!("{lead} {what} is {} % of what is unsure: this takes away {taken}", rounded(about.part_percent, 0))
}
