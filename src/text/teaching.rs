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
    let titles = ["", "expected of it", "nine in ten", "best once smelled"];
    table.row(Ink::Faint, titles.map(str::to_owned).to_vec());
    table.row(
        Ink::Plain,
        vec!["The best to be expected".to_owned(), rounded(report.best_now, 2), String::new(), String::new()],
    );
    for (at, one) in report.mods.iter().enumerate() {
        let name = if several { format!("Mod {}", letter(at)) } else { "This mod".to_owned() };
        table.row(
            Ink::Plain,
            vec![
                name,
                rounded(one.expected, 2),
                format!("{} to {}", rounded(one.p5, 1), rounded(one.p95, 1)),
                rounded(one.best_after, 2),
            ],
        );
    }
    table.write(out, page);
    out.push('\n');
    let gives = report.mods.first().map_or(0.0, |first| report.best_now - first.expected);
    let which = if several { "These mods bring" } else { "This mod brings" };
    let text = format!(
        "{which} the end nearest of {} formulas within {} % points of the best to be expected: what is told of {} is \
         taken to be right give or take {} points, and the last column is what the best formula will then be good for, \
         on average. {}That none teaches more is not proven.",
        report.pool,
        rounded(report.margin, 1),
        if several { "them" } else { "it" },
        rounded(report.give_or_take, 1),
        if gives > 0.05 {
            format!("The first gives up {} % points of its own for that. ", rounded(gives, 2))
        } else {
            String::new()
        }
    );
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
    if several {
        for (at, one) in report.mods.iter().enumerate() {
            page.paragraph(out, "  ", 4, &format!("{}: {} ‰", letter(at), doses(one)), Ink::Plain);
        }
        page.paragraph(out, "  ", 2, "Below is mod A.", Ink::Plain);
    }
}

fn letter(at: usize) -> char {
    char::from(b'A' + (at % 26) as u8)
}

fn doses(one: &ModLine) -> String {
    let parts: Vec<String> =
        one.formula.parts.0.iter().map(|(name, parts)| format!("{} {}", escaped(name), dose(parts.as_f64()))).collect();
    parts.join(", ")
}
