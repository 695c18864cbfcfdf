//! Strengths from matches on the page.

use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use crate::escape::escaped;
use crate::matches::Verdict;
use crate::number::{plain, rounded, significant};
use crate::results::strengths::{DilutionLine, PairLine, StrengthLine, StrengthsReport};
use crate::sentences::said::marked;

/// Pairs that are shown of those that agree badly.
const SHOWN: usize = 8;
/// The same in the short form.
const FEW: usize = 3;
/// A pair that is further off than this, in standard deviations, is worth a
/// second smelling.
const DOUBTFUL: f64 = 1.5;

/// The whole answer.
pub fn strengths(report: &StrengthsReport, page: &Page) -> String {
    let mut out = String::new();
    let shelf = escaped(report.name.as_ref().unwrap_or(&report.palette));
    page.paragraph(&mut out, "", 0, &format!("{shelf}: strengths from matches"), Ink::Strong);
    out.push('\n');
    headline(report, page, &mut out);
    page.head(&mut out, "Strengths, each to within a factor (times or divided by)");
    table(report, page, &mut out);
    contradictions(report, page, &mut out);
    doubtful(report, page, &mut out);
    ties(report, page, &mut out);
    out.push('\n');
    let text = "The factors are one standard deviation. Always start from the palette as it was before these matches: \
                in a saved one they count already.";
    page.paragraph(&mut out, "", 0, text, Ink::Faint);
    page.full_adds(&mut out, "what the ties leave open, and more matches worth smelling again");
    out
}

/// A strength in three digits, without zeros behind the point.
fn strength(value: f64) -> String {
    let text = significant(value, 3, 0, 9);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn headline(report: &StrengthsReport, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: String, words: &str, ink: Ink| {
        let first = format!("  {label:<18}{value:>9}  ");
        page.paragraph(out, &first, width(&first), words, ink);
    };
    let reference = report.materials.iter().find(|line| line.material == report.reference);
    let kept = reference.map_or(0.0, |line| line.before);
    line("Reference", strength(kept), &format!("{} keeps its strength", escaped(&report.reference)), Ink::Plain);
    let equal = report.pairs.iter().filter(|pair| pair.verdict == Verdict::Equal).count();
    let words = match (equal, report.pairs.len() - equal) {
        (equal, 0) => format!("{equal} smelled equally strong"),
        (0, order) => format!("of {order} one was the stronger"),
        (equal, order) => format!("{equal} smelled equally strong; of {order} one was the stronger"),
    };
    line("Matches", report.pairs.len().to_string(), &words, Ink::Plain);
    let factor = report.give_or_take_factor;
    let words = "how far off a match may be that says nothing else (a factor)";
    line("Each to within", significant(factor, 3, 0, 3), words, Ink::Plain);
    if report.exponent != 1.0 {
        let rest = if page.full {
            ". It does not change what matches say of strengths, only how sure one is that says nothing of its own"
        } else {
            ""
        };
        let words = format!(
            "exponent: a dilution to a tenth smells {} times weaker{rest}",
            significant(report.tenfold, 3, 0, 3)
        );
        line("Stevens", plain(report.exponent), &words, Ink::Plain);
    }
    if let Some(scatter) = report.scatter {
        let words = match scatter {
            below if below < 0.5 => "times that: they agree better than you said",
            below if below <= 1.5 => "times that: they agree as well as you said",
            _ => "times that: they agree worse than you said; raise give_or_take_factor, or smell again",
        };
        let ink = if scatter > 1.5 { Ink::Alert } else { Ink::Plain };
        line("They scatter by", significant(scatter, 2, 0, 2), words, ink);
    }
    if !report.settled {
        line("", String::new(), "The arithmetic did not come to rest: take the numbers as a hint.", Ink::Alert);
    }
}

fn table(report: &StrengthsReport, page: &Page, out: &mut String) {
    let sides = [Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left];
    let mut table = Table::new(&sides);
    let titles = ["", "before", "factor", "now", "factor", "95 % from", "to"];
    table.row(Ink::Faint, titles.map(str::to_owned).to_vec());
    let column = |of: &dyn Fn(&StrengthLine) -> String| aligned(&report.materials.iter().map(of).collect::<Vec<_>>());
    let before = column(&|line| marked(&strength(line.before), line.before_said.is_some()));
    let now = column(&|line| if line.held { "keeps".to_owned() } else { strength(line.after) });
    let low = column(&|line| if line.held { String::new() } else { strength(line.low) });
    for (at, line) in report.materials.iter().enumerate() {
        let factor = |value: f64| if line.held { String::new() } else { rounded(value, 2) };
        let high = if line.held { String::new() } else { strength(line.high) };
        let cells = [
            escaped(&line.material),
            before[at].clone(),
            factor(line.before_factor),
            now[at].clone(),
            factor(line.factor),
            low[at].clone(),
            high,
        ];
        table.row(Ink::Plain, cells.to_vec());
    }
    table.write(out, page);
    if report.materials.iter().any(|line| line.before_said.is_some()) {
        let text = "~ was a word or a comparison; --apply and --save put the number in its place.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}

fn side(it: &DilutionLine) -> String {
    format!("{} at {} %", escaped(&it.material), plain(it.percent))
}

/// What was smelled, and what all other matches say of it.
fn against(pair: &PairLine) -> String {
    let said = match pair.verdict {
        Verdict::Equal => format!("{} as strong as {}", side(&pair.a), side(&pair.b)),
        Verdict::Stronger => format!("{} stronger than {}", side(&pair.a), side(&pair.b)),
    };
    let (times, which) =
        if pair.others_say >= 1.0 { (pair.others_say, "stronger") } else { (1.0 / pair.others_say, "weaker") };
    format!(
        "{said}. By all else the first is {} times {which}: {} standard deviations apart.",
        significant(times, 2, 0, 2),
        rounded(pair.apart.abs(), 1)
    )
}

fn pairs(pairs: &[&PairLine], page: &Page, out: &mut String, ink: Ink) {
    for pair in pairs {
        page.paragraph(out, "  - ", 4, &format!("line {}: {}", pair.line, against(pair)), ink);
    }
}

fn contradictions(report: &StrengthsReport, page: &Page, out: &mut String) {
    let found: Vec<&PairLine> = report.pairs.iter().filter(|pair| pair.contradicts).collect();
    if found.is_empty() {
        return;
    }
    page.head(out, &format!("What contradicts the other matches, in {}", escaped(&report.matches)));
    pairs(&found, page, out, Ink::Alert);
    let text = "They count all the same. Smell them again, or take them out and run this once more.";
    page.paragraph(out, "  ", 2, text, Ink::Plain);
}

fn doubtful(report: &StrengthsReport, page: &Page, out: &mut String) {
    let is_doubtful = |pair: &&PairLine| !pair.contradicts && pair.apart.abs() > DOUBTFUL;
    let found: Vec<&PairLine> = report.pairs.iter().filter(is_doubtful).collect();
    if found.is_empty() {
        return;
    }
    page.head(out, "Worth smelling again");
    let most = if page.full { SHOWN } else { FEW };
    pairs(&found[..found.len().min(most)], page, out, Ink::Plain);
    if found.len() > most {
        let place = if page.full { "are in the JSON" } else { "with --full" };
        page.paragraph(out, "  ", 2, &format!("{} more {place}.", found.len() - most), Ink::Plain);
    }
}

fn ties(report: &StrengthsReport, page: &Page, out: &mut String) {
    let names = |names: &[String]| names.iter().map(|name| escaped(name)).collect::<Vec<_>>().join(", ");
    let reference = escaped(&report.reference);
    let (untied, by_order) = (names(&report.untied), names(&report.tied_by_order));
    if !page.full {
        if !report.untied.is_empty() || !report.tied_by_order.is_empty() {
            out.push('\n');
        }
        if !report.untied.is_empty() {
            let text = format!("No chain of matches ties these to {reference}: {untied}.");
            page.paragraph(out, "  ", 2, &text, Ink::Alert);
        }
        if !report.tied_by_order.is_empty() {
            page.paragraph(out, "  ", 2, &format!("Tied by order alone, not by how much: {by_order}."), Ink::Plain);
        }
        return;
    }
    if !report.untied.is_empty() {
        page.head(out, &format!("Not tied to {reference}"));
        let them = if report.untied.len() == 1 { "it" } else { "them" };
        let text = format!(
            "{untied}: no chain of matches leads from {them} to the reference. What is said of {them} rests on the \
             palette's own strengths; one match with anything that is tied would settle it."
        );
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    if !report.tied_by_order.is_empty() {
        page.head(out, "Tied by order alone");
        let text = format!("{by_order}: matches say what is stronger, not by how much; an equal pair would say that.");
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
}
