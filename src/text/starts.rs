//! Formulas to smell side by side, on the page.

use super::formula::{dose, idle_weight, money};
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use super::{care, in_short, limits, reasons};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_down, rounded_up};
use crate::results::LimitLine;
use crate::results::starts::{StartLine, StartsReport};
use crate::solve::Status;
use crate::text::sure::{may_not_be_noticeable, nearer_in};

/// Formulas beside each other in one table.
const COLUMNS: usize = 6;

/// The whole answer.
pub fn starts(report: &StartsReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, "Formulas to smell side by side", Ink::Plain);
    out.push('\n');
    let Some(care) = &report.care else {
        without_formula(report, page, &mut out);
        return out;
    };
    let is_blind = report.formulas.iter().any(|line| line.code.is_some());
    headline(report, is_blind, page, &mut out);
    for line in &report.formulas {
        idle_weight(&line.formula, Some(&format!("formula {}", label(line))), page, &mut out);
    }
    for block in report.formulas.chunks(COLUMNS) {
        doses(report, block, page, &mut out);
    }
    for line in &report.formulas {
        if let Some(unusual) = line.formula.unusual_told() {
            page.paragraph(&mut out, &format!("  {:<3} ", label(line)), 6, &unusual, Ink::Plain);
        }
    }
    if is_blind {
        out.push('\n');
        let text = "What they are worth is in the key. Have somebody else mix them, and look at it after smelling.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Plain);
    } else if page.full {
        each(report, page, &mut out);
    }
    if !page.full {
        let named = |line: &StartLine| Some(format!("formula {}", label(line)));
        let all = report.formulas.iter().flat_map(|line| line.formula.limits.iter().map(move |it| (named(line), it)));
        let joints = report.formulas.iter().flat_map(|line| &line.formula.joints);
        let parts = care::parts_of(report.formulas.iter().map(|line| &line.formula));
        in_short::close(care, &all.collect::<Vec<_>>(), joints, &parts, page, &mut out);
        let apart = if is_blind { "" } else { "what sets each apart, " };
        page.full_adds(&mut out, &format!("{apart}every limit, and how to handle what is strong"));
        return out;
    }
    care::before_limits(care, page, &mut out);
    room(report, page, &mut out);
    let lines: Vec<&LimitLine> = report.formulas.iter().flat_map(|line| &line.formula.limits).collect();
    let parts = care::parts_of(report.formulas.iter().map(|line| &line.formula));
    care::after_limits(care, &lines, &parts, page, &mut out);
    out
}

fn without_formula(report: &StartsReport, page: &Page, out: &mut String) {
    if report.status == Status::Infeasible {
        page.paragraph(out, "  ", 2, "No blend can meet this brief (proven).", Ink::Alert);
        reasons::reasons(&report.reasons, page, out);
    } else {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        page.paragraph(out, "  ", 2, "A longer --time-limit may tell.", Ink::Plain);
    }
}

fn headline(report: &StartsReport, is_blind: bool, page: &Page, out: &mut String) {
    let best = report.formulas.iter().find(|line| line.start == 1).and_then(|line| line.formula.fidelity);
    let mut line = |label: &str, value: String, words: &str, ink: Ink| {
        let first = format!("  {label:<18}{value:>9}  ");
        page.paragraph(out, &first, width(&first), words, ink);
    };
    let percent = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{} %", rounded(value, 2)));
    if !is_blind {
        let (sure, ink) = match report.status {
            Status::Optimal => ("the best match on paper (proven)", Ink::Good),
            _ => ("the best match on paper found, not proven best", Ink::Alert),
        };
        line("Best", percent(best), sure, ink);
    }
    let points = if report.margin == 1.0 { "% point" } else { "% points" };
    let margin = format!(
        "each within {} {points} of the best",
        if report.from.is_some() { rounded_up(report.margin, 2) } else { plain(report.margin) }
    );
    if page.full || is_blind {
        line("None below", percent(report.least_fidelity), &margin, Ink::Plain);
    }
    if let Some(least) = report.least_distance {
        let words = "of the odour or more is different between any two";
        line("Apart by", format!("{} %", rounded_down(least, 2)), words, Ink::Plain);
    }
    if let Some(from) = &report.from {
        let proven = report.formulas.iter().filter_map(|line| line.formula.near.as_ref()?.nearest_proven);
        let sure = if proven.clone().all(|proven| proven) { " (proven)" } else { ", as far as was found" };
        let text = format!(
            "From {}: the last is the nearest to it inside the rules, the first the best match; each between them is the \
             nearest of those that lose no more match{sure}.",
            escaped(from)
        );
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    let found = report.formulas.len();
    if found < report.asked {
        let within = if report.from.is_some() { "on the way" } else { "within the rules and the margin" };
        let text = format!("Only {found} of {}: no more were found {within}.", report.asked);
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    if !report.complete && report.from.is_none() {
        let text = "There was no time for every direction: with a longer --time-limit they may lie further apart.";
        page.paragraph(out, "  ", 2, text, Ink::Alert);
    }
    let counts: Vec<f64> = report.formulas.iter().filter_map(|line| line.nearer_in_percent).collect();
    if !counts.is_empty() {
        let all = counts.iter().all(|count| may_not_be_noticeable(*count));
        let so = if all { " Those differences may not be noticeable: the nose decides." } else { "" };
        let text = if page.full || is_blind { format!("{COUNTS}{so}") } else { so.trim_start().to_owned() };
        if text.is_empty() {
            return;
        }
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
}

/// What the counts beside the formulas are.
const COUNTS: &str = "Beside each: in how many of 100 draws of the scores and strengths it is nearer the target than the \
                      best match on paper.";

fn label(line: &StartLine) -> String {
    line.code.clone().unwrap_or_else(|| line.start.to_string())
}

/// The doses beside each other; in the short form with match and cost below.
fn doses(report: &StartsReport, block: &[StartLine], page: &Page, out: &mut String) {
    let by_bottle =
        block.iter().any(|line| line.formula.formula.as_ref().is_some_and(|formula| formula.basis == Basis::Bottle));
    let parts = if by_bottle { "1000 parts as poured from the bottles" } else { "1000 parts, neat" };
    let is_compared = !page.full && block.iter().any(|line| line.nearer_in_percent.is_some());
    let key = if is_compared { "; nearer in: of 100 draws, than the best on paper" } else { "" };
    page.head(out, &format!("{parts}{key}"));
    let mut names: Vec<&str> = Vec::new();
    for part in block.iter().flat_map(|line| &line.formula.materials) {
        if !names.contains(&part.material.as_str()) {
            names.push(&part.material);
        }
    }
    let column = |line: &StartLine| {
        let of = |name: &&str| {
            let part = line.formula.materials.iter().find(|part| part.material == *name);
            part.map_or_else(|| "·".to_owned(), |part| dose(part.parts.as_f64()))
        };
        aligned(&names.iter().map(of).collect::<Vec<_>>())
    };
    let columns: Vec<Vec<String>> = block.iter().map(column).collect();
    let mut sides = vec![Side::Left];
    sides.extend(block.iter().map(|_| Side::Right));
    let mut table = Table::new(&sides);
    let mut head = vec![String::new()];
    head.extend(block.iter().zip(&columns).map(|(line, column)| {
        // Over the whole numbers, not over the decimals.
        let decimals = column.iter().map(|cell| width(cell) - width(cell.split('.').next().unwrap_or(cell).trim_end()));
        format!("{}{}", label(line), " ".repeat(decimals.min().unwrap_or(0)))
    }));
    table.row(Ink::Faint, head);
    for (row, name) in names.iter().enumerate() {
        let mut cells = vec![escaped(name)];
        cells.extend(columns.iter().map(|column| column[row].clone()));
        table.row(Ink::Plain, cells);
    }
    let is_blind = block.iter().any(|line| line.code.is_some());
    if !page.full && !is_blind {
        let mut below = |name: String, of: &dyn Fn(&StartLine) -> Option<String>| {
            let cells = block.iter().map(|line| of(line).unwrap_or_else(|| "·".to_owned()));
            table.row(Ink::Strong, std::iter::once(name).chain(cells).collect());
        };
        below("match, %".to_owned(), &|line| line.formula.fidelity.map(|value| rounded(value, 2)));
        if block.iter().any(|line| line.formula.near.is_some()) {
            let moved = |line: &StartLine| line.formula.near.as_ref()?.moved.map(|moved| rounded_up(moved, 2));
            below("elsewhere, %".to_owned(), &moved);
        }
        below("nearer in".to_owned(), &|line| line.nearer_in_percent.map(|count| rounded(count, 0)));
        let currency = escaped(&report.head.currency);
        below(format!("cost, {currency}/kg"), &|line| line.formula.price.map(money));
    }
    table.write(out, page);
}

/// Each with its match, its cost and what sets it apart.
fn each(report: &StartsReport, page: &Page, out: &mut String) {
    page.head(out, "What sets each apart");
    for line in &report.formulas {
        let fidelity = line.formula.fidelity.map_or_else(|| "-".to_owned(), |value| format!("{} %", rounded(value, 2)));
        let first = format!("  {:<3} {fidelity:>8}  ", label(line));
        let mut text = escaped(&line.apart);
        if let Some(count) = line.nearer_in_percent {
            text = format!("{}; {text}", nearer_in(count));
        }
        if let Some(price) = line.formula.price {
            text = format!("{text}; {} {} per kg", money(price), escaped(&report.head.currency));
        }
        page.paragraph(out, &first, width(&first), &text, Ink::Plain);
    }
}

/// How near the formulas come to their limits.
fn room(report: &StartsReport, page: &Page, out: &mut String) {
    let all = report.formulas.iter().flat_map(|line| line.formula.limits.iter().map(move |limit| (label(line), limit)));
    limits::fullest(all, page, out);
}

/// The key to the codes, for whoever mixes and for after the smelling.
pub fn key(report: &StartsReport) -> String {
    let page = Page::default();
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, "The key to the codes", Ink::Plain);
    for line in &report.formulas {
        let fidelity = line.formula.fidelity.map_or_else(|| "-".to_owned(), |value| format!("{} %", rounded(value, 2)));
        page.head(&mut out, &format!("{}: start {}, {fidelity}", label(line), line.start));
        page.paragraph(&mut out, "  ", 2, &escaped(&line.apart), Ink::Plain);
        let parts: Vec<String> =
            line.formula.materials.iter().map(|part| format!("{} {}", escaped(&part.material), part.parts)).collect();
        page.paragraph(&mut out, "  ", 2, &parts.join(", "), Ink::Plain);
        if let Some(unusual) = line.formula.unusual_told() {
            page.paragraph(&mut out, "  ", 2, &unusual, Ink::Plain);
        }
    }
    out
}
