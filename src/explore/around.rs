//! What goes with a proposal, once it is found: what it could be traded for,
//! what holds it back and what could go from it.

use std::time::Duration;

use maud::{Markup, PreEscaped, html};

use super::bench::Bench;
use super::changes::edits_of_loosening;
use super::piece::{Piece, Sink};
use super::requests::Against;
use super::shell::{change_button, note, scrolling};
use crate::chart::svg_inline;
use crate::chart::tradeoff::TradeoffChart;
use crate::escape::escaped;
use crate::files::edit::{BriefEdits, DoseEdit};
use crate::html::around::{SHOWN, left_out, loosened, that_could_go};
use crate::html::kit::first_upper;
use crate::problem::{Bound, RuleId};
use crate::questions::Refusal;
use crate::questions::propose::{self, Worths};
use crate::questions::tradeoff::{self, Axis};
use crate::results::states::{Removal, Traded};
use crate::results::tradeoff::TradeoffReport;
use crate::results::{Around, BindingLine, WayOutLine, WithoutLine};
use crate::solve::{Method, Solution};
use crate::text::sure::key_of_counts;
use crate::text::worth::{FEW, full_limits, not_settled};

/// How long a finer picture of the trade-off keeps the one before it waiting.
const FINER: Duration = Duration::from_millis(400);

/// Sends the trade-off, then what solving again with each rule loosened and
/// each material left out comes to.
pub fn answer(bench: &Bench, solution: &Solution, against: Against, sink: &Sink, limit: Duration) {
    if !sink.is_wanted() {
        return;
    }
    sink.send(Piece::new("around").with("tradeoff", trade(bench, solution, against, sink, limit)));
    let found = propose::around(&bench.resolved, solution, Method::Auto, &sink.control(limit));
    let Some((found, worths)) = found.filter(|_| sink.is_wanted()) else { return };
    sink.send(Piece::new("around").with("worth", worth(bench, &found, &worths)).with("without", without(&found)));
}

fn trade(bench: &Bench, solution: &Solution, against: Against, sink: &Sink, limit: Duration) -> Markup {
    let axis = match against {
        Against::Price => Axis::Price,
        Against::Strength => Axis::Strength,
        Against::Count => Axis::Count,
        Against::Effect => Axis::Effect,
    };
    let asked = tradeoff::Asked { axis, best: Some(solution), ..tradeoff::Asked::default() };
    // The first picture comes at once and gets finer in its place.
    let control = sink.control(limit);
    let mut last = control.clock.now();
    let mut is_first = true;
    let mut show = |report: &TradeoffReport| {
        if is_first || control.clock.since(last) >= FINER {
            (is_first, last) = (false, control.clock.now());
            if let Some(content) = drawn(report, true) {
                sink.send(Piece::new("around").with("tradeoff", content));
            }
        }
    };
    match tradeoff::watched(&bench.resolved, &asked, &control, &mut show) {
        Ok(answer) => drawn(&answer.report, false).unwrap_or_else(|| {
            note("calm", "There is no range to show: the other rules leave one place only, or none.")
        }),
        Err(Refusal::Failed(_)) => note("calm", "This could not be worked out."),
        Err(refusal) => note("calm", &refusal.to_string()),
    }
}

/// The curve as far as it is known.
fn drawn(report: &TradeoffReport, gets_finer: bool) -> Option<Markup> {
    let chart = TradeoffChart::of_report(report)?;
    let words = match report.against {
        Traded::Count => "Each point is the best formula in your own doses with at most so many materials.",
        _ if report.points.iter().all(|point| point.continuous) => "The curve is the best formula at every limit.",
        _ => {
            "Each step is the best formula in your own doses that keeps every rule; the thin line is the upper limit, \
              any doses and any number of materials."
        }
    };
    let unproven = report.points.iter().filter(|point| !point.proven).count();
    Some(html! {
        (chart_box("Trade-off", &svg_inline(&chart)))
        p.soft {
            (words)
            @if gets_finer { " It is still getting finer." }
            @else if unproven > 0 { " " (unproven) " of the formulas are not proven best." }
        }
    })
}

/// A chart that can be read with the arrow keys.
pub fn chart_box(label: &str, svg: &str) -> Markup {
    html! {
        div.chart tabindex="0" role="group" aria-label={ (label) ": chart; arrow keys read its numbers one by one" } {
            (PreEscaped(svg))
        }
        p.readout role="status" { "Point at the chart, or focus it and use the arrow keys, to read its numbers." }
    }
}

fn worth(bench: &Bench, around: &Around, worths: &Worths) -> Markup {
    let lines = around.binding.as_deref().unwrap_or_default();
    let open = around.binding_open.as_ref().and_then(|open| not_settled(open, FEW));
    let button = |at: usize, line: &BindingLine| {
        let edits = worths.binding.get(at);
        let edits =
            edits.and_then(|it| edits_of_loosening(&bench.resolved.problem, &bench.resolved.brief.file, &it.loosening));
        edits.map_or_else(Markup::default, |edits| change_button(&edits, "Try", &format!("Try: {}", line.order)))
    };
    let rows = loosened(lines, Some(("Try it", &button)));
    html! {
        @for (at, way) in around.ways_out.iter().enumerate() {
            @if at == 0 { h3 { "More that is heard" } }
            p { (first_upper(&escaped(&way.sentence))) ". " (try_way_out(way)) }
        }
        @if let Some(full) = full_limits(around) { p { (escaped(&full)) } }
        @if lines.is_empty() && open.is_some() {
        } @else if lines.is_empty() {
            p { "No single rule of the brief or the shelf holds the formula back." }
        } @else {
            (scrolling("What holds it back", &rows))
            @if lines.len() > SHOWN {
                p.soft { (lines.len() - SHOWN) " more bring less." }
            }
            p.soft { (key_of_counts("the present one")) }
        }
        @if let Some(text) = &open { p.soft { (text) } }
    }
}

/// A button that adds the rule of a way out.
fn try_way_out(way: &WayOutLine) -> Markup {
    let mut edits = BriefEdits::default();
    match way.rule {
        RuleId::MaxIdle => edits.rules.max_idle = Some(Some(way.at)),
        RuleId::Strength(Bound::Min) => edits.rules.strength_min = Some(Some(way.at)),
        _ => return Markup::default(),
    }
    change_button(&edits, "Try", &format!("Try: {}", way.sentence))
}

fn without(around: &Around) -> Markup {
    let lines = that_could_go(around);
    let button = |_: usize, line: &WithoutLine| {
        change_button(&never(&line.material), "Leave out", &format!("Leave out {}", line.material))
    };
    let rows = left_out(&lines, Some(("Leave it out", &button)));
    let others: Vec<String> = around
        .without
        .iter()
        .flatten()
        .filter(|line| matches!(line.outcome, Removal::Impossible | Removal::Required))
        .map(|line| escaped(&line.material))
        .collect();
    let unknown = around.without.iter().flatten().filter(|line| line.outcome == Removal::NotComputed).count();
    html! {
        @if lines.is_empty() && unknown == 0 { p { "None of the materials can be left out." } }
        @if !lines.is_empty() {
            (scrolling("What could go", &rows))
        }
        @if unknown > 0 { p.soft { (unknown) " materials were not looked at in the time allowed." } }
        @if !others.is_empty() { p.soft { "Needed by the rules: " (others.join(", ")) "." } }
    }
}

fn never(material: &str) -> BriefEdits {
    let mut edits = BriefEdits::default();
    let edit = DoseEdit { permission: Some("never".to_owned()), ..DoseEdit::default() };
    edits.doses.insert(material.to_owned(), edit);
    edits
}
