//! A formula on the page: its parts, what they bring, its gaps, its limits.

use super::page::{Ink, Page, shortened, width};
use super::table::{Side, Table, aligned};
use crate::brief::{Basis, Match};
use crate::escape::escaped;
use crate::number::{decimals_for, plain, rounded, significant, tidy};
use crate::results::{FormulaReport, PartLine, ProfileLine};

/// Decimals of a dose that are shown; a smaller dose shows three digits.
const DOSE_DECIMALS: usize = 4;
/// Gaps smaller than this, in points, count as met in the text.
pub const MET: f64 = 0.05;
/// Columns of the longest bar.
const BAR: usize = 24;

/// A dose in ppt, to four decimals or three digits.
pub fn dose(ppt: f64) -> String {
    plain(round_to(ppt, decimals_for(ppt, 3, DOSE_DECIMALS, 9)))
}

/// The number nearest to another with so many decimals.
pub fn round_to(value: f64, decimals: usize) -> f64 {
    rounded(value, decimals).parse().unwrap_or(value)
}

fn percent(value: Option<f64>) -> String {
    match value {
        Some(value) if value > 0.0 && value < 0.05 => "<0.1".to_owned(),
        Some(value) => rounded(value, 1),
        None => "-".to_owned(),
    }
}

/// An amount of money.
pub fn money(amount: f64) -> String {
    significant(amount, 2, 2, 6)
}

/// The parts, the largest first.
pub fn parts(report: &FormulaReport, page: &Page, out: &mut String) {
    let Some(formula) = &report.formula else { return };
    let diluted = report.materials.iter().any(|line| line.bottle_percent < 100.0);
    let by_bottle = formula.basis == Basis::Bottle;
    let what = match (by_bottle, diluted) {
        (true, _) => "Formula: 1000 parts as poured from the bottles",
        (false, _) => "Formula: 1000 parts, neat",
    };
    page.head(out, what);
    let lines = &report.materials;
    let doses = aligned(&lines.iter().map(|line| dose(line.parts.as_f64())).collect::<Vec<_>>());
    let other = |line: &PartLine| dose(if by_bottle { line.neat } else { line.poured });
    let others = aligned(&lines.iter().map(other).collect::<Vec<_>>());
    let sum = |of: fn(&PartLine) -> f64| dose(tidy(lines.iter().map(of).sum()));
    let sums = [sum(|line| line.parts.as_f64()), sum(if by_bottle { |line| line.neat } else { |line| line.poured })];
    let (counted, also) = if by_bottle { ("poured", "neat") } else { ("neat", "poured") };
    let head = ["", "CAS", counted, also, "from", "odour", "price"].map(str::to_owned);
    let mut rows = vec![head.to_vec()];
    for (at, line) in lines.iter().enumerate() {
        let is_diluted = line.bottle_percent < 100.0;
        rows.push(vec![
            escaped(&line.material),
            line.cas.clone().unwrap_or_default(),
            doses[at].clone(),
            others[at].clone(),
            if is_diluted { format!("{} %", plain(line.bottle_percent)) } else { String::new() },
            percent(line.share),
            percent(line.price_share),
        ]);
    }
    let [own, other] = [with_blanks(&sums[0], &doses), with_blanks(&sums[1], &others)];
    let together = ["together", "", &own, &other, "", "%", "%"].map(str::to_owned);
    rows.push(together.to_vec());
    let sides = [Side::Left, Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Right];
    // Neat bottles pour what the formula says: two columns less.
    let kept: Vec<usize> = if diluted { (0..7).collect() } else { vec![0, 1, 2, 5, 6] };
    let mut table = Table::new(&kept.iter().map(|&column| sides[column]).collect::<Vec<_>>());
    let last = rows.len() - 1;
    for (at, row) in rows.into_iter().enumerate() {
        let ink = if at == 0 || at == last { Ink::Faint } else { Ink::Plain };
        table.row(ink, kept.iter().map(|&column| row[column].clone()).collect());
    }
    table.write(out, page);
    if lines.iter().any(|line| dose(line.parts.as_f64()) != line.parts.to_string()) {
        let note = "Doses are rounded here; JSON, CSV and --save hold every decimal.";
        page.paragraph(out, "  ", 2, note, Ink::Faint);
    }
    if diluted {
        concentration(report, by_bottle, page, out);
    }
}

/// A sum under a column of aligned numbers.
pub fn with_blanks(sum: &str, column: &[String]) -> String {
    let point = |text: &str| text.find('.').map(|at| text.len() - at);
    let blanks = |text: &str| text.len() - text.trim_end().len();
    let most = column.iter().map(|text| point(text).unwrap_or_else(|| blanks(text))).max().unwrap_or(0);
    format!("{sum}{}", " ".repeat(most.saturating_sub(point(sum).unwrap_or(0))))
}

fn concentration(report: &FormulaReport, by_bottle: bool, page: &Page, out: &mut String) {
    let Some(poured) = &report.poured else { return };
    let carriers: Vec<String> =
        poured.carriers.0.iter().map(|(name, ppt)| format!("{} of {}", dose(*ppt), escaped(name))).collect();
    let strength = significant(poured.concentration_percent, 3, 1, 6);
    let text = if by_bottle {
        format!("The bottles bring {}: the accord stands at {strength} %.", carriers.join(", "))
    } else {
        format!(
            "Poured from the usual bottles, which bring {}, it makes {} parts and stands at {strength} %.",
            carriers.join(", "),
            dose(poured.total)
        )
    };
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// What each part adds to the profile.
pub fn brings(report: &FormulaReport, page: &Page, out: &mut String) {
    let lines = report.materials.iter().filter(|line| !line.brings.0.is_empty());
    let named: Vec<(String, &PartLine)> = lines.map(|line| (shortened(&escaped(&line.material), 28), line)).collect();
    let Some(widest) = named.iter().map(|(name, _)| width(name)).max() else { return };
    page.head(out, "What each brings, in points of the blend");
    for (name, line) in named {
        let heard = line.brings.0.iter().filter(|(_, points)| *points >= MET);
        let mut words: Vec<String> =
            heard.map(|(descriptor, points)| format!("{} {}", escaped(descriptor), rounded(*points, 1))).collect();
        if words.is_empty() {
            let (descriptor, _) = &line.brings.0[0];
            words.push(format!("a trace of {}", escaped(descriptor)));
        }
        let few = if words.len() > 5 { words[..5].join(", ") + " ..." } else { words.join(", ") };
        let first = format!("  {name}{}  ", " ".repeat(widest - width(&name)));
        let indent = widest + 4;
        page.paragraph(out, &first, indent, &few, Ink::Plain);
    }
}

/// What is too much and what falls short, the largest first.
pub fn gaps(report: &FormulaReport, matching: Match, page: &Page, out: &mut String) {
    if report.profile.is_empty() {
        return;
    }
    let mut lines: Vec<&ProfileLine> = report.profile.iter().collect();
    lines.sort_by(|a, b| b.gap.abs().total_cmp(&a.gap.abs()));
    let largest = lines.first().map_or(0.0, |line| line.gap.abs());
    let shown = |short: bool| {
        let lines = lines.iter().copied();
        lines.filter(move |line| line.gap.abs() >= MET && (line.gap < 0.0) == short).collect::<Vec<_>>()
    };
    let how = if matching == Match::Balance { "balance of the character" } else { "level of the scores" };
    page.head(out, &format!("Against the target, in points ({how})"));
    let widest = lines.iter().map(|line| width(&escaped(&line.descriptor))).max().unwrap_or(0).min(24);
    for (short, title) in [(true, "Falls short"), (false, "Too much")] {
        let lines = shown(short);
        if lines.is_empty() {
            continue;
        }
        page.paragraph(out, "  ", 2, title, Ink::Strong);
        for line in lines {
            gap_line(line, largest, widest, page, out);
        }
    }
    let met: Vec<String> = lines
        .iter()
        .filter(|line| line.gap.abs() < MET && (line.target > 0.0 || line.blend > 0.0))
        .map(|line| escaped(&line.descriptor))
        .collect();
    if !met.is_empty() {
        page.paragraph(out, "  Met within 0.05: ", 4, &met.join(", "), Ink::Plain);
    }
}

fn gap_line(line: &ProfileLine, largest: f64, widest: usize, page: &Page, out: &mut String) {
    let name = shortened(&escaped(&line.descriptor), widest);
    let blanks = " ".repeat(widest - width(&name));
    let sign = if line.gap < 0.0 { '−' } else { '+' };
    let numbers = format!(
        "{:>5} for {:<5} {sign}{:<5}",
        rounded(line.blend, 2),
        plain(round_to(line.target, 2)),
        rounded(line.gap.abs(), 2)
    );
    let counts = line.weight * if line.gap > 0.0 { line.excess } else { 1.0 };
    let counts = if counts == 1.0 { String::new() } else { format!("  counts {} times", plain(counts)) };
    let bar = "▪".repeat(((line.gap.abs() / largest * BAR as f64).round() as usize).max(1));
    let ink = if line.gap < 0.0 { Ink::Faint } else { Ink::Alert };
    let text = format!("    {name}{blanks} {numbers} ");
    let room = page.width.saturating_sub(width(&text) + width(&counts));
    let bar = shortened(&bar, room.max(1));
    *out += &format!("{text}{}{counts}", page.ink(&bar, ink));
    while out.ends_with(' ') {
        out.pop();
    }
    out.push('\n');
}

/// Which bases were replaced by what they are mixed from, behind another
/// sentence; empty where none were.
pub fn unfolded(bases: &[String]) -> String {
    let names: Vec<String> = bases.iter().map(|base| escaped(base)).collect();
    match names.len() {
        0 => String::new(),
        1 => format!(" {} stands here as what it is mixed from.", names[0]),
        _ => format!(" {} stand here as what they are mixed from.", names.join(", ")),
    }
}
