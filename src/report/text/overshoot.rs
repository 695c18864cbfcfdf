//! What to do where too much was poured, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table};
use super::weigh::{bottle, decimals, up};
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::report::weigh::{Overshoot, WayOut, WeighReport};

/// Nothing that is in the vessel is too much.
pub const NOTHING_OVER: &str = "Nothing is too much: go on with the sheet above.";
/// There is no way out without a larger batch.
pub const NO_ROOM: &str = "In the batch that was meant there is no room left for the rest.";

/// What is in the vessel, as a heading.
pub fn vessel(report: &WeighReport, overshoot: &Overshoot) -> String {
    let places = decimals(report.balance);
    let held = overshoot.in_vessel.0.iter();
    let held: Vec<String> =
        held.map(|(name, grams)| format!("{} g of {}", rounded(*grams, places), escaped(name))).collect();
    format!("With {} in the vessel", held.join(" and "))
}

/// The ways out with a sentence each, the formula's own first.
pub fn ways(overshoot: &Overshoot) -> Vec<(String, &WayOut)> {
    let larger = overshoot
        .larger
        .as_ref()
        .map(|way| (format!("Either a larger batch of {} g, which holds the formula:", up(way.batch)), way));
    let same = overshoot
        .same
        .as_ref()
        .map(|way| (format!("Or {} g as meant, the nearest formula found:", plain(way.batch)), way));
    larger.into_iter().chain(same).collect()
}

/// How far a way leads from the formula, and what it costs.
pub fn comes_to(way: &WayOut, report: &WeighReport) -> String {
    let mut said = format!("{} points of odour share away from the formula", significant(way.share_distance, 2, 2, 4));
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
    for (sentence, way) in ways(overshoot) {
        page.paragraph(out, "  ", 2, &sentence, Ink::Strong);
        table(way, report, page, out);
        page.paragraph(out, "  ", 2, &comes_to(way, report), Ink::Plain);
    }
    if overshoot.same.is_none() {
        page.paragraph(out, "  ", 2, NO_ROOM, Ink::Alert);
    }
}

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
