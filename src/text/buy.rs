//! What is worth buying, on the page.

use super::formula::{dose, money};
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use super::{care, formula, in_short, limits, reasons};
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_up, significant};
use crate::results::Item;
use crate::results::RangeLine;
use crate::results::buy::{BuyReport, Candidate};
use crate::results::states::PricedBy;
use crate::solve::Status;
use crate::text::sure::{may_not_be_noticeable, nearer_in, of_hundred};

/// Names of a list beyond this many are counted.
const MOST_NAMES: usize = 12;

/// The whole answer.
pub fn buy(report: &BuyReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, "What is worth buying", Ink::Plain);
    out.push('\n');
    headline(report, page, &mut out);
    if report.everything.status == Status::Infeasible {
        let text = "Nor can any, whatever of it is bought (proven).";
        page.paragraph(&mut out, "  ", 2, text, Ink::Alert);
        reasons::reasons(&report.reasons, page, &mut out);
        left_out(report, page, &mut out);
        return out;
    }
    singles(report, page, &mut out);
    pair(report, page, &mut out);
    let shown = report.shown.as_ref().map(|(at, _)| &report.candidates[*at]);
    let with = shown.map(|best| (format!("the formula {}", with(best)), &*best.formula));
    let base =
        report.base.formula.fidelity.map(|_| ("the formula of the shelf alone".to_owned(), &report.base.formula));
    formula::most_idle(base.into_iter().chain(with), page, &mut out);
    if let Some(unusual) = shown.filter(|_| !page.full).and_then(|best| best.formula.unusual_told()) {
        page.paragraph(&mut out, "  ", 2, &unusual, Ink::Plain);
    }
    if page.full {
        first_batch(report, page, &mut out);
    }
    left_out(report, page, &mut out);
    if page.full {
        shown_formula(report, page, &mut out);
    } else {
        checked_in_short(report, page, &mut out);
        if report.shown.is_some() {
            page.full_adds(&mut out, "what a first batch needs, and the best formula with every limit");
        }
    }
    out
}

/// "with Geraniol and Nerol"
fn with(candidate: &Candidate) -> String {
    let names: Vec<String> = candidate.materials.iter().map(|name| escaped(name)).collect();
    format!("with {}", names.join(" and "))
}

fn headline(report: &BuyReport, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: String, words: String, ink: Ink| {
        let value = format!("  {label:<18}{value:>9}  ");
        let indent = width(&value);
        page.paragraph(out, &value, indent, &words, ink);
    };
    let base = &report.base;
    let currency = escaped(&report.head.currency);
    match base.formula.fidelity {
        Some(fidelity) => {
            let (sure, ink) = match base.bound_fidelity {
                _ if base.status == Status::Optimal => ("the best match on paper (proven)".to_owned(), Ink::Good),
                bound => (
                    format!("match on paper, not proven best: {} % at most", rounded_up(bound.unwrap_or(100.0), 2)),
                    Ink::Alert,
                ),
            };
            line("The shelf alone", format!("{} %", rounded(fidelity, 2)), sure, ink);
            if let Some(second) = base.formula.second_opinion.as_ref().filter(|_| page.full) {
                let words = "second opinion, strong materials weighing less".to_owned();
                line("", format!("{} %", rounded(second.fidelity, 2)), words, Ink::Plain);
            }
            if let Some(price) = base.formula.price {
                line("", money(price), format!("{currency} per kg"), Ink::Plain);
            }
        }
        None if base.status == Status::Infeasible => {
            line("The shelf alone", "-".into(), "no blend of it can meet this brief (proven)".into(), Ink::Alert);
        }
        None => line("The shelf alone", "-".into(), "no formula was found in the time allowed".into(), Ink::Alert),
    }
    if let Some(range) = &base.formula.range {
        line("", format!("{} %", range.words()), format!("likely: {}", RangeLine::likely()), Ink::Plain);
    }
    let candidates = report.candidates.iter().filter(|it| !it.is_pair()).count();
    if let (true, Some(bound)) = (candidates > 1, report.everything.bound_fidelity) {
        let used: Vec<String> = report.everything.materials.iter().map(|name| escaped(name)).collect();
        let all = match (candidates, used.split_last()) {
            (_, Some((last, others))) if others.len() > 1 && used.len() <= MOST_NAMES => {
                format!("with {} and {last} of the {candidates} that could be bought", others.join(", "))
            }
            (2, _) => "with both that could be bought".to_owned(),
            _ => format!("with all {candidates} that could be bought"),
        };
        let words = match report.everything.status {
            Status::Optimal => format!("{all} (proven)"),
            _ if report.everything.formula.is_some() => format!("at least {all}, {} % at most", rounded_up(bound, 2)),
            _ => format!("at most, {all}"),
        };
        let is_found = report.everything.status == Status::Optimal || report.everything.formula.is_some();
        let shown = if is_found { report.everything.fidelity } else { Some(bound) };
        line("Everything bought", format!("{} %", rounded(shown.unwrap_or(bound), 2)), words, Ink::Plain);
    }
}

fn singles(report: &BuyReport, page: &Page, out: &mut String) {
    let singles: Vec<&Candidate> = report.candidates.iter().filter(|it| !it.is_pair()).collect();
    if singles.is_empty() {
        let text = match &report.wishlist {
            Some(_) => "Nothing on the wishlist, and nothing with have = false, could be used here.",
            None => {
                "Nothing could be bought: no material that the brief can use has have = false. --from takes a \
                     wishlist, a second palette."
            }
        };
        out.push('\n');
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        return;
    }
    page.head(out, "What one more material would add to the match, in % points");
    let adding: Vec<&Candidate> = singles.iter().copied().filter(|it| it.adds()).collect();
    let is_clear = |it: &&&Candidate| it.within_doubt != Some(true);
    let clear: Vec<&Candidate> = adding.iter().filter(is_clear).copied().collect();
    let doubtful: Vec<&Candidate> = adding.iter().filter(|it| !is_clear(it)).copied().collect();
    if !clear.is_empty() {
        table(report, &clear, page, out);
    }
    if !doubtful.is_empty() {
        if !clear.is_empty() {
            out.push('\n');
        }
        page.paragraph(out, "  ", 2, "What may not be noticeable", Ink::Strong);
        table(report, &doubtful, page, out);
    }
    let idle = |status: Status| -> Vec<String> {
        let idle = singles.iter().filter(|it| !it.adds() && it.status == status);
        idle.map(|it| escaped(&it.materials[0])).collect()
    };
    let nothing = idle(Status::Optimal);
    if !nothing.is_empty() {
        let verb = if nothing.len() == 1 { "adds" } else { "add" };
        let text = format!("{} {verb} nothing (proven).", list(&nothing));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    let useless = idle(Status::Infeasible);
    if !useless.is_empty() {
        let one = if useless.len() == 1 { "" } else { "any one of " };
        let text = format!("With {one}{} there is still no formula (proven).", list(&useless));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    let open = idle(Status::Unknown);
    if !open.is_empty() {
        let most = singles.iter().filter(|it| it.status == Status::Unknown).filter_map(|it| it.most_gain);
        let most = most.reduce(f64::max).map(|most| format!(" They could add up to {} % points.", rounded_up(most, 2)));
        let text = format!(
            "Not computed to the end in the time allowed: {}.{} A longer --time-limit tells.",
            list(&open),
            most.unwrap_or_default()
        );
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
}

/// A few names; of many the first, and how many more there are.
fn list(names: &[String]) -> String {
    let most = if names.len() <= MOST_NAMES + 1 { names.len() } else { MOST_NAMES };
    let shown = names[..most].join(", ");
    if most < names.len() { format!("{shown} and {} more", names.len() - most) } else { shown }
}

fn table(report: &BuyReport, candidates: &[&Candidate], page: &Page, out: &mut String) {
    let parts = |it: &Candidate| {
        let of = |name: &String| it.formula.materials.iter().find(|line| line.material == *name);
        let doses: Vec<String> = it.materials.iter().filter_map(of).map(|line| dose(line.parts.as_f64())).collect();
        doses.join(" + ")
    };
    let cost = |it: &Candidate| it.purchase.as_ref().and_then(|purchase| purchase.cost);
    let column = |of: &dyn Fn(&Candidate) -> Option<String>| -> Vec<String> {
        let cells: Vec<String> = candidates.iter().map(|it| of(it).unwrap_or_else(|| "-".to_owned())).collect();
        aligned(&cells)
    };
    let gains =
        column(&|it| it.gain.map(|gain| format!("+{}{}", rounded(gain, 2), if it.is_proven() { "" } else { " ?" })));
    let fidelities = column(&|it| it.formula.fidelity.map(|fidelity| rounded(fidelity, 2)));
    let prices = column(&|it| it.formula.price.map(money));
    let counts = column(&|it| it.nearer_in_percent.map(of_hundred));
    let doses = column(&|it| Some(parts(it)));
    let costs = column(&|it| cost(it).map(small));
    let mut table =
        Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Right, Side::Right]);
    let currency = escaped(&report.head.currency);
    let batch = format!("first {} g", plain(report.batch));
    let head = [
        "".into(),
        "adds".into(),
        "nearer in".into(),
        "match, %".into(),
        format!("{currency}/kg"),
        "parts".into(),
        batch,
    ];
    table.row(Ink::Faint, head.to_vec());
    for (at, it) in candidates.iter().enumerate() {
        let names: Vec<String> = it.materials.iter().map(|name| escaped(name)).collect();
        let ink = if it.is_proven() { Ink::Plain } else { Ink::Alert };
        let cells = [&names.join(" + "), &gains[at], &counts[at], &fidelities[at], &prices[at], &doses[at], &costs[at]];
        table.row(ink, cells.map(String::to_owned).to_vec());
    }
    table.write(out, page);
    if candidates.iter().any(|it| !it.is_proven()) {
        page.paragraph(out, "  ", 2, "? not proven best: it may add more.", Ink::Alert);
    }
}

fn pair(report: &BuyReport, page: &Page, out: &mut String) {
    let Some(pair) = &report.pair else { return };
    page.head(out, "The best two together");
    let most = pair.bound_fidelity.zip(report.base.formula.fidelity).map(|(bound, base)| (bound - base).max(0.0));
    let most = most.map(|most| format!(" Two could add up to {} % points.", rounded_up(most, 2))).unwrap_or_default();
    match (report.candidates.iter().find(|it| it.is_pair()), pair.status) {
        (Some(found), _) => {
            table(report, &[found], page, out);
            let best = report.candidates.iter().find(|it| !it.is_pair() && it.adds());
            let further = best.and_then(|best| best.gain).zip(found.gain).map(|(one, two)| two - one);
            if let Some((further, count)) = further.zip(found.nearer_than_single_in_percent) {
                let further = if further < 0.01 { "less than 0.01".to_owned() } else { rounded(further, 2) };
                let so = if may_not_be_noticeable(count) { ": it may not be noticeable" } else { "" };
                let text =
                    format!("That is {further} % points more than the best single one, {}{so}.", nearer_in(count));
                page.paragraph(out, "  ", 2, &text, Ink::Plain);
            }
        }
        (None, Status::Optimal) => {
            let text = match report.candidates.iter().find(|it| it.adds()) {
                Some(best) => format!("No two do better than {} alone (proven).", escaped(&best.materials[0])),
                None => "No two add anything (proven).".to_owned(),
            };
            page.paragraph(out, "  ", 2, &text, Ink::Plain);
        }
        (None, Status::Infeasible) => page.paragraph(out, "  ", 2, "No two make a formula (proven).", Ink::Plain),
        (None, _) => {
            let text = format!("None better than the best single one was found in the time allowed.{most}");
            page.paragraph(out, "  ", 2, &text, Ink::Alert);
        }
    }
}

/// What a first batch needs of those that add something.
fn first_batch(report: &BuyReport, page: &Page, out: &mut String) {
    let adding = report.candidates.iter().filter(|it| it.adds() && it.purchase.is_some());
    let few: Vec<&Candidate> = adding.take(MOST_NAMES).collect();
    if few.is_empty() {
        return;
    }
    page.head(out, &format!("What a first batch of {} g of neat accord needs", plain(report.batch)));
    let currency = escaped(&report.head.currency);
    for it in few {
        let items = it.purchase.iter().flat_map(|purchase| &purchase.items);
        let items: Vec<String> = items.map(|item| item_line(item, &currency)).collect();
        page.paragraph(out, "  - ", 4, &items.join("; "), Ink::Plain);
    }
}

/// An amount of money that may be next to nothing.
fn small(amount: f64) -> String {
    if amount > 0.0 && amount < 0.01 { "<0.01".to_owned() } else { rounded(amount, 2) }
}

fn item_line(item: &Item, currency: &str) -> String {
    let name = escaped(&item.material);
    let grams = significant(item.grams, 3, 0, 9);
    let cost = item.cost.map(small).unwrap_or_default();
    match item.by {
        PricedBy::Packs => {
            let packs = item.packs.iter().map(|pack| {
                let noun = if pack.count == 1 { "pack" } else { "packs" };
                format!("{} {noun} of {} g", pack.count, plain(pack.grams))
            });
            let packs: Vec<String> = packs.collect();
            let sure = if item.proven { "" } else { ", not proven cheapest" };
            format!("{name}: {grams} g, in {}: {cost} {currency}{sure}", packs.join(" and "))
        }
        PricedBy::PricePerKg => format!("{name}: {grams} g, {cost} {currency} at its price per kg (no packs known)"),
        PricedBy::Unknown => format!("{name}: {grams} g, of unknown price"),
    }
}

fn left_out(report: &BuyReport, page: &Page, out: &mut String) {
    if report.left_out.is_empty() {
        return;
    }
    if !page.full {
        let names: Vec<String> = report.left_out.iter().map(|line| escaped(&line.material)).collect();
        out.push('\n');
        page.paragraph(out, "  ", 2, &format!("Of no use to this brief: {}.", list(&names)), Ink::Plain);
        return;
    }
    page.head(out, "Of no use to this brief");
    for line in report.left_out.iter().take(MOST_NAMES) {
        let text = format!("{}: {}", escaped(&line.material), escaped(&line.why));
        page.paragraph(out, "  - ", 4, &text, Ink::Plain);
    }
    if report.left_out.len() > MOST_NAMES {
        let text = format!("and {} more", report.left_out.len() - MOST_NAMES);
        page.paragraph(out, "  - ", 4, &text, Ink::Plain);
    }
}

/// What was checked of the formula of the best offer.
fn checked_in_short(report: &BuyReport, page: &Page, out: &mut String) {
    let Some((at, care)) = &report.shown else { return };
    let best = &report.candidates[*at];
    let called = with(best);
    let lines: Vec<in_short::Called> = best.formula.limits.iter().map(|line| (Some(called.clone()), line)).collect();
    in_short::close(care, &lines, best.formula.joints.iter(), &[], page, out);
}

/// The formula of the best offer, with what was checked of it; of the best
/// single one where a pair is not surely better.
fn shown_formula(report: &BuyReport, page: &Page, out: &mut String) {
    let Some((at, care)) = &report.shown else { return };
    let best = &report.candidates[*at];
    let shown = &best.formula;
    page.head(out, &format!("The best formula {}", with(best)));
    formula::parts(shown, page, out);
    if report.candidates.iter().filter(|it| it.adds()).count() > 1 {
        page.paragraph(out, "  ", 2, "The formula of every other one is in the JSON.", Ink::Faint);
    }
    care::before_limits(care, page, out);
    limits::limits(shown, page, out);
    let lines: Vec<_> = shown.limits.iter().collect();
    care::after_limits(care, &lines, &shown.materials, page, out);
}
