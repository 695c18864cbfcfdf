//! A formula on the page: its parts, what they bring, its gaps, its limits.

use super::page::{Ink, Page, shortened, width};
use super::table::{Side, Table, aligned};
use crate::brief::{Basis, Match};
use crate::escape::escaped;
use crate::number::{decimals_for, plain, rounded, rounded_up, significant, tidy};
use crate::results::{FormulaReport, Head, PartLine, ProfileLine};

/// Decimals of a dose that are shown; a smaller dose shows three digits.
const DOSE_DECIMALS: usize = 4;
/// Gaps smaller than this, in scores, count as met in the text.
pub const MET: f64 = 0.05;
/// Columns of the longest bar.
const BAR: usize = 24;
/// Gaps that the short form names.
const FEW_GAPS: usize = 3;

/// A dose in ‰, to four decimals or three digits.
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

/// The parts, the largest first: all of them in the short form as well, since
/// they are what is weighed.
pub fn parts(report: &FormulaReport, page: &Page, out: &mut String) {
    let Some(formula) = &report.formula else { return };
    let lines = &report.materials;
    let diluted = lines.iter().any(|line| line.bottle_percent < 100.0);
    let by_bottle = formula.basis == Basis::Bottle;
    let sum = |of: fn(&PartLine) -> f64| dose(tidy(lines.iter().map(of).sum()));
    let sums = [sum(|line| line.parts.as_f64()), sum(if by_bottle { |line| line.neat } else { |line| line.poured })];
    let mut head = match by_bottle {
        true => "Formula: 1000 parts as poured".to_owned(),
        false => "Formula: 1000 parts, neat".to_owned(),
    };
    if let Some(concentration) = concentration(report).filter(|_| diluted && !page.full) {
        if !by_bottle {
            head = format!("Formula: 1000 parts neat, poured {}", sums[1]);
        }
        head += &format!("; accord concentration as poured: {concentration} %");
    }
    page.head(out, &head);
    let doses = aligned(&lines.iter().map(|line| dose(line.parts.as_f64())).collect::<Vec<_>>());
    let other = |line: &PartLine| dose(if by_bottle { line.neat } else { line.poured });
    let others = aligned(&lines.iter().map(other).collect::<Vec<_>>());
    let (counted, also) = if by_bottle { ("poured", "neat") } else { ("neat", "poured") };
    let titles = ["", "CAS", counted, also, "from", "odour %", "cost %", "unusual"].map(str::to_owned);
    let mut rows = vec![(Ink::Faint, titles.to_vec())];
    for (at, line) in lines.iter().enumerate() {
        let is_diluted = line.bottle_percent < 100.0;
        let cells = [
            escaped(&line.material),
            line.cas.clone().unwrap_or_default(),
            doses[at].clone(),
            others[at].clone(),
            if is_diluted { format!("{} %", plain(line.bottle_percent)) } else { String::new() },
            percent(line.share),
            percent(line.price_share),
            line.unusual_mark().unwrap_or_default(),
        ];
        rows.push((Ink::Plain, cells.to_vec()));
    }
    if page.full {
        let [own, other] = [with_blanks(&sums[0], &doses), with_blanks(&sums[1], &others)];
        rows.push((Ink::Faint, ["together", "", &own, &other].map(str::to_owned).to_vec()));
    }
    let sides = [Side::Left, Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left];
    let unusual = report.unusual_told();
    // Neat bottles pour what the formula says: two columns less.
    let kept = |column: &usize| match column {
        1 => page.full,
        3 | 4 => diluted,
        7 => unusual.is_some(),
        _ => true,
    };
    let kept: Vec<usize> = (0..sides.len()).filter(kept).collect();
    let mut table = Table::new(&kept.iter().map(|&column| sides[column]).collect::<Vec<_>>());
    for (ink, row) in rows {
        table.row(ink, kept.iter().map(|&column| row.get(column).cloned().unwrap_or_default()).collect());
    }
    table.write(out, page);
    if let Some(unusual) = unusual {
        page.paragraph(out, "  ", 2, &unusual, Ink::Plain);
    }
    if lines.iter().any(|line| dose(line.parts.as_f64()) != line.parts.to_string()) {
        let note = "Doses are rounded here; JSON, CSV and --save hold every decimal.";
        page.paragraph(out, "  ", 2, note, Ink::Faint);
    }
    if diluted && page.full {
        poured(report, by_bottle, page, out);
    }
}

/// Which view decides, where that is more than which stage.
pub fn views(report: &FormulaReport, page: &Page, out: &mut String) {
    if let Some(views) = report.views.as_ref().filter(|views| views.is_of_more_than_stages()) {
        page.paragraph(out, "  ", 2, &format!("Views: {}.", escaped(&views.sentence)), Ink::Plain);
    }
}

/// What of a formula is idle weight, where that is much; `called` names it where
/// there are several.
pub fn idle_weight(report: &FormulaReport, called: Option<&str>, page: &Page, out: &mut String) {
    let Some(sentence) = report.idle.as_ref().and_then(|idle| idle.sentence.as_ref()) else { return };
    let of = called.map_or(String::new(), |name| format!(" of {name}"));
    page.paragraph(out, "  ", 2, &format!("Idle weight{of}: {}.", escaped(sentence)), Ink::Alert);
}

/// The one of several formulas, each with a name, of which most is idle weight, where
/// that is much.
pub fn most_idle<'a>(reports: impl Iterator<Item = (String, &'a FormulaReport)>, page: &Page, out: &mut String) {
    let parts = |report: &FormulaReport| report.idle.as_ref().map_or(0.0, |idle| idle.parts);
    let much = reports.filter(|(_, report)| report.idle.as_ref().is_some_and(|idle| idle.sentence.is_some()));
    if let Some((name, report)) = much.max_by(|(_, a), (_, b)| parts(a).total_cmp(&parts(b))) {
        idle_weight(report, Some(&name), page, out);
    }
}

/// A sum under a column of aligned numbers.
pub fn with_blanks(sum: &str, column: &[String]) -> String {
    let point = |text: &str| text.find('.').map(|at| text.len() - at);
    let blanks = |text: &str| text.len() - text.trim_end().len();
    let most = column.iter().map(|text| point(text).unwrap_or_else(|| blanks(text))).max().unwrap_or(0);
    format!("{sum}{}", " ".repeat(most.saturating_sub(point(sum).unwrap_or(0))))
}

/// Percent of neat accord in what the usual bottles pour.
fn concentration(report: &FormulaReport) -> Option<String> {
    report.poured.as_ref().map(|poured| significant(poured.concentration_percent, 3, 1, 6))
}

/// What the usual bottles bring, and how far they dilute the accord.
fn poured(report: &FormulaReport, by_bottle: bool, page: &Page, out: &mut String) {
    let (Some(poured), Some(concentration)) = (&report.poured, concentration(report)) else { return };
    let solvents: Vec<String> =
        poured.carriers.0.iter().map(|(name, ppt)| format!("{} of {}", dose(*ppt), escaped(name))).collect();
    let brought = match by_bottle {
        true => format!("The bottles bring {}.", solvents.join(", ")),
        false => format!(
            "Poured from the usual bottles, which bring {}, it makes {} parts.",
            solvents.join(", "),
            dose(poured.total)
        ),
    };
    let text = format!("{brought} Accord concentration as poured: {concentration} %.");
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// What each part adds to the profile.
pub fn brings(report: &FormulaReport, on_scale: &str, page: &Page, out: &mut String) {
    let lines = report.materials.iter().filter(|line| !line.brings.0.is_empty());
    let named: Vec<(String, &PartLine)> = lines.map(|line| (shortened(&escaped(&line.material), 28), line)).collect();
    let Some(widest) = named.iter().map(|(name, _)| width(name)).max() else { return };
    page.head(out, &format!("What each brings, {on_scale}"));
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
pub fn gaps(report: &FormulaReport, head: &Head, page: &Page, out: &mut String) {
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
    let how = if head.matching == Match::Balance { "balance of the character" } else { "level of the scores" };
    page.head(out, &format!("Against the target, {} ({how})", head.on_scale()));
    let widest = lines.iter().map(|line| width(&escaped(&line.descriptor))).max().unwrap_or(0).min(24);
    for (short, title) in [(true, "Too little"), (false, "Too much")] {
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

/// How much a gap counts in the loss, beside others.
fn counted(line: &ProfileLine) -> f64 {
    line.gap.abs() * line.weight * if line.gap > 0.0 { line.excess } else { 1.0 }
}

/// Where the blend misses the target most, in a paragraph: the descriptors that
/// count most by name, with what is reached and what is wanted.
pub fn misses(report: &FormulaReport, on_scale: &str, page: &Page, out: &mut String) {
    let mut lines: Vec<&ProfileLine> = report.profile.iter().filter(|line| line.gap.abs() >= MET).collect();
    if report.profile.is_empty() {
        return;
    }
    lines.sort_by(|a, b| counted(b).total_cmp(&counted(a)));
    let (named, rest) = lines.split_at(lines.len().min(FEW_GAPS));
    let one = |line: &&&ProfileLine| {
        let decimals = if line.gap.abs() < 0.15 { 2 } else { 1 };
        let (blend, target) = (rounded(line.blend, decimals), plain(round_to(line.target, 2)));
        format!("{} ({blend}, target {target})", escaped(&line.descriptor))
    };
    let group = |is_short: bool, words: &str| {
        let group: Vec<String> = named.iter().filter(|line| (line.gap < 0.0) == is_short).map(|it| one(&it)).collect();
        (!group.is_empty()).then(|| format!("{words} {}", group.join(", ")))
    };
    let most = rest.iter().map(|line| line.gap.abs()).fold(0.0, f64::max);
    let more = (!rest.is_empty()).then(|| format!("{} more by up to {}", rest.len(), rounded_up(most, 2)));
    let said: Vec<String> = [group(false, "too much"), group(true, "too little"), more].into_iter().flatten().collect();
    let text = match &said[..] {
        [] => "nothing by 0.05 or more".to_owned(),
        said => said.join("; "),
    };
    page.labelled(out, "Misses", &format!("{text} {on_scale}."), Ink::Plain);
}

fn gap_line(line: &ProfileLine, largest: f64, widest: usize, page: &Page, out: &mut String) {
    let name = shortened(&escaped(&line.descriptor), widest);
    let blanks = " ".repeat(widest - width(&name));
    let sign = if line.gap < 0.0 { '−' } else { '+' };
    let numbers = format!(
        "{:>5}, target {:<5} {sign}{:<5}",
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
        1 => format!(" {} is shown here as what it is mixed from.", names[0]),
        _ => format!(" {} are shown here as what they are mixed from.", names.join(", ")),
    }
}
