//! Formulas side by side on the page.

use super::broken::sentence;
use super::formula::{MET, dose, money};
use super::in_short::Called;
use super::limits::{key_of_marks, mark};
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use super::{care, stages};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_up, significant};
use crate::results::compare::{ApartLine, CompareReport, Compared};
use crate::results::{FormulaReport, JointLine, LimitLine, RangeLine};
use crate::sentences::care::product_name;
use crate::text::sure::of_hundred;
use crate::units::Ppt;

/// Columns that a page keeps for the names of rows.
const NAMES: usize = 26;
/// Pairs of which it is said which is nearer.
const PAIRS: usize = 8;
/// Columns that one formula takes.
const FORMULA: usize = 10;
/// Gaps, and broken rules of one formula, that the short form names.
const FEW_GAPS: usize = 2;
const FEW_RULES: usize = 4;

/// The whole comparison.
pub fn compare(report: &CompareReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    let from = report.target.from.as_ref().map(|from| format!(", after {}", escaped(from))).unwrap_or_default();
    let count = match report.formulas.len() {
        1 => "One formula".to_owned(),
        count => format!("{count} formulas"),
    };
    // Where room is short the list below is count enough.
    if page.full {
        page.paragraph(&mut out, "", 0, &format!("{count} beside the target{from}"), Ink::Plain);
    }
    if page.full {
        out.push('\n');
    }
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
    if !page.full {
        out.push('\n');
    }
    let formulas: Vec<&FormulaReport> = used.iter().map(|&at| &report.formulas[at].formula).collect();
    let label = |at: usize| (used.len() > 1).then(|| letter(at));
    let limits_of = |&at: &usize| report.formulas[at].formula.limits.iter().map(move |line| (label(at), line));
    let called: Vec<Called> = used.iter().flat_map(limits_of).collect();
    let blocks: Vec<&[usize]> = used.chunks(side_by_side).collect();
    let at_length = |out: &mut String| in_blocks(&blocks, out, |block, out| limits(report, block, page, out));
    care::checked(&report.care, &called, &formulas, &at_length, page, &mut out);
    if page.full {
        care::bench(&report.care, &[], page, &mut out);
    } else {
        care::handling(&report.care, &care::parts_of(formulas.iter().copied()), page, &mut out);
    }
    care::caution(&report.care, page, &mut out);
    page.options(&mut out, "every gap and measure");
    out
}

/// Measures, doses and gaps of formulas, so many side by side.
fn tables(report: &CompareReport, used: &[usize], side_by_side: usize, page: &Page) -> String {
    let mut out = String::new();
    let blocks: Vec<&[usize]> = used.chunks(side_by_side).collect();
    if !report.apart.is_empty() {
        out.push('\n');
        apart(report, page, &mut out);
    }
    out.push('\n');
    in_blocks(&blocks, &mut out, |block, out| measures(report, block, page, out));
    let doses = doses(report, used);
    let alike = doses.iter().filter(|line| line.is_alike).count();
    let basis = report.formulas[used[0]].formula.formula.as_ref().map_or(Basis::Neat, |formula| formula.basis);
    let parts = if basis == Basis::Bottle { "parts as poured" } else { "neat parts" };
    let which = match (used.len(), doses.len() - alike) {
        (1, _) => String::new(),
        (_, 0) => ": all are alike".to_owned(),
        (_, differ) if alike == 0 => format!(": all {differ} differ"),
        (_, differ) => format!(": {differ} differ, then {alike} alike"),
    };
    page.head(&mut out, &format!("Doses in {parts}{which}"));
    in_blocks(&blocks, &mut out, |block, out| dose_table(&doses, block, page, out));
    for &at in used {
        if let Some(unusual) = report.formulas[at].formula.unusual_told() {
            page.paragraph(&mut out, &format!("  {:<3}", letter(at)), 5, &unusual, Ink::Plain);
        }
    }
    // A formula without odour has no gaps.
    let heard = |at: &usize| !report.formulas[*at].formula.profile.is_empty();
    let heard: Vec<usize> = used.iter().copied().filter(heard).collect();
    if !heard.is_empty() {
        page.head(&mut out, &format!("Gaps to the target, {}", report.head.on_scale()));
        let blocks: Vec<&[usize]> = heard.chunks(side_by_side).collect();
        in_blocks(&blocks, &mut out, |block, out| gaps(report, block, page, out));
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
        let file = if page.full || compared.name == compared.file { "" } else { file_name(&compared.file) };
        let file = if file.is_empty() { String::new() } else { format!(" ({})", escaped(file)) };
        page.paragraph(out, &first, 5, &format!("{}{file}", escaped(&compared.name)), Ink::Strong);
        if page.full && compared.name != compared.file {
            page.paragraph(out, "     ", 5, &escaped(&compared.file), Ink::Faint);
        }
        for note in &compared.notes {
            page.paragraph(out, "     ", 5, note, Ink::Alert);
        }
    }
}

/// The last part of a path.
fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
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
    let stages = block.iter().map(|&at| &report.formulas[at].formula.stages).find(|stages| !stages.is_empty());
    let of_all = if stages.is_some() { "Match, worst stage, %" } else { "Match on paper, %" };
    row(of_all.into(), &|it| it.formula.fidelity.map(|value| rounded(value, 2)));
    row("Likely, %".into(), &|it| it.formula.range.as_ref().map(RangeLine::words));
    for (at, stage) in stages.into_iter().flatten().enumerate() {
        let line = |it: &Compared| Some(it.formula.stages.get(at)?.line.clone());
        row(format!("  {}, %", stages::called(stage)), &|it| line(it)?.fidelity.map(|value| rounded(value, 1)));
        row("    strength kept, %".into(), &|it| Some(significant(line(it)?.kept, 2, 0, 2)));
    }
    if page.full {
        row("Second opinion, %".into(), &|it| it.formula.second_opinion.map(|second| rounded(second.fidelity, 2)));
    }
    row(format!("Cost, {currency} per kg"), &|it| it.formula.price.map(money));
    if page.full {
        row("Strength".into(), &|it| it.formula.strength_shown(4, 12));
        row("Cost per unit of strength".into(), &|it| {
            it.formula.price_of_effect.map(|value| significant(value, 3, 2, 6))
        });
    }
    if page.full {
        row("Materials".into(), &|it| Some(it.formula.materials.len().to_string()));
    }
    let idle = |at: &usize| report.formulas[*at].formula.idle.as_ref().is_some_and(|idle| idle.sentence.is_some());
    if page.full || block.iter().any(idle) {
        row("Idle weight, \u{2030}".into(), &|it| it.formula.idle.as_ref().map(|idle| rounded(idle.parts, 0)));
    }
    if block.iter().any(|&at| report.formulas[at].formula.near.is_some()) {
        let moved = |it: &Compared| it.formula.near.as_ref()?.moved.map(|moved| rounded_up(moved, 2));
        row("Elsewhere than known, %".into(), &moved);
    }
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
        page.paragraph(out, "  ", 2, &format!("{more} more pairs are in the JSON."), Ink::Plain);
    }
}

fn gaps(report: &CompareReport, block: &[usize], page: &Page, out: &mut String) {
    // On paper another stage may be the worst of each, with other descriptors.
    let gap = |at: usize, line: usize| {
        let wanted = &report.target.profile[line].descriptor;
        report.formulas[at].formula.profile.iter().find(|line| line.descriptor == *wanted).map(|line| line.gap)
    };
    let largest = |line: &usize| block.iter().filter_map(|&at| gap(at, *line)).map(f64::abs).fold(0.0, f64::max);
    let mut lines: Vec<usize> = (0..report.target.profile.len()).collect();
    lines.sort_by(|a, b| largest(b).total_cmp(&largest(a)));
    let mut table = table(block, &["target"], false);
    let mut met = Vec::new();
    let mut more: Vec<f64> = Vec::new();
    for (at, line) in lines.into_iter().enumerate() {
        if !page.full && at >= FEW_GAPS + usize::from(report.formulas.len() == 1) {
            more.push(largest(&line));
            continue;
        }
        let target = &report.target.profile[line];
        if largest(&line) < MET {
            met.push(escaped(&target.descriptor));
            continue;
        }
        let weight = if target.weight == 1.0 { String::new() } else { format!(" (weight {})", plain(target.weight)) };
        let of_formula = |at: &usize| {
            let profile = &report.formulas[*at].formula.profile;
            profile.iter().find(|line| line.descriptor == target.descriptor).map(|line| line.target)
        };
        // Each formula is held against what is wanted at the stage that it misses most.
        let wanted: Vec<f64> = block.iter().filter_map(of_formula).collect();
        let is_one = wanted.windows(2).all(|pair| pair[0] == pair[1]);
        let wanted = match wanted.first() {
            Some(wanted) if is_one => rounded(*wanted, 2),
            Some(_) => "differs".to_owned(),
            None => rounded(target.target, 2),
        };
        let mut cells = vec![format!("{}{weight}", escaped(&target.descriptor)), wanted];
        cells.extend(block.iter().map(|&at| gap(at, line).map_or("-".to_owned(), signed)));
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
    let missed = more.iter().filter(|gap| **gap >= MET).count();
    if missed > 0 {
        let most = more.iter().copied().fold(0.0, f64::max);
        let text = format!("{missed} more, by at most {}.", rounded_up(most, 2));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if !met.is_empty() && page.full {
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

/// The doses of one material in the formulas of a comparison.
struct Doses {
    material: String,
    /// By formula; nothing where it was not used.
    parts: Vec<Option<Ppt>>,
    is_alike: bool,
}

/// Every material that is in a formula: those whose doses differ first, the
/// largest difference before the others, then by falling dose.
fn doses(report: &CompareReport, used: &[usize]) -> Vec<Doses> {
    let differing = report.differences.iter();
    let mut all: Vec<Doses> = differing
        .map(|row| Doses { material: row.material.clone(), parts: row.parts.clone(), is_alike: false })
        .collect();
    for part in used.first().into_iter().flat_map(|&at| &report.formulas[at].formula.materials) {
        if all.iter().all(|other| other.material != part.material) {
            let of = |at: usize| used.contains(&at).then_some(part.parts);
            let parts = (0..report.formulas.len()).map(of).collect();
            all.push(Doses { material: part.material.clone(), parts, is_alike: true });
        }
    }
    all
}

fn dose_table(doses: &[Doses], block: &[usize], page: &Page, out: &mut String) {
    let column = |at: &usize| {
        let numbers = doses.iter().map(|row| match row.parts[*at] {
            Some(parts) if parts.is_zero() => "·".to_owned(),
            Some(parts) => dose(parts.as_f64()),
            None => "-".to_owned(),
        });
        aligned(&numbers.collect::<Vec<_>>())
    };
    let columns: Vec<Vec<String>> = block.iter().map(column).collect();
    let mut table = table(block, &[], false);
    let some_alike = doses.iter().any(|row| row.is_alike);
    for (row, of) in doses.iter().enumerate() {
        let mut cells = vec![escaped(&of.material)];
        cells.extend(columns.iter().map(|column| column[row].clone()));
        let ink = if some_alike && !of.is_alike { Ink::Strong } else { Ink::Plain };
        table.row(ink, cells);
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
        let lines = report.formulas[at].broken.as_deref().unwrap_or_default();
        // One more rule takes no more room than its count.
        let shown = if page.full || lines.len() <= FEW_RULES + 1 { lines.len() } else { FEW_RULES };
        for line in &lines[..shown] {
            page.paragraph(out, &format!("  {:<3}", letter(at)), 5, &sentence(line), Ink::Plain);
        }
        if shown < lines.len() {
            page.paragraph(out, "     ", 5, &format!("and {} more", lines.len() - shown), Ink::Plain);
        }
    }
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
            page.paragraph(out, "  ", 4, "No restriction applies to anything in them.", Ink::Faint);
        } else {
            table.write(out, page);
            key_of_marks(&of_product.iter().map(|(line, _)| *line).collect::<Vec<_>>(), page, out);
        }
    }
}
