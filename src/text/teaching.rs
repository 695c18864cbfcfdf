//! Mods that teach while they aim, on the page.

use super::formula::dose;
use super::page::{Ink, Page};
use super::table::{Side, Table};
use crate::escape::escaped;
use crate::number::rounded;
use crate::results::teaching::{ModLine, TeachingReport};

/// The section of a proposal.
pub fn teaching(report: &TeachingReport, page: &Page, out: &mut String) {
    let several = report.mods.len() > 1;
    page.head(out, if several { "What to weigh for the next session" } else { "What to weigh next, to learn by it" });
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right]);
    let titles = ["", "less than the best", "nine in ten", "the best then gains"];
    table.row(Ink::Faint, titles.map(str::to_owned).to_vec());
    for (at, one) in report.mods.iter().enumerate() {
        let name = if several { format!("Mod {}", letter(at)) } else { "This mod".to_owned() };
        table.row(
            Ink::Plain,
            vec![
                name,
                rounded(less(report, one), 2),
                format!("{} to {}", rounded(one.p5, 1), rounded(one.p95, 1)),
                rounded((one.best_after - report.best_now).max(0.0), 2),
            ],
        );
    }
    table.write(out, page);
    out.push('\n');
    let (which, once) =
        if several { ("These mods bring", "a mod and those above it were") } else { ("This mod brings", "it was") };
    let text = format!(
        "{which} the end nearest of {} formulas within {} % points of the best to be expected: an estimate, for a nose \
         that is right give or take {} points. The last column is what the best formula gains on average once {once} \
         smelled. That none teaches more is not proven.",
        report.pool,
        rounded(report.margin, 1),
        rounded(report.give_or_take, 1),
    );
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
    if several {
        for (at, one) in report.mods.iter().enumerate() {
            page.paragraph(out, "  ", 4, &format!("{}: {} ‰", letter(at), doses(one)), Ink::Plain);
        }
        page.paragraph(out, "  ", 2, "Below is mod A.", Ink::Plain);
    }
}

/// How far a mod's expected match lies below that of the best, in points: of the same draws.
fn less(report: &TeachingReport, one: &ModLine) -> f64 {
    (report.best_now - one.expected).max(0.0)
}

fn letter(at: usize) -> char {
    char::from(b'A' + (at % 26) as u8)
}

fn doses(one: &ModLine) -> String {
    let parts: Vec<String> =
        one.formula.parts.0.iter().map(|(name, parts)| format!("{} {}", escaped(name), dose(parts.as_f64()))).collect();
    parts.join(", ")
}
