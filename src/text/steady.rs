//! What a search over the draws found, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table};
use crate::number::rounded;
use crate::results::steady::{MeritLine, SteadyReport};
use crate::results::taught::TaughtReport;

/// The section of a proposal.
pub fn steady(report: &SteadyReport, page: &Page, out: &mut String) {
    page.head(out, "Steadiness: the match over what scores and strengths may be");
    both(report, "The steadiest found", true, page, out);
    let judged = format!("judged on {} fresh draws", report.draws);
    let by = format!("{}, give or take {}", rounded(report.gain, 2), rounded(report.gain_error, 2));
    let text = if report.buys {
        format!(
            "The formula below is the steadiest found: half its average and half its worst tenth gain {by} % points, {judged}; \
             it gives up {} on paper, and is nearer the target in {} % of the draws. That none is steadier is not proven.",
            gives_up(report),
            rounded(report.nearer, 0)
        )
    } else if report.found.formula == report.best_on_paper.formula {
        "Steadiness buys nothing here: nothing steadier than the best on paper was found. That there is nothing is not \
         proven."
            .to_owned()
    } else {
        format!(
            "Steadiness buys nothing here: the steadiest formula found gains {by} % points, {judged}. The formula below is \
             the best on paper."
        )
    };
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// The section of a proposal after trials.
pub fn expected(report: &SteadyReport, is_below: bool, page: &Page, out: &mut String) {
    page.head(out, "What to expect of the next blotter: the match over what the trials leave unsure");
    both(report, "The best to be expected", false, page, out);
    let text = if report.buys {
        format!(
            "{} {} % points more on average than the best on paper (give or take {}, judged on {} fresh draws), {} less on \
             paper. That none is better is not proven.",
            if is_below {
                "The formula below is the best to be expected that was found:"
            } else {
                "The best to be expected that was found has"
            },
            rounded(report.gain, 2),
            rounded(report.gain_error, 2),
            report.draws,
            gives_up(report)
        )
    } else {
        let below = if is_below { "The formula below is the best on paper: none" } else { "None" };
        format!("{below} was found of which more is to be expected. That there is none is not proven.")
    };
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// Which trials the numbers were learned from.
pub fn taught(report: &TaughtReport, page: &Page, out: &mut String) {
    let ink = if report.used.is_empty() { Ink::Alert } else { Ink::Plain };
    page.labelled(out, "Trials", &format!("{}.", report.told()), ink);
}

/// What the best by what is sought gives up on paper.
fn gives_up(report: &SteadyReport) -> String {
    rounded((report.best_on_paper.on_paper - report.found.on_paper).max(0.0), 2)
}

/// The column of the worst tenth.
const WORST_TENTH: usize = 3;

/// Both formulas, with their worst tenth or without.
fn both(report: &SteadyReport, found: &str, worst: bool, page: &Page, out: &mut String) {
    let columns = if worst { 5 } else { 4 };
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right][..columns]);
    let shown = |cells: [String; 5]| {
        let all = cells.into_iter().enumerate();
        all.filter(|(at, _)| worst || *at != WORST_TENTH).map(|(_, cell)| cell).collect::<Vec<_>>()
    };
    let titles = ["", "on paper", "on average", "worst tenth", "nine in ten"];
    table.row(Ink::Faint, shown(titles.map(str::to_owned)));
    let mut row = |name: &str, line: &MeritLine| {
        let cells = [
            name.to_owned(),
            rounded(line.on_paper, 2),
            rounded(line.mean, 2),
            rounded(line.worst_tenth, 2),
            format!("{} to {}", rounded(line.p5, 1), rounded(line.p95, 1)),
        ];
        table.row(Ink::Plain, shown(cells));
    };
    row("The best on paper", &report.best_on_paper);
    if report.found.formula != report.best_on_paper.formula {
        row(found, &report.found);
    }
    table.write(out, page);
    out.push('\n');
}
