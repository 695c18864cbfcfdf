//! Formulas side by side on the page.

use super::care;
use super::formula::{MET, dose, money, round_to};
use super::limits::mark;
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{decimals_for, plain, rounded, rounded_up, significant};
use crate::results::compare::{ApartLine, BrokenLine, CompareReport, Compared};
use crate::results::{FormulaReport, JointLine, LimitLine, RangeLine};
use crate::sentences::care::product_name;
use crate::text::sure::of_hundred;

/// Columns that a page keeps for the names of rows.
const NAMES: usize = 26;
/// Pairs of which it is said which is nearer.
const PAIRS: usize = 8;
/// Columns that one formula takes.
const FORMULA: usize = 10;

/// The whole comparison.
pub fn compare(report: &CompareReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    let from = report.target.from.as_ref().map(|from| format!(", after {}", escaped(from))).unwrap_or_default();
    let count = match report.formulas.len() {
        1 => "One formula".to_owned(),
        count => format!("{count} formulas"),
    };
    page.paragraph(&mut out, "", 0, &format!("{count} beside the target{from}"), Ink::Plain);
    out.push('\n');
    legend(report, page, &mut out);
    let used: Vec<usize> = (0..report.formulas.len()).filter(|&at| report.formulas[at].is_used()).collect();
    if used.is_empty() {
        return out;
    }
    let most = (page.width.saturating_sub(NAMES) / FORMULA).clamp(1, used.len());
    // Numbers of many digits take more room: then fewer stand side by side.
    let plain = Page { colour: false, ..*page };
    let fits = |count: &usize| tables(report, &used, *count, &plain).lines().all(|line| width(line) <= page.width);
    let side_by_side = (2..=most).rev().find(fits).unwrap_or(1);
    out += &tables(report, &used, side_by_side, page);
    broken(report, &used, page, &mut out);
    care::before_limits(&report.care, page, &mut out);
    in_blocks(&used.chunks(side_by_side).collect::<Vec<_>>(), &mut out, |block, out| limits(report, block, page, out));
    let lines: Vec<&LimitLine> = used.iter().flat_map(|&at| &report.formulas[at].formula.limits).collect();
    care::after_limits(&report.care, &lines, &[], page, &mut out);
    out
}

/// Measures, gaps and differences of formulas, so many side by side.
fn tables(report: &CompareReport, used: &[usize], side_by_side: usize, page: &Page) -> String {
    let mut out = String::new();
    let blocks: Vec<&[usize]> = used.chunks(side_by_side).collect();
    page.head(&mut out, "Measures");
    in_blocks(&blocks, &mut out, |block, out| measures(report, block, page, out));
    apart(report, page, &mut out);
    // A formula without odour has no gaps.
    let heard = |at: &usize| !report.formulas[*at].formula.profile.is_empty();
    let heard: Vec<usize> = used.iter().copied().filter(heard).collect();
    if !heard.is_empty() {
        page.head(&mut out, "Gaps to the target, in points");
        let blocks: Vec<&[usize]> = heard.chunks(side_by_side).collect();
        in_blocks(&blocks, &mut out, |block, out| gaps(report, block, page, out));
    }
    if !report.differences.is_empty() {
        let basis = report.formulas[used[0]].formula.formula.as_ref().map_or(Basis::Neat, |formula| formula.basis);
        let parts = if basis == Basis::Bottle { "parts as poured" } else { "neat parts" };
        page.head(&mut out, &format!("What differs, in {parts}"));
        in_blocks(&blocks, &mut out, |block, out| differences(report, block, page, out));
    }
    out
}

/// Writes a table for each block of formulas, a blank line between them.
fn in_blocks(blocks: &[&[usize]], out: &mut String, write: impl Fn(&[usize], &mut String)) {
    for (at, block) in blocks.iter().enumerate() {
        if at > 0 {
            out.push('\n');
        }
        write(block, out);
    }
}

/// The letter of a formula: A to Z, then AA.
pub fn letter(at: usize) -> String {
    let last = char::from(b'A' + (at % 26) as u8);
    if at < 26 { last.to_string() } else { format!("{}{last}", letter(at / 26 - 1)) }
}

fn legend(report: &CompareReport, page: &Page, out: &mut String) {
    for (at, compared) in report.formulas.iter().enumerate() {
        let first = format!("  {:<3}", letter(at));
        page.paragraph(out, &first, 5, &escaped(&compared.name), Ink::Strong);
        if compared.name != compared.file {
            page.paragraph(out, "     ", 5, &escaped(&compared.file), Ink::Faint);
        }
        for note in &compared.notes {
            page.paragraph(out, "     ", 5, note, Ink::Alert);
        }
    }
}

/// A table with one column for each formula of a block after some others.
fn table(block: &[usize], before: &[&str], after: bool) -> Table {
    let mut sides = vec![Side::Left];
    sides.extend(vec![Side::Right; before.len() + block.len()]);
    sides.extend(after.then_some(Side::Left));
    let mut table = Table::new(&sides);
    let mut head = vec![String::new()];
    head.extend(before.iter().map(|title| (*title).to_owned()));
    head.extend(block.iter().map(|&at| letter(at)));
    table.row(Ink::Faint, head);
    table
}

fn measures(report: &CompareReport, block: &[usize], page: &Page, out: &mut String) {
    let currency = escaped(&report.head.currency);
    let mut table = table(block, &[], false);
    let mut row = |label: String, of: &dyn Fn(&Compared) -> Option<String>| {
        let mut cells = vec![label];
        cells.extend(block.iter().map(|&at| of(&report.formulas[at]).unwrap_or_else(|| "-".to_owned())));
        table.row(Ink::Plain, cells);
    };
    row("Match on paper, %".into(), &|it| it.formula.fidelity.map(|value| rounded(value, 2)));
    row("  likely".into(), &|it| it.formula.range.as_ref().map(RangeLine::words));
    row("Second opinion, %".into(), &|it| it.formula.second_opinion.map(|second| rounded(second.fidelity, 2)));
    row(format!("Price, {currency} per kg"), &|it| it.formula.price.map(money));
    row("Strength".into(), &|it| it.formula.strength.map(|value| significant(value, 4, 0, 12)));
    row("Price of effect".into(), &|it| it.formula.price_of_effect.map(|value| significant(value, 3, 2, 6)));
    row("Materials".into(), &|it| Some(it.formula.materials.len().to_string()));
    let broken = |at: usize| report.formulas[at].broken.as_ref().map_or(0, Vec::len);
    let count = |&at: &usize| if broken(at) == 0 { "none".to_owned() } else { broken(at).to_string() };
    let ink = if block.iter().any(|&at| broken(at) > 0) { Ink::Alert } else { Ink::Plain };
    let cells = std::iter::once("Broken rules".to_owned()).chain(block.iter().map(count));
    table.row(ink, cells.collect());
    table.write(out, page);
}

/// Which of the matches can be told apart, since scores and strengths are one
/// nose's.
fn apart(report: &CompareReport, page: &Page, out: &mut String) {
    if report.apart.is_empty() {
        return;
    }
    let line = |line: &ApartLine| {
        let turned = line.nearer_in_percent < 50.0;
        let (first, second) = if turned { (line.b, line.a) } else { (line.a, line.b) };
        let chance = if turned { 100.0 - line.nearer_in_percent } else { line.nearer_in_percent };
        let words = if line.inside_doubt { ": the difference may not be noticeable" } else { "" };
        format!("{} is nearer than {} in {} draws{words}", letter(first), letter(second), of_hundred(chance))
    };
    if let [one] = &report.apart[..] {
        page.paragraph(out, "  ", 2, &format!("{}.", line(one)), Ink::Plain);
        return;
    }
    for pair in report.apart.iter().take(PAIRS) {
        page.paragraph(out, "  - ", 4, &line(pair), Ink::Plain);
    }
    if report.apart.len() > PAIRS {
        let more = report.apart.len() - PAIRS;
        page.paragraph(out, "  ", 2, &format!("{more} more pairs stand in the JSON."), Ink::Faint);
    }
}

fn gaps(report: &CompareReport, block: &[usize], page: &Page, out: &mut String) {
    let gap = |at: usize, line: usize| report.formulas[at].formula.profile.get(line).map(|line| line.gap);
    let largest = |line: &usize| block.iter().filter_map(|&at| gap(at, *line)).map(f64::abs).fold(0.0, f64::max);
    let mut lines: Vec<usize> = (0..report.target.profile.len()).collect();
    lines.sort_by(|a, b| largest(b).total_cmp(&largest(a)));
    let mut table = table(block, &["target"], false);
    let mut met = Vec::new();
    for line in lines {
        let target = &report.target.profile[line];
        if largest(&line) < MET {
            met.push(escaped(&target.descriptor));
            continue;
        }
        let weight = if target.weight == 1.0 { String::new() } else { format!(" (weight {})", plain(target.weight)) };
        let mut cells = vec![format!("{}{weight}", escaped(&target.descriptor)), rounded(target.target, 2)];
        cells.extend(block.iter().map(|&at| gap(at, line).map_or("-".to_owned(), signed)));
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
    if !met.is_empty() {
        page.paragraph(
            out,
            "  ",
            4,
            &format!("Met within 0.05 by {}: {}", whom(report, block), met.join(", ")),
            Ink::Faint,
        );
    }
}

/// Whom a column stands for, where all of a block do something.
fn whom(report: &CompareReport, block: &[usize]) -> String {
    if block.len() == report.formulas.len() {
        return "all".to_owned();
    }
    block.iter().map(|&at| letter(at)).collect::<Vec<_>>().join(", ")
}

/// A difference with its sign.
pub fn signed(gap: f64) -> String {
    let sign = if gap < 0.0 { '−' } else { '+' };
    let text = rounded(gap.abs(), 2);
    if text == "0.00" { text } else { format!("{sign}{text}") }
}

fn differences(report: &CompareReport, block: &[usize], page: &Page, out: &mut String) {
    let column = |at: &usize| {
        let doses = report.differences.iter().map(|row| match row.parts[*at] {
            Some(parts) if parts.is_zero() => ".".to_owned(),
            Some(parts) => dose(parts.as_f64()),
            None => "-".to_owned(),
        });
        // An absent material is a dot, which is no decimal point.
        let doses: Vec<String> = doses.collect();
        let numbers: Vec<String> =
            doses.iter().map(|text| text.replace('.', if text == "." { "·" } else { "." })).collect();
        aligned(&numbers)
    };
    let columns: Vec<Vec<String>> = block.iter().map(column).collect();
    let mut table = table(block, &[], false);
    for (row, difference) in report.differences.iter().enumerate() {
        let mut cells = vec![escaped(&difference.material)];
        cells.extend(columns.iter().map(|column| column[row].clone()));
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
}

fn broken(report: &CompareReport, used: &[usize], page: &Page, out: &mut String) {
    let breaking = |at: &&usize| report.formulas[**at].broken.as_ref().is_some_and(|broken| !broken.is_empty());
    if used.iter().filter(breaking).count() == 0 {
        return;
    }
    page.head(out, "Broken rules");
    for &at in used.iter().filter(breaking) {
        for line in report.formulas[at].broken.iter().flatten() {
            page.paragraph(out, &format!("  {:<3}", letter(at)), 5, &sentence(line), Ink::Plain);
        }
    }
}

/// A broken rule in words, with its place.
pub fn sentence(line: &BrokenLine) -> String {
    let place = match line.line {
        Some(number) => format!("{}:{number}", escaped(&line.file)),
        None => escaped(&line.file),
    };
    // Rules that a material must or must not be used have no number of note.
    let bare = line.rule.is_without_number() || !line.has.is_finite();
    let decimals = decimals_for(line.has, 7, 0, 9);
    let has = if bare { String::new() } else { format!("; it has {}", plain(round_to(line.has, decimals))) };
    format!("{}{has} ({place})", escaped(&line.sentence))
}

/// Shares of limits, formula by formula; every formula has the same lines, in
/// an order of its own.
fn limits(report: &CompareReport, block: &[usize], page: &Page, out: &mut String) {
    let formulas: Vec<&FormulaReport> = block.iter().map(|&at| &report.formulas[at].formula).collect();
    let Some(first) = formulas.first() else { return };
    let share = |line: &LimitLine| {
        let mut shares = Vec::with_capacity(formulas.len());
        for formula in &formulas {
            let same = |other: &&LimitLine| {
                other.product == line.product && other.substance == line.substance && other.source == line.source
            };
            shares.push(formula.limits.iter().find(same).map_or(0.0, LimitLine::share_percent));
        }
        shares
    };
    let mut rows: Vec<(&LimitLine, Vec<f64>)> = first.limits.iter().map(|line| (line, share(line))).collect();
    rows.retain(|(_, shares)| shares.iter().any(|share| *share > 0.0));
    let most = |shares: &[f64]| shares.iter().copied().fold(0.0, f64::max);
    rows.sort_by(|a, b| most(&b.1).total_cmp(&most(&a.1)));
    let mut products: Vec<&Option<String>> = Vec::new();
    for line in &first.limits {
        if !products.contains(&&line.product) {
            products.push(&line.product);
        }
    }
    for product in products {
        let called = escaped(product_name(product.as_deref()));
        page.paragraph(out, "  ", 2, &format!("Percent of each limit used in {called}"), Ink::Strong);
        let mut table = table(block, &[], true);
        let of_product: Vec<_> = rows.iter().filter(|(line, _)| line.product == *product).collect();
        for (line, shares) in &of_product {
            let mut cells = vec![escaped(&line.substance)];
            cells.extend(shares.iter().map(
                |share| {
                    if share.is_finite() { rounded_up(*share, 1) } else { "over".to_owned() }
                },
            ));
            cells.push(mark(line).to_owned());
            let ink = if most(shares) > 100.0 + 1e-6 { Ink::Alert } else { Ink::Plain };
            table.row(ink, cells);
        }
        for joint in first.joints.iter().filter(|joint| joint.product == *product) {
            let same = |other: &&JointLine| other.joint == joint.joint && other.product == joint.product;
            let share =
                |formula: &&FormulaReport| formula.joints.iter().find(same).map_or(0.0, JointLine::share_percent);
            let shares: Vec<f64> = formulas.iter().map(share).collect();
            if most(&shares) > 0.0 {
                let mut cells = vec![format!("shared limit: {}", escaped(&joint.joint))];
                cells.extend(shares.iter().map(|share| rounded_up(*share, 1)));
                let ink = if most(&shares) > 100.0 + 1e-6 { Ink::Alert } else { Ink::Plain };
                table.row(ink, cells);
            }
        }
        if of_product.is_empty() {
            page.paragraph(out, "  ", 4, "No restriction concerns anything in them.", Ink::Faint);
        } else {
            table.write(out, page);
        }
    }
}
