//! A formula with something replaced, on the page.

use super::formula::{MET, dose, idle_weight, money, with_blanks};
use super::page::{Ink, Page, width};
use super::table::{Side as At, Table, aligned};
use super::{care, compare, in_short, limits, reasons};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_up, tidy};
use crate::problem::{DoseKey, RuleId};
use crate::results::broken::BrokenLine;
use crate::results::replace::{AlternativeLine, ReplaceReport, Side};
use crate::results::{FormulaReport, PartLine};
use crate::solve::Status;
use crate::text::sure::nearer_in;
use crate::units::Ppt;

/// Changes of the profile, and replacements, that the short form names.
const FEW_CHANGES: usize = 4;
const FEW_ALTERNATIVES: usize = 3;

/// Where not every single replacement was looked at.
const ALTERNATIVES_OPEN: &str = "There was no time for more replacements. A longer --time-limit tells.";

/// The whole answer.
pub fn replace(report: &ReplaceReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, &format!("{}: {}", escaped(&report.name), asked(report)), Ink::Plain);
    notes(report, page, &mut out);
    out.push('\n');
    match &report.after {
        Some(after) => {
            if !report.not_enough.is_empty() {
                page.paragraph(&mut out, "  ", 2, &not_enough(report), Ink::Faint);
                out.push('\n');
            }
            headline(report, after, page, &mut out);
            idle_weight(&after.formula, None, page, &mut out);
            doses(&report.before.formula, &after.formula, page, &mut out);
            if report.asks_for_something() && page.full {
                profile(&report.before.formula, &after.formula, page, &mut out);
            } else if report.asks_for_something() {
                profile_in_a_line(&report.before.formula, &after.formula, page, &mut out);
            }
        }
        None => without_formula(report, page, &mut out),
    }
    if page.full || report.after.is_none() {
        alternatives(report, page, &mut out);
    } else {
        alternatives_in_a_line(report, page, &mut out);
    }
    broken("What the formula broke before", &report.before.broken, page, &mut out);
    let Some(after) = &report.after else { return out };
    broken("What it breaks now", &after.broken, page, &mut out);
    if !page.full {
        let lines: Vec<in_short::Called> = after.formula.limits.iter().map(|line| (None, line)).collect();
        let poured = &after.formula.materials;
        in_short::close(&report.care, &lines, after.formula.joints.iter(), poured, page, &mut out);
        page.full_adds(&mut out, "the whole profile, the cost of each replacement, every limit, and the handling");
        return out;
    }
    care::before_limits(&report.care, page, &mut out);
    limits::limits(&after.formula, page, &mut out);
    let lines: Vec<_> = after.formula.limits.iter().collect();
    care::after_limits(&report.care, &lines, &after.formula.materials, page, &mut out);
    out
}

/// What was asked for, as the end of a sentence.
fn asked(report: &ReplaceReport) -> String {
    let mut said: Vec<String> = Vec::new();
    if !report.out.is_empty() {
        said.push(format!("without {}", names(&report.out).join(" and ")));
    }
    let lowered = report.limit.iter().map(|it| {
        let name = escaped(&it.material);
        if it.from > it.to {
            format!("{name} lowered from {} to {} at most", it.from, it.to)
        } else {
            format!("{name} at most {}, which it is already", it.to)
        }
    });
    said.extend(lowered);
    if said.is_empty() {
        return "nothing is taken out and nothing lowered, so it stays as it is.".to_owned();
    }
    let others = others(report.free, report.in_proportion);
    let filler = report.makes_up_the_sum.as_ref();
    let filler = filler.map_or_else(String::new, |filler| format!(", and {} makes up the sum", escaped(filler)));
    format!("{}; {others}{filler}.", said.join(", "))
}

/// What the other doses may do.
fn others(free: usize, in_proportion: bool) -> String {
    match free {
        _ if in_proportion => "the other doses keep their proportions".to_owned(),
        0 => "the other doses stay".to_owned(),
        1 => "one of the other doses may move".to_owned(),
        free => format!("{free} of the other doses may move"),
    }
}

/// One line on what was tried before and was not enough; empty where nothing was.
fn not_enough(report: &ReplaceReport) -> String {
    let tried: Vec<String> = report
        .not_enough
        .iter()
        .map(|stage| match (stage.free, stage.in_proportion) {
            _ if stage.with > 1 => format!("{} new materials", stage.with),
            (_, true) => "the other doses in proportion".to_owned(),
            (0, _) => "the other doses as they are".to_owned(),
            (1, _) => "one more dose free".to_owned(),
            (free, _) => format!("{free} more doses free"),
        })
        .collect();
    match (tried.split_last(), report.not_enough.iter().all(|stage| stage.status == Status::Infeasible)) {
        (None, _) => String::new(),
        (Some((last, [])), true) => format!("Not enough: {last} (proven)."),
        (Some((last, [])), false) => format!("Nothing found: {last}."),
        (Some((last, rest)), proven) => {
            let (said, sure) = if proven { ("Not enough", " (proven)") } else { ("Nothing found", "") };
            format!("{said}: {} or {last}{sure}.", rest.join(", "))
        }
    }
}

fn names(names: &[String]) -> Vec<String> {
    names.iter().map(|name| escaped(name)).collect()
}

fn notes(report: &ReplaceReport, page: &Page, out: &mut String) {
    if report.rescaled {
        page.paragraph(out, "", 0, "Its parts were scaled to 1000.", Ink::Alert);
    }
    if let Some(basis) = report.converted_from {
        let text = format!("Its parts counted in basis {} and were converted to that of the brief.", basis.word());
        page.paragraph(out, "", 0, &text, Ink::Alert);
    }
}

fn without_formula(report: &ReplaceReport, page: &Page, out: &mut String) {
    if report.status != Status::Infeasible {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        let text = "No formula was found, and it is not proven that there is none. A longer --time-limit may tell.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        if !report.not_enough.is_empty() {
            page.paragraph(out, "  ", 2, &not_enough(report), Ink::Plain);
        }
        return;
    }
    page.paragraph(out, "  ", 2, "Nothing can take its place within the rules (proven).", Ink::Alert);
    if !report.says_why {
        let most = match (report.with, report.free) {
            (with, 0) if with < 2 => String::new(),
            (with, free) if with < 2 => format!("Nor with {free} of the other doses free. "),
            (with, free) => format!("Nor with {with} new materials and {free} of the other doses free. "),
        };
        let before = not_enough(report);
        let text =
            format!("{before}{}{most}--why names the rules that collide.", if before.is_empty() { "" } else { " " });
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
        return;
    }
    if report.reasons.conflict.is_empty() && report.free > 0 {
        let text =
            "With more of the other doses free (--free), or more new materials (--with), there may be something.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        return;
    }
    reasons::reasons(&report.reasons, page, out);
    // More room only helps where it is the doses that stay which leave none.
    let stays = |rule: &RuleId| matches!(rule, RuleId::Dose(_, DoseKey::Fixed) | RuleId::With);
    if report.reasons.conflict.iter().any(|line| stays(&line.rule)) {
        out.push('\n');
        let text = "--free 1 lets one of the other doses move, --with 2 allows two new materials.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}

fn headline(report: &ReplaceReport, after: &Side, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: String, words: String, ink: Ink| {
        let value = format!("  {label:<18}{value:>9}  ");
        let indent = width(&value);
        page.paragraph(out, &value, indent, &words, ink);
    };
    let (now, was) = (&after.formula, &report.before.formula);
    if let Some(fidelity) = now.fidelity {
        let (sure, ink) = if report.status == Status::Optimal {
            ("of its own profile, the most possible (proven)".to_owned(), Ink::Good)
        } else {
            let most = rounded_up(report.bound_fidelity.unwrap_or(100.0), 2);
            (format!("of its own profile, not proven best: {most} % at most"), Ink::Alert)
        };
        line("It keeps", format!("{} %", rounded(fidelity, 2)), sure, ink);
    }
    if let Some(second) = now.second_opinion.as_ref().filter(|_| page.full) {
        let words = "second opinion, strong materials weighing less".to_owned();
        line("", format!("{} %", rounded(second.fidelity, 2)), words, Ink::Plain);
    }
    if let (Some(now), Some(was)) = (after.to_brief, report.before.to_brief) {
        let mut words = format!("match, {} before", rounded(was.fidelity, 2));
        if let Some(count) = now.nearer_in_percent.filter(|_| report.asks_for_something()) {
            words += &format!("; {}", nearer_in(count));
        }
        line("The brief", format!("{} %", rounded(now.fidelity, 2)), words, Ink::Plain);
    }
    let currency = escaped(&report.head.currency);
    match (now.price, was.price) {
        (Some(now), Some(was)) => {
            line("Cost", money(now), format!("{currency} per kg, {} before", money(was)), Ink::Plain);
        }
        _ => line("Cost", "-".into(), "unknown: a material has no price".into(), Ink::Plain),
    }
    if let (true, Some(now), Some(was)) = (page.full, now.strength_shown(4, 12), was.strength_shown(4, 12)) {
        let words = format!("on the palette's scale of strengths, {was} before");
        line("Strength", now, words, Ink::Plain);
    }
}

/// The doses before and after, as one weighs them.
pub fn doses(before: &FormulaReport, after: &FormulaReport, page: &Page, out: &mut String) {
    let by_bottle = after.formula.as_ref().is_some_and(|formula| formula.basis == Basis::Bottle);
    let what = if by_bottle { "1000 parts as poured from the bottles" } else { "1000 parts, neat" };
    page.head(out, &format!("Formula: {what}"));
    let (old, new, unusual) = (&before.materials, &after.materials, after.unusual_told());
    let find = |lines: &'_ [PartLine], name: &str| lines.iter().find(|line| line.material == name).map(|it| it.parts);
    let gone = old.iter().filter(|line| find(new, &line.material).is_none());
    // In the order of the new formula, what is gone at the end.
    let mut lines: Vec<(&PartLine, bool)> = new.iter().map(|it| (it, false)).chain(gone.map(|it| (it, true))).collect();
    let moves = |line: &PartLine| find(old, &line.material) != find(new, &line.material);
    let staying: Vec<&PartLine> = lines.iter().map(|(line, _)| *line).filter(|line| !moves(line)).collect();
    if !page.full && staying.len() < lines.len() {
        lines.retain(|(line, _)| moves(line));
    }
    let all_shown = lines.iter().any(|(line, _)| !moves(line));
    let amount = |parts: Option<Ppt>| parts.map_or_else(|| "·".to_owned(), |parts| dose(parts.as_f64()));
    let change = |line: &PartLine| {
        let by = find(new, &line.material).unwrap_or_default() - find(old, &line.material).unwrap_or_default();
        let sign = if by < Ppt::ZERO { "−" } else { "+" };
        if by.is_zero() { "·".to_owned() } else { format!("{sign}{}", dose(by.as_f64().abs())) }
    };
    let column = |of: &dyn Fn(&PartLine, bool) -> String| -> Vec<String> {
        aligned(&lines.iter().map(|(line, is_gone)| of(line, *is_gone)).collect::<Vec<_>>())
    };
    let before = column(&|line, _| amount(find(old, &line.material)));
    let now = column(&|line, is_gone| amount((!is_gone).then_some(line.parts)));
    let changes = column(&|line, _| change(line));
    let poured = column(&|line, is_gone| if is_gone { "·".to_owned() } else { dose(line.poured) });
    let diluted = !by_bottle && new.iter().any(|line| line.bottle_percent < 100.0);
    let mut sides = vec![At::Left, At::Right, At::Right, At::Right];
    let mut head = vec![String::new(), "before".into(), "now".into(), "change".into()];
    if diluted {
        sides.extend([At::Right, At::Right]);
        head.extend(["poured".to_owned(), "from".to_owned()]);
    }
    let mut table = Table::new(&sides);
    table.row(Ink::Faint, head);
    for (at, (line, is_gone)) in lines.iter().enumerate() {
        let mut cells = vec![escaped(&line.material), before[at].clone(), now[at].clone(), changes[at].clone()];
        if diluted {
            let is_diluted = line.bottle_percent < 100.0 && !is_gone;
            let from = if is_diluted { format!("{} %", plain(line.bottle_percent)) } else { String::new() };
            cells.extend([poured[at].clone(), from]);
        }
        let ink = if changes[at].trim() == "·" { Ink::Plain } else { Ink::Strong };
        table.row(ink, cells);
    }
    let sum = |lines: &[PartLine], of: fn(&PartLine) -> f64| dose(tidy(lines.iter().map(of).sum()));
    let parts = |line: &PartLine| line.parts.as_f64();
    let mut sums = vec![
        "together".to_owned(),
        with_blanks(&sum(old, parts), &before),
        with_blanks(&sum(new, parts), &now),
        String::new(),
    ];
    if diluted {
        sums.push(with_blanks(&sum(new, |line| line.poured), &poured));
    }
    table.row(Ink::Faint, sums);
    table.write(out, page);
    if !all_shown && !staying.is_empty() {
        let one = |line: &&PartLine| {
            let from = if by_bottle || line.bottle_percent >= 100.0 {
                String::new()
            } else {
                format!(" (poured {} at {} %)", dose(line.poured), plain(line.bottle_percent))
            };
            format!("{} {}{from}", escaped(&line.material), dose(line.parts.as_f64()))
        };
        let text = format!("As before: {}.", staying.iter().map(one).collect::<Vec<_>>().join(", "));
        page.paragraph(out, "  ", 4, &text, Ink::Plain);
    }
    if let Some(unusual) = unusual {
        page.paragraph(out, "  ", 2, &unusual, Ink::Plain);
    }
    if lines.iter().any(|(line, _)| dose(line.parts.as_f64()) != line.parts.to_string()) {
        let note = "Doses are rounded here; JSON, CSV and --save hold every decimal.";
        page.paragraph(out, "  ", 2, note, Ink::Faint);
    }
}

/// The descriptors that changed, the largest change first.
pub fn profile(before: &FormulaReport, after: &FormulaReport, page: &Page, out: &mut String) {
    profile_marked(before, after, &|_| "", page, out);
}

/// The same with a word on some of the descriptors.
pub fn profile_marked(
    before: &FormulaReport,
    after: &FormulaReport,
    mark: &dyn Fn(&str) -> &'static str,
    page: &Page,
    out: &mut String,
) {
    page.head(out, "What changes in the profile, in scores");
    let lines = changed(before, after);
    if lines.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing by 0.05 or more.", Ink::Plain);
        return;
    }
    let mut table = Table::new(&[At::Left, At::Right, At::Right, At::Right, At::Left]);
    table.row(Ink::Faint, ["", "before", "now", "change", ""].map(str::to_owned).to_vec());
    for (descriptor, was, now) in lines {
        let word = mark(descriptor);
        let cells = [escaped(descriptor), rounded(was, 2), rounded(now, 2), compare::signed(now - was), word.into()];
        table.row(if word.is_empty() { Ink::Plain } else { Ink::Strong }, cells.to_vec());
    }
    table.write(out, page);
}

/// The descriptors that changed with their scores before and after, the largest
/// change first.
fn changed<'a>(before: &'a FormulaReport, after: &FormulaReport) -> Vec<(&'a str, f64, f64)> {
    let both = before.profile.iter().zip(&after.profile);
    let mut lines: Vec<(&str, f64, f64)> = both
        .filter(|(was, now)| (now.blend - was.blend).abs() >= MET)
        .map(|(was, now)| (was.descriptor.as_str(), was.blend, now.blend))
        .collect();
    lines.sort_by(|a, b| (b.2 - b.1).abs().total_cmp(&(a.2 - a.1).abs()));
    lines
}

/// The same in a paragraph: `muguet 0.24 to 0.54`.
pub fn profile_in_a_line(before: &FormulaReport, after: &FormulaReport, page: &Page, out: &mut String) {
    let lines = changed(before, after);
    let all: Vec<String> = lines
        .iter()
        .map(|(descriptor, was, now)| format!("{} {} to {}", escaped(descriptor), rounded(*was, 2), rounded(*now, 2)))
        .collect();
    let text = match &all[..] {
        [] => "No score of the profile changes by 0.05 or more.".to_owned(),
        all => format!("In the profile: {}.", in_short::few(all, FEW_CHANGES)),
    };
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// The other single replacements in a paragraph: what each keeps.
fn alternatives_in_a_line(report: &ReplaceReport, page: &Page, out: &mut String) {
    let taken = report.after.as_ref().map_or(&[][..], |after| &after.formula.materials);
    let is_taken = |it: &&AlternativeLine| taken.iter().any(|line| line.material == it.materials[0]);
    let told = report.alternatives.iter().filter(|it| !is_taken(it)).map(|it| {
        let keeps =
            it.formula.fidelity.map_or_else(|| "-".to_owned(), |keeps| format!("keeps {} %", rounded(keeps, 2)));
        let to_buy = if it.have { "" } else { ", to buy" };
        format!("{} ({keeps}{to_buy})", escaped(&it.materials[0]))
    });
    let told: Vec<String> = told.collect();
    if !told.is_empty() {
        let text = format!("Instead, alone: {}.", in_short::few(&told, FEW_ALTERNATIVES));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if !report.alternatives_complete {
        page.paragraph(out, "  ", 2, ALTERNATIVES_OPEN, Ink::Alert);
    }
}

fn alternatives(report: &ReplaceReport, page: &Page, out: &mut String) {
    if report.alternatives.is_empty() {
        return;
    }
    page.head(out, "Single replacements, the nearest first");
    let parts = |it: &AlternativeLine| {
        let line = it.formula.materials.iter().find(|line| line.material == it.materials[0]);
        line.map_or_else(|| "-".to_owned(), |line| dose(line.parts.as_f64()))
    };
    let lines = &report.alternatives;
    let column = |of: &dyn Fn(&AlternativeLine) -> String| aligned(&lines.iter().map(of).collect::<Vec<_>>());
    let number = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| rounded(value, 2));
    let (doses, prices) = (column(&parts), column(&|it| it.formula.price.map_or_else(|| "-".to_owned(), money)));
    let mut table = Table::new(&[At::Left, At::Right, At::Right, At::Right, At::Right, At::Left]);
    let currency = escaped(&report.head.currency);
    let head =
        ["".to_owned(), "parts".into(), "keeps, %".into(), "brief, %".into(), format!("{currency}/kg"), "".into()];
    table.row(Ink::Faint, head.to_vec());
    for (at, it) in lines.iter().enumerate() {
        let note = match (it.have, it.status) {
            (false, _) => "to buy",
            (true, Status::Optimal) => "",
            _ => "not proven best",
        };
        let own = number(it.formula.fidelity);
        let brief = number(it.to_brief.map(|brief| brief.fidelity));
        let cells = [escaped(&it.materials[0]), doses[at].clone(), own, brief, prices[at].clone(), note.to_owned()];
        table.row(Ink::Plain, cells.to_vec());
    }
    table.write(out, page);
    if !report.alternatives_complete {
        page.paragraph(out, "  ", 2, ALTERNATIVES_OPEN, Ink::Alert);
    }
}

/// Rules that a formula breaks, under a head of their own.
pub fn broken(head: &str, lines: &[BrokenLine], page: &Page, out: &mut String) {
    if lines.is_empty() {
        return;
    }
    page.head(out, head);
    for line in lines {
        page.paragraph(out, "  - ", 4, &super::broken::sentence(line), Ink::Plain);
    }
}
