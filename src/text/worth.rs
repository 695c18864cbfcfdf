//! What holds a formula back and what could go from it, on the page.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_up};
use crate::results::states::Removal;
use crate::results::worth::{BroughtIn, FullLimit, OpenLine};
use crate::results::{Around, BindingLine, WithoutLine};
use crate::text::sure::{key_of_counts, of_hundred};

/// Rules that the text lists; JSON lists them all.
const SHOWN: usize = 8;
/// Rules that the short form lists.
const LEVERS: usize = 3;
/// Materials that could go, and that are missed most, in the short form.
const GOING: usize = 3;
const MISSED: usize = 2;
/// Where words begin after the figures.
const INDENT: usize = 33;
/// Rules that the text names of those for which the time did not suffice.
pub const FEW: usize = 3;

/// The rules that hold the formula back, the one that costs most first.
pub fn binding(around: &Around, page: &Page, out: &mut String) {
    let (Some(binding), Some(open)) = (&around.binding, &around.binding_open) else { return };
    let full = full_limits(around);
    if binding.is_empty() && open.is_empty() && full.is_none() {
        return;
    }
    if !page.full {
        levers(around, binding, page, out);
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
        say(out, &format!("{more} more, which bring at most {} each, are in the JSON.", rounded_up(hidden, 2)));
    }
    if !binding.is_empty() {
        say(out, &key_of_counts("the present one"));
    }
    if let Some(full) = full {
        say(out, &escaped(&full));
    }
    if let Some(text) = not_settled(open, FEW) {
        say(out, &text);
    }
}

/// The rules whose loosening brings most, one or two lines each.
fn levers(around: &Around, binding: &[BindingLine], page: &Page, out: &mut String) {
    let lines = &binding[..binding.len().min(LEVERS)];
    let open = around.binding_open.as_ref().and_then(|open| not_settled(open, 1));
    if lines.is_empty() {
        if let Some(text) = open {
            out.push('\n');
            page.labelled(out, "Held back", &text, Ink::Plain);
        }
        return;
    }
    let all = lines.iter().all(|line| line.inside_doubt);
    let doubt = if all { " (may not be noticeable)" } else { "" };
    page.head(out, &format!("What holds it back: one rule loosened, in % points{doubt}"));
    for line in lines {
        let doubt = if line.inside_doubt && !all { "; may not be noticeable" } else { "" };
        let first = format!("  {:<6} ", signed(line.gain));
        page.paragraph(out, &first, 9, &format!("{}{doubt}{}", lever(line), brings_in(line)), Ink::Plain);
    }
    if let Some(text) = open {
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
}

/// What the time did not suffice for, with the most that it can bring; the first few named.
pub fn not_settled(open: &[OpenLine], few: usize) -> Option<String> {
    let at_most = |line: &OpenLine| format!("at most +{}", rounded_up(line.gain_at_most, 2));
    let named: Vec<String> =
        open.iter().take(few).map(|line| format!("{} ({})", escaped(&line.order), at_most(line))).collect();
    let rest = match open.get(few) {
        Some(line) => format!("; {} more, {} each", open.len() - few, at_most(line)),
        None => String::new(),
    };
    (!open.is_empty()).then(|| format!("Not settled in the time allowed, in % points: {}{rest}.", named.join("; ")))
}

fn signed(change: f64) -> String {
    let sign = if change < 0.0 { '\u{2212}' } else { '+' };
    format!("{sign}{}", rounded(change.abs(), 2))
}

/// Over the column of counts.
fn counted(page: &Page, out: &mut String) {
    *out += &page.ink(&format!("{:>31}", "nearer in"), Ink::Faint);
    out.push('\n');
}

fn figures(fidelity: f64, change: f64, nearer: Option<f64>) -> String {
    let nearer = nearer.map_or_else(|| "-".to_owned(), of_hundred);
    format!("  {:>6} %  {:<7} {nearer:>11}  ", rounded(fidelity, 2), signed(change))
}

/// The rule to loosen, with its place.
fn lever(line: &BindingLine) -> String {
    let unproven = if line.proven { "" } else { ", at least: not proven best" };
    let file =
        std::path::Path::new(&line.file).file_name().map_or(line.file.as_str().into(), |name| name.to_string_lossy());
    format!("{}{unproven} ({}:{})", escaped(&line.order), escaped(&file), line.line)
}

/// What of unknown constituents a loosened rule brings in, in a few words.
fn brings_in(line: &BindingLine) -> String {
    let one = |it: &BroughtIn| format!("{} ‰ of {}", plain(it.parts.as_f64()), escaped(&it.material));
    let brought: Vec<String> = line.unknown_brought_in.iter().map(one).collect();
    match &brought[..] {
        [] => String::new(),
        all => format!(": it puts in {}, of unknown constituents, not checked", all.join(" and ")),
    }
}

fn words(line: &BindingLine) -> String {
    let follows = follows(line).map_or(String::new(), |follows| format!(". {}", escaped(&follows)));
    format!("{}{follows}", lever(line))
}

/// What each material is missed for, the least missed first.
pub fn without(around: &Around, page: &Page, out: &mut String) {
    let Some(lines) = &around.without else { return };
    let mut possible: Vec<&WithoutLine> = lines.iter().filter(|line| line.outcome == Removal::Possible).collect();
    possible.sort_by(|a, b| a.costs.unwrap_or(0.0).total_cmp(&b.costs.unwrap_or(0.0)));
    if !page.full {
        could_go(lines, &possible, page, out);
        return;
    }
    page.head(out, "What could go: the match without a material, all else solved again");
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

/// The materials that are missed least and those that are missed most, in a
/// paragraph.
fn could_go(all: &[WithoutLine], possible: &[&WithoutLine], page: &Page, out: &mut String) {
    let named = |lines: &[&WithoutLine]| {
        let one = |line: &&WithoutLine| {
            let unproven = if line.proven { "" } else { " at most" };
            format!("{} {}{unproven}", escaped(&line.material), signed(-line.costs.unwrap_or(0.0)))
        };
        lines.iter().map(one).collect::<Vec<_>>().join(", ")
    };
    let (going, missed): (Vec<&WithoutLine>, Vec<&WithoutLine>) = possible.iter().partition(|line| line.droppable);
    let mut said = match &going[..] {
        [] => "nothing unnoticed.".to_owned(),
        going if going.len() > GOING => {
            format!("{} and {} more (may not be noticeable).", named(&going[..GOING]), going.len() - GOING)
        }
        going => format!("{} (may not be noticeable).", named(going)),
    };
    if !missed.is_empty() {
        let most: Vec<&WithoutLine> = missed.iter().rev().take(MISSED).copied().collect();
        said += &format!(" Missed most: {}.", named(&most));
    }
    let open = all.iter().filter(|line| line.outcome == Removal::NotComputed).count();
    if open > 0 {
        said += &format!(" Not computed in the time allowed: {open}.");
    }
    page.labelled(out, "Could go", &said, Ink::Plain);
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
    let reached = if names.len() == 1 { "has reached its limit" } else { "have reached their limits" };
    Some(format!("{} {reached}; limits are not loosened here.", names.join(", ")))
}
