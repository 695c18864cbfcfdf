//! What was checked and what was not, on the page.

use super::in_short::Called;
use super::limits;
use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::plain;
use crate::results::care::{Care, Specification, UseLine};
use crate::results::{FormulaReport, LimitLine, PartLine};
use crate::sentences::care::light;

/// Notes on handling that the short form tells; of more it names the materials.
const NOTES: usize = 4;

/// What was checked of one formula, and what is to be minded at the bench: at
/// length, or in short with the parts that the page wants.
pub fn of_one(care: &Care, formula: &FormulaReport, page: &Page, out: &mut String) {
    let called: Vec<Called> = formula.limits.iter().map(|line| (None, line)).collect();
    checked(care, &called, &[formula], &|out| limits::limits(formula, page, out), page, out);
    if page.full {
        bench(care, &formula.materials, page, out);
    } else {
        handling(care, &formula.materials, page, out);
    }
}

/// What was checked of some formulas; `at_length` writes their limits in full.
pub fn checked(
    care: &Care,
    called: &[Called],
    formulas: &[&FormulaReport],
    at_length: &dyn Fn(&mut String),
    page: &Page,
    out: &mut String,
) {
    if page.full || page.limits {
        before_limits(care, page, out);
        at_length(out);
        not_checked(care, page, out);
    } else {
        limits::in_short(care, called, formulas, page, out);
    }
    if page.full || page.sources {
        let lines: Vec<&LimitLine> = called.iter().map(|(_, line)| *line).collect();
        bullets("Where the limits come from", sources(care, &lines).into_iter(), page, out);
    }
}

/// What is poured with care, in a paragraph: never fewer names than there are.
pub fn handling(care: &Care, materials: &[PartLine], page: &Page, out: &mut String) {
    let noted: Vec<&PartLine> = materials.iter().filter(|line| line.handling.is_some()).collect();
    // One more note takes little more room than its name.
    let shown = if noted.len() <= NOTES + 1 { noted.len() } else { NOTES };
    let mut said: Vec<String> = light(&care.phototoxic).map(|sentence| escaped(&sentence)).into_iter().collect();
    said.extend(noted[..shown].iter().map(|line| note(line)));
    if shown < noted.len() {
        let names: Vec<String> = noted[shown..].iter().map(|line| escaped(&line.material)).collect();
        said.push(format!("--full tells of {} as well", names.join(", ")));
    }
    if !said.is_empty() {
        page.labelled(out, "Handling", &format!("{}.", said.join(". ")), Ink::Plain);
    }
}

fn note(line: &PartLine) -> String {
    let handling = line.handling.as_deref().unwrap_or_default();
    format!("{}: {}", escaped(&line.material), escaped(handling.trim_end_matches('.')))
}

/// The caution that ends every answer with a formula.
pub fn caution(care: &Care, page: &Page, out: &mut String) {
    out.push('\n');
    page.paragraph(out, "", 0, care.caution, Ink::Faint);
}

/// The head of the limits, and what is unknown: it comes before any figure.
pub fn before_limits(care: &Care, page: &Page, out: &mut String) {
    page.head(out, "Limits");
    coverage(care, page, out);
    if !care.limits_applied {
        for sentence in care.not_checked.iter().filter(|sentence| sentence.starts_with("NO LIMITS")) {
            page.paragraph(out, "  ", 2, &escaped(sentence), Ink::Alert);
        }
    }
    for product in &care.uses {
        page.paragraph(out, "  - ", 4, &product_line(product), Ink::Plain);
    }
}

/// What the limits files know of what is in it.
fn coverage(care: &Care, page: &Page, out: &mut String) {
    let Some(coverage) = &care.coverage else { return };
    let ink = if coverage.complete { Ink::Plain } else { Ink::Alert };
    for sentence in coverage.sentences() {
        page.paragraph(out, "  ", 4, &escaped(&sentence), ink);
    }
}

fn product_line(product: &UseLine) -> String {
    let name = product.name.as_deref().map_or_else(|| "Finished product".to_owned(), escaped);
    let mut parts = Vec::new();
    if !product.category.is_empty() {
        let labels: Vec<String> = product.category.iter().map(|label| escaped(label)).collect();
        let word = if labels.len() == 1 { "category" } else { "categories" };
        parts.push(format!("{word} {}", labels.join(" and ")));
    }
    match product.dosage {
        Some(dosage) if product.accord_share < 100.0 => {
            parts.push(format!(
                "{} % concentrate, of which {} % is this accord",
                plain(dosage),
                plain(product.accord_share)
            ));
        }
        Some(dosage) => parts.push(format!("{} % concentrate", plain(dosage))),
        None if product.accord_share < 100.0 => {
            parts.push(format!("{} % of the concentrate is this accord", plain(product.accord_share)));
        }
        None => {}
    }
    if parts.is_empty() { name } else { format!("{name}: {}", parts.join(", ")) }
}

/// The parts of several formulas, each material once.
pub fn parts_of<'a>(formulas: impl Iterator<Item = &'a FormulaReport>) -> Vec<PartLine> {
    let mut parts: Vec<PartLine> = Vec::new();
    for part in formulas.flat_map(|formula| &formula.materials) {
        if parts.iter().all(|other| other.material != part.material) {
            parts.push(part.clone());
        }
    }
    parts
}

/// What is left to say after the limits: what was not checked, the sources,
/// what to keep in mind at the bench, and the caution.
pub fn after_limits(care: &Care, limits: &[&LimitLine], materials: &[PartLine], page: &Page, out: &mut String) {
    not_checked(care, page, out);
    bullets("Where the limits come from", sources(care, limits).into_iter(), page, out);
    bench(care, materials, page, out);
    caution(care, page, out);
}

fn not_checked(care: &Care, page: &Page, out: &mut String) {
    let silent = care.not_checked.iter().filter(|sentence| !sentence.starts_with("NO LIMITS"));
    bullets("Not checked", silent.map(|sentence| escaped(sentence)), page, out);
}

/// What to keep in mind at the bench, a line each.
pub fn bench(care: &Care, materials: &[PartLine], page: &Page, out: &mut String) {
    let specified = care.specifications.iter().map(specification);
    let handled = materials.iter().filter(|line| line.handling.is_some()).map(note);
    let light = light(&care.phototoxic).map(|sentence| escaped(&sentence));
    bullets("At the bench", specified.chain(light).chain(handled), page, out);
}

/// What a restriction wants said of a substance, and which oils bring it.
fn specification(line: &Specification) -> String {
    let within: Vec<String> = line.within.iter().map(|name| escaped(name)).collect();
    let within = if within.is_empty() { String::new() } else { format!(" (in {})", within.join(", ")) };
    format!("{}{within}: {}", escaped(&line.substance), escaped(&line.text))
}

/// The sources of the limits on what is in the formulas, each after the
/// substances that it speaks of, with what a limits file says of figures that
/// were verified in part.
fn sources(care: &Care, limits: &[&LimitLine]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut idle = 0;
    for source in &care.sources {
        let mut substances: Vec<String> = Vec::new();
        let mut notes: Vec<String> = Vec::new();
        for line in limits.iter().filter(|line| line.source == *source && line.use_percent > 0.0) {
            let substance = escaped(&line.substance);
            if let Verified::Text(text) = &line.verified.0 {
                let note = format!("{substance}: {}", escaped(text));
                if !notes.contains(&note) {
                    notes.push(note);
                }
            }
            if !substances.contains(&substance) {
                substances.push(substance);
            }
        }
        if substances.is_empty() {
            idle += 1;
            continue;
        }
        let notes = if notes.is_empty() { String::new() } else { format!(" ({})", notes.join("; ")) };
        lines.push(format!("{}: {}{notes}", substances.join("; "), escaped(source)));
    }
    match idle {
        0 => {}
        1 => lines.push("One more source is of nothing that is used here.".to_owned()),
        _ => lines.push(format!("{idle} more sources are of nothing that is used here.")),
    }
    lines
}

fn bullets(head: &str, lines: impl Iterator<Item = String>, page: &Page, out: &mut String) {
    let mut lines = lines.peekable();
    if lines.peek().is_none() {
        return;
    }
    page.head(out, head);
    for line in lines {
        page.paragraph(out, "  - ", 4, &line, Ink::Plain);
    }
}
