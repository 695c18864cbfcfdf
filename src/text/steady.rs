//! What a search for steadiness found, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table};
use crate::number::rounded;
use crate::results::steady::{MeritLine, SteadyReport};

/// The section of a proposal.
pub fn steady(report: &SteadyReport, page: &Page, out: &mut String) {
    page.head(out, "Steadiness: the match over what scores and strengths may be");
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right]);
    let titles = ["", "on paper", "on average", "worst tenth", "nine in ten"];
    table.row(Ink::Faint, titles.map(str::to_owned).to_vec());
    let mut row = |name: &str, line: &MeritLine| {
        let cells = [
            name.to_owned(),
            rounded(line.on_paper, 2),
            rounded(line.mean, 2),
            rounded(line.worst_tenth, 2),
            format!("{} to {}", rounded(line.p5, 1), rounded(line.p95, 1)),
        ];
        table.row(Ink::Plain, cells.to_vec());
    };
    row("The best on paper", &report.best_on_paper);
    if report.found.formula != report.best_on_paper.formula {
        row("The steadiest found", &report.found);
    }
    table.write(out, page);
    out.push('\n');
    let judged = format!("judged on {} fresh draws", report.draws);
    let by = format!("{}, give or take {}", rounded(report.gain, 2), rounded(report.gain_error, 2));
    let text = if report.buys {
        let gives = report.best_on_paper.on_paper - report.found.on_paper;
        format!(
            "The formula below is the steadiest found: half its average and half its worst tenth gain {by} % points, {judged}; \
             it gives up {} on paper, and is nearer the target in {} % of the draws. That none is steadier is not proven.",
            rounded(gives.max(0.0), 2),
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
