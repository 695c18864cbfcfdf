//! A formula at the stages of its brief.

use maud::{Markup, html};

use super::kit::first_upper;
use crate::escape::escaped;
use crate::number::{rounded, significant};
use crate::results::FormulaReport;
use crate::results::stages::NamedStage;
use crate::text::broken::sentence;
use crate::text::stages::{called, clocks, dipped, worst};

/// Materials that are named, at most; the others carry less at every stage.
const NAMED: usize = 8;

/// What is told of each stage, who carries it and what is left; nothing where the brief
/// has none. `is_sought` where a search found the formula.
pub fn stages(report: &FormulaReport, is_sought: bool) -> Markup {
    let Some(on_paper) = &report.blotter else { return html! {} };
    let all = &report.stages;
    let share = |stage: &NamedStage, name: &str| stage.line.shares.0.iter().find(|(it, _)| it == name).map(|it| it.1);
    let most = |name: &str| all.iter().filter_map(|stage| share(stage, name)).fold(0.0, f64::max);
    let mut names: Vec<&str> = report.materials.iter().map(|line| line.material.as_str()).collect();
    names.sort_by(|a, b| most(b).total_cmp(&most(a)));
    names.retain(|name| most(name) > 0.0);
    let further = names.len().saturating_sub(NAMED);
    names.truncate(NAMED);
    let row = |head: &str, cell: &dyn Fn(&NamedStage) -> String| {
        html! { tr { th scope="row" { (head) } @for stage in all { td.n { (cell(stage)) } } } }
    };
    let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
    html! {
        div.scroll role="region" aria-label="Stage by stage" tabindex="0" { table {
            thead { tr { th { "Stage by stage" } @for stage in all { th.n { (called(stage)) } } } }
            tbody {
                (row("Match, %", &|it| or_dash(it.line.fidelity.map(|fidelity| rounded(fidelity, 1)))))
                (row("likely", &|it| or_dash(it.line.range.map(|range| range.words()))))
                (row("Strength kept, %", &|it| significant(it.line.kept, 2, 0, 2)))
                (row("Film left, % of mass", &|it| significant(it.line.film_left, 2, 0, 2)))
            }
        } }
        div.scroll role="region" aria-label="Odour, and what is left, stage by stage" tabindex="0" { table {
            thead { tr { th { "Odour %, and what is left of it" } @for stage in all { th.n { (called(stage)) } } } }
            tbody { @for name in &names {
                @let left = |it: &NamedStage| it.line.left.0.iter().find(|(of, _)| of == name).map_or(0.0, |it| it.1);
                (row(&escaped(name), &|it| {
                    format!("{} ({} %)", share(it, name).map_or("-".to_owned(), |it| rounded(it, 1)), significant(left(it), 2, 0, 2))
                }))
            } }
        } }
        @if further > 0 { p.quiet { (further) " more carry less at every stage." } }
        p { (dipped(on_paper)) " " (worst(on_paper)) }
        @if let Some(text) = clocks(all).filter(|_| is_sought) { p.alert { (text) } }
        @for line in on_paper.broken.iter().filter(|_| is_sought) {
            p.alert { "As its own film dries it breaks a rule: " (first_upper(&sentence(line))) "." }
        }
        @for note in &on_paper.notes { p.quiet { (note) } }
    }
}
