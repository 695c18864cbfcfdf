//! What to do where too much was poured, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table};
use super::weigh::{bottle, decimals, up};
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::results::broken::BrokenLine;
use crate::results::weigh::{Overshoot, WayOut, WeighReport};
use crate::solve::Status;

/// Nothing that is in the vessel is too much.
pub const NOTHING_OVER: &str = "Nothing is too much: go on with the sheet above.";
/// What is in the vessel, as a heading.
pub fn vessel(report: &WeighReport, overshoot: &Overshoot) -> String {
    let places = decimals(report.balance);
    let held = overshoot.in_vessel.0.iter();
    // The bottle is part of it: grams of another one would be something else.
    let from = |name: &String| {
        let line = report.lines.iter().find(|line| line.material == *name && line.bottle_percent < 100.0);
        line.map_or(String::new(), |line| format!(" from the {} bottle", bottle(line.bottle_percent)))
    };
    let held: Vec<String> =
        held.map(|(name, grams)| format!("{} g of {}{}", rounded(*grams, places), escaped(name), from(name))).collect();
    format!("With {} in the vessel", held.join(" and "))
}

/// The ways out with a sentence each, the formula's own first.
pub fn ways<'a>(report: &WeighReport, overshoot: &'a Overshoot) -> Vec<(String, &'a WayOut)> {
    let larger = overshoot
        .larger
        .as_ref()
        .map(|way| (format!("Either a larger batch of {} g, which holds the formula:", up(way.batch)), way));
    let how = match (report.matching.is_some(), overshoot.same_status == Some(Status::Optimal)) {
        (true, true) => "solved again with it: the best match within the rules (proven):",
        (true, false) => "solved again with it: the best match found, not proven:",
        (false, true) => "the nearest in odour shares (proven):",
        (false, false) => "the nearest found in odour shares, not proven:",
    };
    let same = overshoot.same.as_ref().map(|way| (format!("Or {} g as meant, {how}", plain(way.batch)), way));
    larger.into_iter().chain(same).collect()
}

/// Why the batch that was meant has no way out, if it has none: a sentence, and
/// the rules that do not stand together.
pub fn no_room(overshoot: &Overshoot) -> Option<(String, Vec<String>)> {
    if !overshoot.is_over || overshoot.same.is_some() {
        return None;
    }
    let text = match (overshoot.same_status, overshoot.same_conflict.is_empty()) {
        (Some(Status::Infeasible), true) => "In the batch that was meant no formula keeps all rules (proven).",
        (Some(Status::Infeasible), false) => {
            "In the batch that was meant no formula keeps all rules (proven). These cannot stand together:"
        }
        _ => {
            "In the batch that was meant nothing was found: the time was up (--time-limit), or the formula and the \
             brief count differently (neat, or as poured)."
        }
    };
    Some((text.to_owned(), overshoot.same_conflict.iter().map(told).collect()))
}

/// A fresh start, in a sentence.
pub fn fresh(report: &WeighReport, overshoot: &Overshoot) -> Option<String> {
    let way = overshoot.fresh.as_ref()?;
    let grams = rounded(overshoot.wasted_grams, decimals(report.balance));
    let money = |amount: f64| format!("{} {}", significant(amount, 3, 2, 6), escaped(&report.currency));
    let wasted = match overshoot.wasted_cost {
        Some(cost) => format!("wastes {grams} g, which cost {}", money(cost)),
        None => format!("wastes {grams} g, of unknown price"),
    };
    let cost = way.cost.map_or(String::new(), |cost| format!("; the batch costs {} again", money(cost)));
    Some(format!("Or a fresh start with the sheet above: it {wasted}{cost}."))
}

/// What a way does not keep, a line each; nothing where it keeps all.
pub fn broken(way: &WayOut) -> Vec<String> {
    way.broken.iter().map(told).collect()
}

fn told(line: &BrokenLine) -> String {
    let place = match (line.file.is_empty(), line.line) {
        (false, Some(at)) => format!(" ({}:{at})", escaped(&line.file)),
        _ => String::new(),
    };
    format!("{}{place}", escaped(&line.sentence))
}

/// What a way keeps where it breaks nothing.
pub fn keeps(report: &WeighReport) -> &'static str {
    match report.matching {
        Some(_) => "Keeps every rule of the brief, the stock and the least mass.",
        None => "Keeps the stock and the least mass; no brief was given (--brief).",
    }
}

/// How far a way leads from the formula, and what it costs.
pub fn comes_to(way: &WayOut, report: &WeighReport) -> String {
    let mut said =
        format!("{} % of the odour is not where the formula has it", significant(way.share_distance, 2, 2, 4));
    if let Some(fidelity) = way.fidelity {
        said += &format!("; match {} %", rounded(fidelity, 2));
    }
    if let Some(cost) = way.cost {
        said += &format!("; it costs {} {}", significant(cost, 3, 2, 6), escaped(&report.currency));
    }
    said + "."
}

/// The whole section.
pub fn mended(report: &WeighReport, overshoot: &Overshoot, page: &Page, out: &mut String) {
    page.head(out, &vessel(report, overshoot));
    if !overshoot.is_over {
        page.paragraph(out, "  ", 2, NOTHING_OVER, Ink::Good);
        return;
    }
    for (sentence, way) in ways(report, overshoot) {
        page.paragraph(out, "  ", 2, &sentence, Ink::Strong);
        table(way, report, page, out);
        page.paragraph(out, "  ", 2, &comes_to(way, report), Ink::Plain);
        verdict(way, report, page, out);
        out.push('\n');
    }
    if let Some((sentence, rules)) = no_room(overshoot) {
        page.paragraph(out, "  ", 2, &sentence, Ink::Alert);
        rules.iter().for_each(|rule| page.paragraph(out, "  - ", 4, rule, Ink::Plain));
        out.push('\n');
    }
    if let (Some(sentence), Some(way)) = (fresh(report, overshoot), &overshoot.fresh) {
        page.paragraph(out, "  ", 2, &sentence, Ink::Strong);
        verdict(way, report, page, out);
    }
}

/// What a way keeps or breaks.
fn verdict(way: &WayOut, report: &WeighReport, page: &Page, out: &mut String) {
    if way.broken.is_empty() {
        return page.paragraph(out, "  ", 2, keeps(report), Ink::Good);
    }
    page.paragraph(out, "  ", 2, DOES_NOT_KEEP, Ink::Alert);
    broken(way).iter().for_each(|rule| page.paragraph(out, "  - ", 4, rule, Ink::Alert));
}

/// Before what a way breaks.
pub const DOES_NOT_KEEP: &str = "It does not keep:";

fn table(way: &WayOut, report: &WeighReport, page: &Page, out: &mut String) {
    let places = decimals(report.balance);
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right]);
    let head = ["", "bottle", "add grams", "reading", "parts ‰"].map(str::to_owned).to_vec();
    table.row(Ink::Faint, head);
    for line in way.lines.iter().filter(|line| line.add_grams > 0.0) {
        let cells = vec![
            escaped(&line.material),
            bottle(line.bottle_percent),
            rounded(line.add_grams, places),
            rounded(line.reading, places),
            significant(line.parts_weighed, 4, 0, 6),
        ];
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
}
