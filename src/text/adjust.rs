//! A formula moved in a wanted direction, on the page.

use super::formula::{dose, idle_weight, money};
use super::page::{Ink, Page, width};
use super::table::{Side as At, Table, aligned};
use super::{care, reasons, replace};
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_down, significant};
use crate::results::adjust::{Add, AdjustReport, OdourLine, Side, SideEffect};
use crate::results::states::DoseMove;
use crate::solve::Status;
use crate::text::sure::{may_not_be_noticeable, nearer_in};

/// The whole answer.
pub fn adjust(report: &AdjustReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, &format!("{}: {}", escaped(&report.name), asked(report)), Ink::Plain);
    if report.rescaled {
        page.paragraph(&mut out, "", 0, "Its parts were scaled to 1000.", Ink::Alert);
    }
    if let Some(basis) = report.converted_from {
        let text = format!("Its parts counted in basis {} and were converted to that of the brief.", basis.word());
        page.paragraph(&mut out, "", 0, &text, Ink::Alert);
    }
    out.push('\n');
    match &report.after {
        Some(after) => {
            headline(report, after, page, &mut out);
            idle_weight(&after.formula, None, page, &mut out);
            if let Some(add) = &report.add {
                grams(add, page, &mut out);
            }
            replace::doses(&report.before.formula, &after.formula, page, &mut out);
            costly(report, after, page, &mut out);
            if report.asks_for_something() {
                profile(report, after, page, &mut out);
            }
        }
        None => without_formula(report, page, &mut out),
    }
    replace::broken("What the formula broke before", &report.before.broken, page, &mut out);
    let Some(after) = &report.after else { return out };
    replace::broken("What it breaks now", &after.broken, page, &mut out);
    if !page.full {
        out.push('\n');
    }
    care::of_one(&report.care, &after.formula, page, &mut out);
    care::caution(&report.care, page, &mut out);
    page.options(&mut out, "the whole profile");
    out
}

/// What changes in the profile, the side effects marked.
fn profile(report: &AdjustReport, after: &Side, page: &Page, out: &mut String) {
    let (before, after) = (&report.before.formula, &after.formula);
    if page.full {
        let mark = |descriptor: &str| {
            let is_it = |effect: &SideEffect| effect.descriptor == descriptor;
            if report.side_effects.iter().any(is_it) { "side effect" } else { "" }
        };
        replace::profile_marked(before, after, &mark, page, out);
        return;
    }
    replace::profile_in_a_line(before, after, page, out);
    let effects: Vec<String> = report.side_effects.iter().map(|it| escaped(&it.descriptor)).collect();
    if !effects.is_empty() {
        let text = format!("Side effects, by more than half: {}.", effects.join(", "));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
}

fn names(names: &[String]) -> String {
    names.iter().map(|name| escaped(name)).collect::<Vec<_>>().join(" and ")
}

/// What was asked for, as the end of a sentence.
fn asked(report: &AdjustReport) -> String {
    if !report.asks_for_something() {
        return "neither more nor less of anything is asked for, so it stays as it is.".to_owned();
    }
    let mut said = Vec::new();
    if !report.more.is_empty() {
        said.push(format!("more {}", names(&report.more)));
    }
    if !report.less.is_empty() {
        said.push(format!("less {}", names(&report.less)));
    }
    let each = if report.more.len() + report.less.len() > 1 { " each" } else { "" };
    let on_scale = report.head.on_scale();
    let mut text = format!("{}, by {}{each} at least {on_scale}", said.join(", "), plain(report.by));
    if !report.keep.is_empty() {
        let stay = if report.keep.len() == 1 { "stays" } else { "stay" };
        text += &format!("; {} {stay}", names(&report.keep));
    }
    if let Some(most) = report.most_change {
        text += &format!("; no dose by more than {most}");
    }
    text + "."
}

fn headline(report: &AdjustReport, after: &Side, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: String, words: String, ink: Ink| {
        let first = format!("  {label:<18}{value:>9}  ");
        page.paragraph(out, &first, width(&first), &words, ink);
    };
    let (now, was) = (&after.formula, &report.before.formula);
    if let (Some(add), true) = (&report.add, report.asks_for_something()) {
        let (sure, ink) = match (report.by_odour(), report.status) {
            (true, _) => ("", Ink::Plain),
            (false, Status::Optimal) => ("the least that does it (proven)", Ink::Good),
            (false, _) => ("not proven the least that does it", Ink::Alert),
        };
        let colon = if sure.is_empty() { "" } else { ": " };
        let words = format!("grams to add to {}{colon}{sure}", plain(report.batch.unwrap_or_default()));
        line("Added", weight(add.added), words, ink);
    } else if let (Some(moved), Some(parts)) = (report.moved, report.parts_moved) {
        let of = if parts == 1 { "part".to_owned() } else { format!("{parts} parts") };
        let (words, ink) = match (report.status, report.smallest) {
            _ if !report.asks_for_something() => ("‰: nothing moves".to_owned(), Ink::Plain),
            _ if report.by_odour() => (format!("‰ in all, in {of}"), Ink::Plain),
            (Status::Optimal, None) => (format!("‰ in all, in {of}: no smaller change does it (proven)"), Ink::Good),
            (Status::Optimal, Some(least)) => {
                (format!("‰ in all, in {of}: the smallest, {}, moves more parts", dose(least.as_f64())), Ink::Good)
            }
            _ => {
                let least = rounded_down(report.least_moved.unwrap_or(0.0), 1);
                (format!("‰ in all, in {of}: not proven smallest, {least} at least"), Ink::Alert)
            }
        };
        line("Moved", dose(moved.as_f64()), words, ink);
    }
    if let (Some(change), true) = (&report.odour_change, report.asks_for_something()) {
        let (words, ink) = odour_words(report, change);
        line("Else changed", rounded(change.points, 2), words, ink);
    }
    if let (Some(fidelity), Some(before)) = (now.fidelity, was.fidelity) {
        let mut words = format!("on paper, {} before", rounded(before, 2));
        if let Some(count) = report.nearer_in_percent.filter(|_| report.asks_for_something()) {
            words += &format!("; {}", nearer_in(count));
        }
        line("Match", format!("{} %", rounded(fidelity, 2)), words, Ink::Plain);
    }
    if let (Some(now), Some(was), true) = (&now.second_opinion, &was.second_opinion, page.full) {
        let words = format!("second opinion, {} before", rounded(was.fidelity, 2));
        line("", format!("{} %", rounded(now.fidelity, 2)), words, Ink::Plain);
    }
    let currency = escaped(&report.head.currency);
    match (now.price, was.price) {
        (Some(now), Some(was)) => {
            line("Cost", money(now), format!("{currency} per kg, {} before", money(was)), Ink::Plain);
        }
        _ => line("Cost", "-".into(), "unknown: a material has no price".into(), Ink::Plain),
    }
    if let (Some(now), Some(was), true) = (now.strength_shown(4, 12), was.strength_shown(4, 12), page.full) {
        let words = format!("on the palette's scale of strengths, {was} before");
        line("Strength", now, words, Ink::Plain);
    }
}

/// How much of the odour changes, and how sure it is that it is the least.
fn odour_words(report: &AdjustReport, change: &OdourLine) -> (String, Ink) {
    let of = format!(
        "{}: {} in the profile, and {} % of the odour moved",
        report.head.on_scale(),
        rounded(change.profile_points, 2),
        rounded(change.moved_percent, 1)
    );
    if !report.by_odour() {
        return (of, Ink::Plain);
    }
    let instead = if report.add.is_some() { "takes more grams" } else { "moves more parts" };
    match (report.status, change.smallest_points, change.least_points) {
        (Status::Optimal, None, _) => (format!("{of}; nothing does it with less (proven)"), Ink::Good),
        (Status::Optimal, Some(least), _) => {
            (format!("{of}; the least is {} (proven), but {instead}", rounded(least, 2)), Ink::Good)
        }
        (_, _, Some(least)) => (format!("{of}; not proven least, {} at least", rounded_down(least, 2)), Ink::Alert),
        _ => (format!("{of}; not proven least"), Ink::Alert),
    }
}

/// Says so where few parts of a strong material do a lot of harm.
fn costly(report: &AdjustReport, after: &Side, page: &Page, out: &mut String) {
    let (Some(now), Some(was)) = (after.formula.fidelity, report.before.formula.fidelity) else { return };
    if was <= now || report.nearer_in_percent.is_none_or(may_not_be_noticeable) {
        return;
    }
    let new: Vec<String> =
        report.changes.iter().filter(|it| it.why == DoseMove::New).map(|it| escaped(&it.material)).collect();
    let mut text = format!("The match falls by {} % points.", rounded(was - now, 1));
    if !report.by_odour() {
        text.pop();
        text += ": a small change of parts is not always small.";
    }
    if !new.is_empty() {
        text += &format!(" --keep \"{}\" leaves that out.", new[0]);
    }
    page.paragraph(out, "  ", 2, &text, Ink::Alert);
}

/// Grams to the milligram, and three digits of what is less.
fn weight(grams: f64) -> String {
    significant(grams, 3, 3, 9)
}

/// What goes into the beaker.
fn grams(add: &Add, page: &Page, out: &mut String) {
    page.head(out, "Grams to add to the beaker, from which nothing is taken");
    if add.grams.0.is_empty() {
        page.paragraph(out, "  ", 2, "None.", Ink::Plain);
        return;
    }
    let is_diluted = add.grams.0.iter().zip(&add.grams_poured.0).any(|((_, neat), (_, poured))| neat != poured);
    let neat = aligned(&add.grams.0.iter().map(|(_, grams)| weight(*grams)).collect::<Vec<_>>());
    let poured = aligned(&add.grams_poured.0.iter().map(|(_, grams)| weight(*grams)).collect::<Vec<_>>());
    let mut table = Table::new(&[At::Left, At::Right, At::Right]);
    if is_diluted {
        table.row(Ink::Faint, ["", "neat", "poured from the bottle"].map(str::to_owned).to_vec());
    }
    for (at, (name, _)) in add.grams.0.iter().enumerate() {
        let mut cells = vec![escaped(name), neat[at].clone()];
        if is_diluted {
            cells.push(poured[at].clone());
        }
        table.row(Ink::Strong, cells);
    }
    table.write(out, page);
    let text =
        format!("The beaker then holds {} g{}.", weight(add.total), if is_diluted { " of neat accord" } else { "" });
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

fn without_formula(report: &AdjustReport, page: &Page, out: &mut String) {
    if report.status != Status::Infeasible {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        let text = "No such change was found, and it is not proven that there is none. A longer --time-limit may tell.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        return;
    }
    page.paragraph(out, "  ", 2, "It cannot be done within the rules (proven).", Ink::Alert);
    match &report.furthest {
        Some(furthest) if furthest.by > 0.0 => {
            let each = if report.more.len() + report.less.len() > 1 { " in each" } else { "" };
            let text = format!(
                "One can go as far as {}{each}, of the {} that were asked for: --by {}.",
                rounded_down(furthest.by, 2),
                plain(report.by),
                rounded_down(furthest.by, 2)
            );
            page.paragraph(out, "  ", 2, &text, Ink::Plain);
        }
        Some(_) => page.paragraph(out, "  ", 2, "Not even a little of it can be had.", Ink::Plain),
        None => {
            let text = "The rules leave no formula at all that is no worse in what was asked for.";
            page.paragraph(out, "  ", 2, text, Ink::Plain);
        }
    }
    if let Some(needs) = report.needs {
        let text =
            format!("It can be done where one dose may move by {}: --most-change {needs}.", dose(needs.as_f64()));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
        return;
    }
    reasons::reasons(&report.reasons, page, out);
    if report.batch.is_some() {
        out.push('\n');
        let text = "What --add-only asks for is that nothing leaves the beaker. Without it more may be possible.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}
