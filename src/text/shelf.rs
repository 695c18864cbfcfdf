//! A shelf, on the page.

use super::page::{Ink, Page, shortened};
use super::table::{Side, Table, aligned};
use crate::analysis::palette::missing::Lack;
use crate::escape::escaped;
use crate::number::{plain, rounded, significant, tidy};
use crate::palette::Note;
use crate::results::shelf::{AxisLine, FindReport, Loading, ShelfReport};

/// Rows and names that the text shows; JSON and CSV have them all.
const ROWS: usize = 60;
const NAMES: usize = 8;
const TWINS: usize = 20;
const FOUND: usize = 15;

/// The whole report.
pub fn shelf(report: &ShelfReport, page: &Page) -> String {
    let mut out = String::new();
    let title = report.name.as_deref().filter(|name| !name.trim().is_empty()).unwrap_or(&report.palette);
    page.paragraph(&mut out, "", 0, &escaped(title), Ink::Strong);
    let carriers = report.materials.iter().filter(|line| line.strength == 0.0).count();
    let odorous = report.materials.len() - carriers;
    let text = format!(
        "{}, {}, {}",
        counted(odorous, "material", "materials"),
        counted(carriers, "carrier", "carriers"),
        counted(report.descriptors.len(), "descriptor", "descriptors")
    );
    page.paragraph(&mut out, "", 0, &text, Ink::Plain);
    if let Some(find) = &report.find {
        found(find, report, page, &mut out);
        return out;
    }
    materials(report, page, &mut out);
    descriptors(report, page, &mut out);
    missing(report, page, &mut out);
    twins(report, page, &mut out);
    map(report, page, &mut out);
    out
}

fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

fn money(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| significant(value, 3, 0, 6))
}

fn materials(report: &ShelfReport, page: &Page, out: &mut String) {
    page.head(out, "Materials: strength by dilution, price, price of a unit of strength, lasting");
    let lines = &report.materials[..report.materials.len().min(ROWS)];
    let column = |of: &dyn Fn(usize) -> String| aligned(&(0..lines.len()).map(of).collect::<Vec<_>>());
    let strength = column(&|at| plain(tidy(lines[at].strength)));
    let price = column(&|at| money(lines[at].price));
    let effect = column(&|at| money(lines[at].price_of_effect));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left]);
    let label = shortened(&escaped(&report.currency), 6);
    let head =
        [String::new(), "strength".into(), format!("{label}/kg"), "effect".into(), "hours".into(), String::new()];
    table.row(Ink::Faint, head.to_vec());
    for (at, line) in lines.iter().enumerate() {
        let lasting = line.lasting.map_or_else(|| "-".to_owned(), plain);
        let mut note = line.note.map_or("", Note::word).to_owned();
        if !line.have {
            note += if note.is_empty() { "to buy" } else { ", to buy" };
        }
        let cells =
            [escaped(&line.material), strength[at].clone(), price[at].clone(), effect[at].clone(), lasting, note];
        table.row(Ink::Plain, cells.to_vec());
    }
    table.write(out, page);
    if report.materials.len() > ROWS {
        let more = report.materials.len() - ROWS;
        page.paragraph(out, "  ", 2, &format!("{more} more stand in --format csv and json."), Ink::Plain);
    }
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
        page.paragraph(
            out,
            "  ",
            2,
            &format!("{} more stand in the JSON.", report.descriptors.len() - ROWS),
            Ink::Plain,
        );
    }
    if !report.single.is_empty() {
        let text = format!("Only one material each carries: {}.", names(&report.single));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    if !report.unused.is_empty() {
        page.paragraph(out, "  ", 2, &format!("Nothing carries: {}.", names(&report.unused)), Ink::Plain);
    }
}

fn names(all: &[String]) -> String {
    let shown: Vec<String> = all.iter().take(2 * NAMES).map(|name| escaped(name)).collect();
    let more = all.len() - shown.len();
    if more > 0 { format!("{} and {more} more", shown.join(", ")) } else { shown.join(", ") }
}

fn missing(report: &ShelfReport, page: &Page, out: &mut String) {
    page.head(out, "What is missing");
    if report.missing.is_empty() {
        let text = "Nothing: every material has a price, scores and a CAS number, every natural its constituents.";
        page.paragraph(out, "  ", 2, text, Ink::Good);
    }
    for line in &report.missing {
        let (what, why) = match line.what {
            Lack::Price => ("a price", "no budget can be kept"),
            Lack::Cas => ("a CAS number", "limits pass it by"),
            Lack::Scores => ("scores", "it adds to no match"),
            Lack::Constituents => ("constituents", "limits are not fully checked"),
        };
        let text = format!("{} without {what} ({why}): {}.", line.materials.len(), names(&line.materials));
        page.paragraph(out, "  - ", 4, &text, Ink::Plain);
    }
}

fn twins(report: &ShelfReport, page: &Page, out: &mut String) {
    page.head(out, &format!("Near twins: characters that are alike by at least {} %", plain(report.twins_from)));
    if report.twins.is_empty() {
        page.paragraph(out, "  ", 2, "None.", Ink::Plain);
    }
    for line in report.twins.iter().take(TWINS) {
        let (one, other) = (escaped(&line.material), escaped(&line.other));
        let text = match line.saves_percent {
            Some(saves) if saves >= 0.5 => {
                format!("{one} for {other}: its effect costs {} % less", rounded(saves, 0))
            }
            Some(_) => format!("{one} and {other}: the effect costs the same"),
            None => format!("{one} and {other}: a price is missing"),
        };
        let parts = format!("; {} parts for 1", significant(line.parts_for_one, 2, 0, 6));
        // Alike is not the same: 99.6 is no 100.
        let alike = format!("  {:>5} %  ", rounded((line.alike * 10.0 + 1e-9).floor() / 10.0, 1));
        page.paragraph(out, &alike, 11, &format!("{text}{parts}"), Ink::Plain);
    }
    if report.twins.len() > TWINS {
        page.paragraph(out, "  ", 2, &format!("{} more stand in the JSON.", report.twins.len() - TWINS), Ink::Plain);
    }
    if !report.twins.is_empty() {
        let text = "Alike is what the scores have in common, whatever the strength. Smell them side by side.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
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
    for (at, line) in find.found.iter().take(FOUND).enumerate() {
        let scores: Vec<String> =
            line.scores.iter().map(|word| format!("{} {}", escaped(&word.descriptor), plain(word.score))).collect();
        let unwanted = if line.unwanted_percent <= 0.0 {
            String::new()
        } else {
            format!(", {} % not wanted", rounded(line.unwanted_percent, 0))
        };
        let price = match line.price_of_effect {
            Some(price) => format!("; effect {} {}/kg", significant(price, 3, 0, 6), escaped(&report.currency)),
            None => String::new(),
        };
        let text = format!(
            "{}: {}; {} % wanted{unwanted}{price}",
            escaped(&line.material),
            scores.join(", "),
            rounded(line.wanted_percent, 0)
        );
        page.paragraph(out, &format!("  {:>2}. {:>4} %  ", at + 1, rounded(line.fit, 0)), 14, &text, Ink::Plain);
    }
    if find.found.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing on the shelf smells of it.", Ink::Alert);
        return;
    }
    if find.found.len() > FOUND {
        page.paragraph(out, "  ", 2, &format!("{} more stand in the JSON.", find.found.len() - FOUND), Ink::Plain);
    }
    let text = "The figure in front is the match of the material alone with the wanted words in equal parts, less the \
                part of its character that is not wanted.";
    page.paragraph(out, "  ", 2, text, Ink::Plain);
}
