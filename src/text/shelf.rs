//! A shelf, on the page.

use super::page::{Ink, Page, shortened};
use super::table::{Side, Table, aligned};
use crate::analysis::palette::missing::Lack;
use crate::escape::escaped;
use crate::number::{plain, rounded, significant, tidy};
use crate::palette::Note;
use crate::results::shelf::{AxisLine, FindReport, Loading, ShelfReport};
use crate::sentences::said::{FOOT, marked};

/// Rows and names that the text shows; JSON and CSV have them all.
const ROWS: usize = 60;
const NAMES: usize = 8;
const TWINS: usize = 20;
/// Likewise in the short form.
const FEW_ROWS: usize = 24;
const FEW_TWINS: usize = 4;
const FEW_OF_A_NOTE: usize = 5;
const FEW_FOUND: usize = 8;
/// A shelf of at most so many materials is short enough to be listed.
const SMALL: usize = 12;

/// The whole report, or what is needed first.
pub fn shelf(report: &ShelfReport, page: &Page) -> String {
    let mut out = String::new();
    let title = report.name.as_deref().filter(|name| !name.trim().is_empty()).unwrap_or(&report.palette);
    page.paragraph(&mut out, "", 0, &escaped(title), Ink::Strong);
    page.paragraph(&mut out, "", 0, &counts(report), Ink::Plain);
    if let Some(find) = &report.find {
        found(find, report, page, &mut out);
        return out;
    }
    if report.note.is_some() {
        materials(report, page, &mut out);
        return out;
    }
    if page.full {
        materials(report, page, &mut out);
        descriptors(report, page, &mut out);
        missing(report, page, &mut out);
        twins(report, page, &mut out);
        map(report, page, &mut out);
        return out;
    }
    missing(report, page, &mut out);
    twins(report, page, &mut out);
    if report.materials.len() <= SMALL {
        materials(report, page, &mut out);
    } else {
        by_note(report, page, &mut out);
    }
    carried(report, page, &mut out);
    let more = "every material with its strength, price, cost per unit of strength and tenacity, who carries each \
                descriptor, and in what the materials differ most; --note top lists one note, --find rosy,green ranks \
                by words";
    page.full_adds(&mut out, more);
    out
}

/// How many there are of everything.
fn counts(report: &ShelfReport) -> String {
    let solvents = report.materials.iter().filter(|line| line.strength == 0.0).count();
    let odorous = report.materials.len() - solvents;
    let to_buy = report.materials.iter().filter(|line| !line.have).count();
    let to_buy = if to_buy > 0 { format!("; {to_buy} of them to buy") } else { String::new() };
    if let Some(note) = report.note {
        let (what, many) = (note_name(note), note_name(note).to_owned() + " notes");
        return format!("{}{to_buy}", counted(odorous, &format!("{what} note"), &many));
    }
    format!(
        "{}, {}, {}{to_buy}",
        counted(odorous, "odour material", "odour materials"),
        counted(solvents, "solvent", "solvents"),
        counted(report.descriptors.len(), "descriptor", "descriptors")
    )
}

/// The name of a note among perfumers; files say when it is smelled.
const fn note_name(note: Note) -> &'static str {
    match note {
        Note::Opening => "top",
        Note::Heart => "heart",
        Note::Drydown => "base",
    }
}

fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn money(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| significant(value, 3, 0, 6))
}

/// A strength, marked where it is no number.
fn shown(strength: f64, said: &Option<String>) -> String {
    match said {
        Some(_) => marked(&significant(strength, 2, 0, 6), true),
        None => plain(tidy(strength)),
    }
}

fn materials(report: &ShelfReport, page: &Page, out: &mut String) {
    page.head(out, "Materials: strength by dilution, price, cost per unit of strength, tenacity");
    let rows = if page.full { ROWS } else { FEW_ROWS };
    let lines = &report.materials[..report.materials.len().min(rows)];
    let column = |of: &dyn Fn(usize) -> String| aligned(&(0..lines.len()).map(of).collect::<Vec<_>>());
    let strength = column(&|at| shown(lines[at].strength, &lines[at].strength_said));
    let price = column(&|at| money(lines[at].price));
    let effect = column(&|at| money(lines[at].price_of_effect));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left]);
    let label = shortened(&escaped(&report.currency), 6);
    let head =
        [String::new(), "strength".into(), format!("{label}/kg"), "per unit".into(), "hours".into(), String::new()];
    table.row(Ink::Faint, head.to_vec());
    for (at, line) in lines.iter().enumerate() {
        let tenacity = line.lasting.map_or_else(|| "-".to_owned(), plain);
        let note = line.note.filter(|_| report.note.is_none()).map(note_name);
        let words = note.into_iter().chain((!line.have).then_some("to buy")).map(str::to_owned);
        let words: Vec<String> = words.chain(line.strength_said.as_deref().map(escaped)).collect();
        let cells = [
            escaped(&line.material),
            strength[at].clone(),
            price[at].clone(),
            effect[at].clone(),
            tenacity,
            words.join(", "),
        ];
        table.row(Ink::Plain, cells.to_vec());
    }
    table.write(out, page);
    if lines.iter().any(|line| line.strength_said.is_some()) {
        page.paragraph(out, "  ", 2, FOOT, Ink::Plain);
    }
    if report.materials.len() > rows {
        let more = report.materials.len() - rows;
        let place = if page.full || report.materials.len() > ROWS { "in the CSV and JSON" } else { "with --full" };
        let text = format!("{more} more {place}.");
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
}

/// The odour materials of each note, the strongest first.
fn by_note(report: &ShelfReport, page: &Page, out: &mut String) {
    let mut lines: Vec<_> = report.materials.iter().filter(|line| line.strength > 0.0).collect();
    lines.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    page.head(out, "By note, the strongest first");
    for note in [Some(Note::Opening), Some(Note::Heart), Some(Note::Drydown), None] {
        let what = note.map_or("no note", note_name);
        let own: Vec<_> = lines.iter().filter(|line| line.note == note).collect();
        if own.is_empty() {
            continue;
        }
        let named = own.iter().take(FEW_OF_A_NOTE);
        let named: Vec<String> = named
            .map(|line| format!("{} {}", escaped(&line.material), shown(line.strength, &line.strength_said)))
            .collect();
        let more = if own.len() > FEW_OF_A_NOTE { ", ..." } else { "" };
        let first = format!("  {what:<8}{:>3}  ", own.len());
        page.paragraph(out, &first, super::page::width(&first), &format!("{}{more}", named.join(", ")), Ink::Plain);
    }
}

/// How many materials carry each descriptor.
fn carried(report: &ShelfReport, page: &Page, out: &mut String) {
    let mut lines: Vec<_> = report.descriptors.iter().filter(|line| !line.materials.is_empty()).collect();
    lines.sort_by_key(|line| std::cmp::Reverse(line.materials.len()));
    page.head(out, "Descriptors, and how many materials carry each");
    let all: Vec<String> = lines
        .iter()
        .take(ROWS / 2)
        .map(|line| format!("{} {}", escaped(&line.descriptor), line.materials.len()))
        .collect();
    let more = if lines.len() > ROWS / 2 { ", ..." } else { "" };
    page.paragraph(out, "  ", 2, &format!("{}{more}", all.join(", ")), Ink::Plain);
}

fn descriptors(report: &ShelfReport, page: &Page, out: &mut String) {
    page.head(out, "By descriptor: how many carry it, and the highest scores");
    for line in report.descriptors.iter().take(ROWS).filter(|line| !line.materials.is_empty()) {
        let first = format!("  {:<14}{:>4}  ", shortened(&escaped(&line.descriptor), 13), line.materials.len());
        let names: Vec<String> = line
            .materials
            .iter()
            .take(NAMES)
            .map(|it| format!("{} {}", escaped(&it.material), plain(it.score)))
            .collect();
        let more = if line.materials.len() > NAMES { ", ..." } else { "" };
        page.paragraph(out, &first, super::page::width(&first), &format!("{}{more}", names.join(", ")), Ink::Plain);
    }
    if report.descriptors.len() > ROWS {
        let text = format!("{} more are in the JSON.", report.descriptors.len() - ROWS);
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
}

fn names(all: &[String]) -> String {
    let shown: Vec<String> = all.iter().take(2 * NAMES).map(|name| escaped(name)).collect();
    let more = all.len() - shown.len();
    if more > 0 { format!("{} and {more} more", shown.join(", ")) } else { shown.join(", ") }
}

fn missing(report: &ShelfReport, page: &Page, out: &mut String) {
    page.head(out, "Gaps");
    if !report.single.is_empty() {
        let text = format!("Carried by one material only: {}.", names(&report.single));
        page.paragraph(out, "  - ", 4, &text, Ink::Alert);
    }
    if !report.unused.is_empty() {
        page.paragraph(out, "  - ", 4, &format!("Carried by none: {}.", names(&report.unused)), Ink::Plain);
    }
    if report.missing.is_empty() {
        let text = "Every material has a price, scores and a CAS number, every natural its constituents.";
        page.paragraph(out, "  ", 2, text, Ink::Good);
    }
    for line in &report.missing {
        let (what, why) = match line.what {
            Lack::Price => ("a price", "no budget can be kept"),
            Lack::Cas => ("a CAS number", "no limit is checked for it"),
            Lack::Scores => ("scores", "it adds to no match"),
            Lack::Constituents => ("constituents", "limits are not fully checked"),
        };
        let text = format!("{} without {what} ({why}): {}.", line.materials.len(), names(&line.materials));
        page.paragraph(out, "  - ", 4, &text, Ink::Plain);
    }
}

fn twins(report: &ShelfReport, page: &Page, out: &mut String) {
    let least = plain(report.twins_from);
    page.head(out, &format!("Near twins: at least {least} % of the character in common, whatever the strength"));
    if report.twins.is_empty() {
        page.paragraph(out, "  ", 2, "None.", Ink::Plain);
    }
    let most = if page.full { TWINS } else { FEW_TWINS };
    for line in report.twins.iter().take(most) {
        let (one, other) = (escaped(&line.material), escaped(&line.other));
        let text = match line.saves_percent {
            Some(saves) if saves >= 0.5 => {
                format!("{one} for {other}: {} % cheaper at equal strength", rounded(saves, 0))
            }
            Some(_) => format!("{one} for {other}: the same cost at equal strength"),
            None => format!("{one} for {other}: a price is missing"),
        };
        let is_loose = |name: &str| report.materials.iter().any(|it| it.material == name && it.strength_said.is_some());
        let parts = significant(line.parts_for_one, 2, 0, 6);
        let parts = marked(&parts, is_loose(&line.material) || is_loose(&line.other));
        let parts = format!("; {parts} parts replace 1");
        // Alike is not the same: 99.6 is no 100.
        let alike = format!("  {:>5} %  ", rounded((line.alike * 10.0 + 1e-9).floor() / 10.0, 1));
        page.paragraph(out, &alike, 11, &format!("{text}{parts}"), Ink::Plain);
    }
    if report.twins.len() > most {
        let place = if page.full || report.twins.len() > TWINS { "in the JSON" } else { "with --full" };
        let text = format!("{} more pairs {place}.", report.twins.len() - most);
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if !report.twins.is_empty() {
        page.paragraph(out, "  ", 2, "Smell them side by side.", Ink::Plain);
    }
}

/// The first descriptors of an end of an axis.
fn end(loadings: &[Loading]) -> String {
    let words: Vec<String> = loadings.iter().take(3).map(|it| escaped(&it.descriptor)).collect();
    if words.is_empty() { "nothing".to_owned() } else { words.join(", ") }
}

fn map(report: &ShelfReport, page: &Page, out: &mut String) {
    if report.map.axes.is_empty() {
        return;
    }
    page.head(out, "In what the materials differ most");
    for (axis, name) in report.map.axes.iter().zip(["first", "second"]) {
        let AxisLine { explains_percent, more, less } = axis;
        let text = format!("the {name} axis: from {} to {}", end(less), end(more));
        page.paragraph(out, &format!("  {:>5} %  ", rounded(*explains_percent, 1)), 11, &text, Ink::Plain);
    }
    page.paragraph(out, "  ", 2, "--plot draws the map.", Ink::Plain);
}

fn found(find: &FindReport, report: &ShelfReport, page: &Page, out: &mut String) {
    let wanted: Vec<String> = find.wanted.iter().map(|word| escaped(word)).collect();
    let not = if find.unwanted.is_empty() {
        String::new()
    } else {
        format!(", not {}", find.unwanted.iter().map(|word| escaped(word)).collect::<Vec<_>>().join(", "))
    };
    page.head(out, &format!("Nearest to {}{not}", wanted.join(" and ")));
    let most = if page.full { ROWS } else { FEW_FOUND };
    for (at, line) in find.found.iter().take(most).enumerate() {
        let scores: Vec<String> =
            line.scores.iter().map(|word| format!("{} {}", escaped(&word.descriptor), plain(word.score))).collect();
        // Where nothing is unwanted the figure in front says it all.
        let unwanted = if line.unwanted_percent <= 0.0 {
            String::new()
        } else {
            let (wanted, not) = (rounded(line.wanted_percent, 0), rounded(line.unwanted_percent, 0));
            format!("; {wanted} % of its character wanted, {not} % not wanted")
        };
        let price = match line.price_of_effect {
            Some(price) => {
                let currency = escaped(&report.currency);
                format!("; {} {currency}/kg per unit of strength", significant(price, 3, 0, 6))
            }
            None => String::new(),
        };
        let text = format!("{}: {}{unwanted}{price}", escaped(&line.material), scores.join(", "));
        page.paragraph(out, &format!("  {:>2}. {:>4} %  ", at + 1, rounded(line.fit, 0)), 14, &text, Ink::Plain);
    }
    if find.found.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing on the shelf smells of it.", Ink::Alert);
        return;
    }
    if find.found.len() > most {
        let place = if page.full { "in the CSV and JSON" } else { "with --full" };
        page.paragraph(out, "  ", 2, &format!("{} more {place}.", find.found.len() - most), Ink::Plain);
    }
    let text = "The figure in front is the match of the material alone with the wanted words in equal parts, less the \
                part of its character that is not wanted.";
    page.paragraph(out, "  ", 2, text, Ink::Plain);
}
