//! A formula on a blotter, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table};
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::results::strip::{StageLine, StripReport};

/// Materials that carry less than this of the odour at every time are counted, not
/// named, in the short form; percent.
const CARRIES: f64 = 1.0;

/// The whole answer.
pub fn strip(report: &StripReport, page: &Page) -> String {
    let mut out = String::new();
    page.paragraph(&mut out, "", 0, &escaped(&report.name), Ink::Strong);
    let dipped =
        if report.percent == 100.0 { "undiluted".to_owned() } else { format!("at {} %", plain(report.percent)) };
    let whole = match report.life_hours {
        Some(hours) => format!("; the last of it is gone after {}", span(hours)),
        None => String::new(),
    };
    page.paragraph(&mut out, "", 0, &format!("On a blotter, dipped {dipped}{whole}."), Ink::Plain);
    out.push('\n');
    measures(report, page, &mut out);
    page.head(&mut out, "Who carries it: odour %, of what is left");
    shares(report, page, &mut out);
    if page.full {
        page.head(&mut out, &format!("What it smells of, {}", report.head.on_scale()));
        profile(report, page, &mut out);
        page.head(&mut out, "What is left of each, %");
        left(report, page, &mut out);
    }
    page.head(&mut out, "Gone, but for a hundredth");
    page.paragraph(&mut out, "  ", 2, &gone(report), Ink::Plain);
    out.push('\n');
    for note in &report.notes {
        page.paragraph(&mut out, "", 0, note, Ink::Faint);
    }
    page.full_adds(&mut out, "what it smells of at each time and what is left of each material");
    out
}

/// A time as people say it: minutes, hours, days.
pub fn span(hours: f64) -> String {
    let (value, unit) = match hours {
        hours if hours < 1.0 => (hours * 60.0, "min"),
        hours if hours < 72.0 => (hours, "h"),
        hours => (hours / 24.0, "days"),
    };
    let text = significant(value, 2, 0, 1);
    format!("{} {unit}", text.strip_suffix(".0").unwrap_or(&text))
}

/// A table with a column for each time.
fn table(report: &StripReport) -> Table {
    let mut sides = vec![Side::Left];
    sides.extend(vec![Side::Right; report.stages.len()]);
    let mut table = Table::new(&sides);
    let heads = report.stages.iter().map(|stage| span(stage.minutes / 60.0));
    table.row(Ink::Faint, std::iter::once(String::new()).chain(heads).collect());
    table
}

fn row(report: &StripReport, table: &mut Table, name: &str, ink: Ink, cell: impl Fn(&StageLine) -> String) {
    table.row(ink, std::iter::once(name.to_owned()).chain(report.stages.iter().map(cell)).collect());
}

fn or_dash(value: Option<String>) -> String {
    value.unwrap_or_else(|| "-".to_owned())
}

fn measures(report: &StripReport, page: &Page, out: &mut String) {
    let mut table = table(report);
    row(report, &mut table, "Match on paper, %", Ink::Plain, |it| or_dash(it.fidelity.map(|it| rounded(it, 1))));
    row(report, &mut table, "  likely", Ink::Plain, |it| or_dash(it.range.map(|range| range.words())));
    row(report, &mut table, "Strength kept, %", Ink::Plain, |it| significant(it.kept, 2, 0, 2));
    row(report, &mut table, "Film left, % of mass", Ink::Plain, |it| significant(it.film_left, 2, 0, 2));
    table.write(out, page);
}

fn shares(report: &StripReport, page: &Page, out: &mut String) {
    let mut table = table(report);
    let share = |stage: &StageLine, name: &str| stage.shares.0.iter().find(|(it, _)| it == name).map(|it| it.1);
    // Those that carry the opening first.
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in report.stages.iter().flat_map(|stage| &stage.shares.0) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let most = |name: &str| report.stages.iter().filter_map(|stage| share(stage, name)).fold(0.0, f64::max);
    let (shown, few): (Vec<&str>, Vec<&str>) = names.iter().partition(|name| page.full || most(name) >= CARRIES);
    for name in shown {
        row(report, &mut table, &escaped(name), Ink::Plain, |stage| {
            share(stage, name).map_or_else(|| "·".to_owned(), |share| rounded(share, 1))
        });
    }
    table.write(out, page);
    if !few.is_empty() {
        let text = format!("{} more, each below {CARRIES} % throughout", few.len());
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
}

fn profile(report: &StripReport, page: &Page, out: &mut String) {
    let mut sides = vec![Side::Left, Side::Right];
    sides.extend(vec![Side::Right; report.stages.len()]);
    let mut table = Table::new(&sides);
    let heads = report.stages.iter().map(|stage| span(stage.minutes / 60.0));
    table.row(Ink::Faint, [String::new(), "wanted".to_owned()].into_iter().chain(heads).collect());
    let Some(first) = report.stages.iter().find(|stage| !stage.profile.is_empty()) else { return };
    for line in &first.profile {
        let of =
            |stage: &StageLine| stage.profile.iter().find(|it| it.descriptor == line.descriptor).map(|it| it.blend);
        let cells = report.stages.iter().map(|stage| or_dash(of(stage).map(|blend| rounded(blend, 1))));
        table.row(Ink::Plain, [escaped(&line.descriptor), rounded(line.target, 1)].into_iter().chain(cells).collect());
    }
    table.write(out, page);
}

fn left(report: &StripReport, page: &Page, out: &mut String) {
    let mut table = table(report);
    for line in &report.materials {
        row(report, &mut table, &escaped(&line.material), Ink::Plain, |stage| {
            let left = stage.left.0.iter().find(|(name, _)| *name == line.material).map_or(0.0, |it| it.1);
            significant(left, 2, 0, 2)
        });
    }
    table.write(out, page);
}

/// When each material is gone, the first first.
fn gone(report: &StripReport) -> String {
    let one = |line: &crate::results::strip::DryingLine| match line.gone_hours {
        Some(hours) => format!("{} after {}", escaped(&line.material), span(hours)),
        None => format!("{} never", escaped(&line.material)),
    };
    let all: Vec<String> = report.materials.iter().map(one).collect();
    format!("{}.", all.join(", "))
}
