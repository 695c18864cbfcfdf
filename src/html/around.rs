//! What holds a formula back, and what could go from it.

use maud::{Markup, html};

use super::kit::{first_upper, nearer, signed};
use crate::escape::escaped;
use crate::number::rounded;
use crate::results::states::Removal;
use crate::results::{Around, BindingLine, WithoutLine};
use crate::text::worth::follows;

/// Lines that are shown, at most.
pub const SHOWN: usize = 8;

/// What stands at the end of each row: the hidden title of that column, and the
/// cell of a row.
pub type AtTheEnd<'a, Line> = (&'static str, &'a dyn Fn(usize, &Line) -> Markup);

/// Rules, one loosened and everything else solved again, the one that brings
/// most first.
pub fn loosened(lines: &[BindingLine], end: Option<AtTheEnd<'_, BindingLine>>) -> Markup {
    html! {
        table {
            thead { tr {
                th { "If you …" } th.n { "match, %" } th.n { "gain" } th.n { "nearer in" }
                @if let Some((title, _)) = &end { th { span.hidden { (title) } } }
            } }
            tbody {
                @for (at, line) in lines.iter().take(SHOWN).enumerate() {
                    tr {
                        th scope="row" {
                            (first_upper(&escaped(&line.order))) (at_least(line.proven))
                            @if let Some(follows) = follows(line) { span.sub { (escaped(&follows)) } }
                        }
                        td.n { (rounded(line.fidelity_then, 2)) } td.n { (signed(line.gain, 2)) }
                        td.n { (nearer(line.nearer_in_percent)) }
                        @if let Some((_, cell)) = &end { td { (cell(at, line)) } }
                    }
                }
            }
        }
    }
}

/// The materials that could go, the one that costs least first.
pub fn that_could_go(around: &Around) -> Vec<&WithoutLine> {
    let mut lines: Vec<&WithoutLine> =
        around.without.iter().flatten().filter(|line| line.outcome == Removal::Possible).collect();
    lines.sort_by(|a, b| a.costs.unwrap_or(0.0).total_cmp(&b.costs.unwrap_or(0.0)));
    lines
}

/// One of the materials left out and everything else solved again.
pub fn left_out(lines: &[&WithoutLine], end: Option<AtTheEnd<'_, WithoutLine>>) -> Markup {
    html! {
        table {
            thead { tr {
                th { "Without …" } th.n { "match, %" } th.n { "costs" } th.n { "nearer in" }
                @if let Some((title, _)) = &end { th { span.hidden { (title) } } }
            } }
            tbody {
                @for (at, line) in lines.iter().enumerate() {
                    tr {
                        th scope="row" {
                            (escaped(&line.material)) (at_least(line.proven))
                            @if line.droppable { span.soft { " may not be noticeable" } }
                        }
                        td.n { (rounded(line.fidelity_then.unwrap_or(0.0), 2)) }
                        td.n { (signed(-line.costs.unwrap_or(0.0), 2)) }
                        td.n { (nearer(line.nearer_in_percent)) }
                        @if let Some((_, cell)) = &end { td { (cell(at, line)) } }
                    }
                }
            }
        }
    }
}

fn at_least(proven: bool) -> Markup {
    html! { @if !proven { span.soft { " (at least; not proven)" } } }
}
