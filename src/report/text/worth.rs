//! What holds a formula back and what could go from it, on the page.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::number::{rounded, rounded_up};
use crate::report::{Around, BindingLine, WithoutLine};

/// Rules that the text lists; JSON lists them all.
const SHOWN: usize = 8;
/// Rules that the text names of those for which the time did not suffice.
const FEW: usize = 3;

/// The rules that hold the formula back, the one that costs most first.
pub fn binding(around: &Around, page: &Page, out: &mut String) {
    let (Some(binding), Some(not_computed)) = (&around.binding, &around.binding_not_computed) else { return };
    if binding.is_empty() && not_computed.is_empty() {
        return;
    }
    page.head(out, "What holds it back: the match with one rule loosened, all else solved again");
    let doubt = around.give_or_take.unwrap_or(0.0);
    let mut hidden = 0.0_f64;
    for (at, line) in binding.iter().enumerate() {
        if at >= SHOWN {
            hidden = hidden.max(line.gain);
            continue;
        }
        let first = figures(line.fidelity_then, line.gain);
        page.paragraph(out, &first, 21, &words(line), Ink::Plain);
    }
    let say = |out: &mut String, text: &str| page.paragraph(out, "  ", 2, text, Ink::Plain);
    if binding.len() > SHOWN {
        let more = binding.len() - SHOWN;
        say(out, &format!("{more} more that bring at most {} each stand in the JSON.", rounded_up(hidden, 2)));
    }
    inside(out, page, doubt, binding.len(), binding.iter().filter(|line| line.inside_doubt).count());
    if !not_computed.is_empty() {
        let orders: Vec<String> = around.orders_not_computed.iter().take(FEW).map(|order| escaped(order)).collect();
        let more = not_computed.len().saturating_sub(FEW);
        let more = if more > 0 { format!("; and {more} more") } else { String::new() };
        say(out, &format!("Not computed in the time allowed: {}{more}.", orders.join("; ")));
    }
}

/// How many of some differences lie inside the doubt.
fn inside(out: &mut String, page: &Page, doubt: f64, all: usize, inside: usize) {
    let which = match (all, inside) {
        (_, 0) => return,
        (1, 1) => "This lies".to_owned(),
        (all, inside) if all == inside => "All of these lie".to_owned(),
        (_, 1) => "One of these lies".to_owned(),
        (_, inside) => format!("{inside} of these lie"),
    };
    let text = format!("{which} inside the doubt of the scores, \u{b1}{} points.", rounded(doubt, 1));
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

fn figures(fidelity: f64, change: f64) -> String {
    let sign = if change < 0.0 { '\u{2212}' } else { '+' };
    format!("  {:>6} %  {sign}{:<6}  ", rounded(fidelity, 2), rounded(change.abs(), 2))
}

fn words(line: &BindingLine) -> String {
    let unproven = if line.proven { "" } else { ", at least: not proven best" };
    let file =
        std::path::Path::new(&line.file).file_name().map_or(line.file.as_str().into(), |name| name.to_string_lossy());
    format!("{}{unproven} ({}:{})", escaped(&line.order), escaped(&file), line.line)
}

/// What each material is missed for, the least missed first.
pub fn without(around: &Around, page: &Page, out: &mut String) {
    let Some(lines) = &around.without else { return };
    page.head(out, "What could go: the match without a material, all else solved again");
    let mut possible: Vec<&WithoutLine> = lines.iter().filter(|line| line.outcome == "possible").collect();
    possible.sort_by(|a, b| a.costs.unwrap_or(0.0).total_cmp(&b.costs.unwrap_or(0.0)));
    for line in &possible {
        let first = figures(line.fidelity_then.unwrap_or(0.0), -line.costs.unwrap_or(0.0));
        let mut words = escaped(&line.material);
        if !line.proven {
            words += ", at least: not proven best";
        }
        if line.droppable {
            words += ": can go, within the doubt";
        }
        page.paragraph(out, &first, 21, &words, Ink::Plain);
    }
    if possible.len() > 1 {
        page.paragraph(out, "  ", 2, "One at a time: what two cost together is another question.", Ink::Plain);
    }
    let mut group = |outcome: &str, label: &str| {
        let names: Vec<String> =
            lines.iter().filter(|line| line.outcome == outcome).map(|line| escaped(&line.material)).collect();
        if !names.is_empty() {
            page.paragraph(out, label, 21, &names.join(", "), Ink::Plain);
        }
    };
    group("impossible", "  no blend without    ");
    group("required", "  the brief wants     ");
    group("not computed", "  not computed        ");
}
