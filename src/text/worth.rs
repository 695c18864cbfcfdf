//! What holds a formula back and what could go from it, on the page.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::number::plain;
use crate::number::{rounded, rounded_up};
use crate::results::states::Removal;
use crate::results::worth::{BroughtIn, FullLimit};
use crate::results::{Around, BindingLine, WithoutLine};
use crate::text::sure::{key_of_counts, of_hundred};

/// Rules that the text lists; JSON lists them all.
const SHOWN: usize = 8;
/// Where words begin after the figures.
const INDENT: usize = 33;
/// Rules that the text names of those for which the time did not suffice.
const FEW: usize = 3;

/// The rules that hold the formula back, the one that costs most first.
pub fn binding(around: &Around, page: &Page, out: &mut String) {
    let (Some(binding), Some(not_computed)) = (&around.binding, &around.binding_not_computed) else { return };
    let full = full_limits(around);
    if binding.is_empty() && not_computed.is_empty() && full.is_none() {
        return;
    }
    page.head(out, "What holds it back: the match with one rule loosened, all else solved again");
    counted(page, out);
    let mut hidden = 0.0_f64;
    for (at, line) in binding.iter().enumerate() {
        if at >= SHOWN {
            hidden = hidden.max(line.gain);
            continue;
        }
        let first = figures(line.fidelity_then, line.gain, line.nearer_in_percent);
        page.paragraph(out, &first, INDENT, &words(line), Ink::Plain);
    }
    let say = |out: &mut String, text: &str| page.paragraph(out, "  ", 2, text, Ink::Plain);
    if binding.len() > SHOWN {
        let more = binding.len() - SHOWN;
        say(out, &format!("{more} more that bring at most {} each stand in the JSON.", rounded_up(hidden, 2)));
    }
    if !binding.is_empty() {
        say(out, &key_of_counts("the present one"));
    }
    if let Some(full) = full {
        say(out, &escaped(&full));
    }
    if !not_computed.is_empty() {
        let orders: Vec<String> = around.orders_not_computed.iter().take(FEW).map(|order| escaped(order)).collect();
        let more = not_computed.len().saturating_sub(FEW);
        let more = if more > 0 { format!("; and {more} more") } else { String::new() };
        say(out, &format!("Not computed in the time allowed: {}{more}.", orders.join("; ")));
    }
}

/// Over the column of counts.
fn counted(page: &Page, out: &mut String) {
    *out += &page.ink(&format!("{:>31}", "nearer in"), Ink::Faint);
    out.push('\n');
}

fn figures(fidelity: f64, change: f64, nearer: Option<f64>) -> String {
    let sign = if change < 0.0 { '\u{2212}' } else { '+' };
    let nearer = nearer.map_or_else(|| "-".to_owned(), of_hundred);
    format!("  {:>6} %  {sign}{:<6} {nearer:>11}  ", rounded(fidelity, 2), rounded(change.abs(), 2))
}

fn words(line: &BindingLine) -> String {
    let unproven = if line.proven { "" } else { ", at least: not proven best" };
    let file =
        std::path::Path::new(&line.file).file_name().map_or(line.file.as_str().into(), |name| name.to_string_lossy());
    let follows = follows(line).map_or(String::new(), |follows| format!(". {}", escaped(&follows)));
    format!("{}{unproven} ({}:{}){follows}", escaped(&line.order), escaped(&file), line.line)
}

/// What each material is missed for, the least missed first.
pub fn without(around: &Around, page: &Page, out: &mut String) {
    let Some(lines) = &around.without else { return };
    page.head(out, "What could go: the match without a material, all else solved again");
    let mut possible: Vec<&WithoutLine> = lines.iter().filter(|line| line.outcome == Removal::Possible).collect();
    possible.sort_by(|a, b| a.costs.unwrap_or(0.0).total_cmp(&b.costs.unwrap_or(0.0)));
    if !possible.is_empty() {
        counted(page, out);
    }
    for line in &possible {
        let first = figures(line.fidelity_then.unwrap_or(0.0), -line.costs.unwrap_or(0.0), line.nearer_in_percent);
        let mut words = escaped(&line.material);
        if !line.proven {
            words += ", at least: not proven best";
        }
        if line.droppable {
            words += ": may not be noticeable";
        }
        page.paragraph(out, &first, INDENT, &words, Ink::Plain);
    }
    if possible.len() > 1 {
        page.paragraph(out, "  ", 2, "One at a time: what two cost together is another question.", Ink::Plain);
    }
    let mut group = |outcome: Removal, label: &str| {
        let names: Vec<String> =
            lines.iter().filter(|line| line.outcome == outcome).map(|line| escaped(&line.material)).collect();
        if !names.is_empty() {
            page.paragraph(out, label, INDENT, &names.join(", "), Ink::Plain);
        }
    };
    group(Removal::Impossible, "  no blend without               ");
    group(Removal::Required, "  the brief wants                ");
    group(Removal::NotComputed, "  not computed                   ");
}

/// What a change of doses means for what is known of the formula, as a
/// sentence; `None` where nothing unknown comes in.
pub fn follows(line: &BindingLine) -> Option<String> {
    if line.unknown_brought_in.is_empty() {
        return None;
    }
    let brought = |it: &BroughtIn| format!("{} ‰ of {}", plain(it.parts.as_f64()), it.material);
    let brought: Vec<String> = line.unknown_brought_in.iter().map(brought).collect();
    let come = format!("puts in {}, of unknown constituents: limits on them were not checked", brought.join(" and "));
    Some(match &line.naturals_left_out[..] {
        [] => format!("It {come}."),
        left => format!("It leaves out {} and {come}.", left.join(" and ")),
    })
}

/// The limits that are full, in one sentence.
pub fn full_limits(around: &Around) -> Option<String> {
    let full = around.limits_full.as_ref().filter(|full| !full.is_empty())?;
    let name = |it: &FullLimit| match &it.product {
        Some(product) => format!("{} in {product}", it.name),
        None => it.name.clone(),
    };
    let names: Vec<String> = full.iter().map(name).collect();
    let (limit, is) = if names.len() == 1 { ("The limit", "is") } else { ("The limits", "are") };
    Some(format!("{limit} of {} {is} full; limits are no levers.", names.join(", ")))
}
