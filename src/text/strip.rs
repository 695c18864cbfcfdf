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
    let head = |line| Time { head: span(StageLine::hours(line)), line };
    let times: Vec<Time> = report.stages.iter().map(head).collect();
    measures(&times, page, &mut out);
    page.head(&mut out, "Who carries it: odour %, of what is left");
    shares(&times, page, &mut out);
    if page.full {
        page.head(&mut out, &format!("What it smells of, {}", report.head.on_scale()));
        profile(&times, page, &mut out);
        page.head(&mut out, "What is left of each, %");
        left(&times, page, &mut out);
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

/// A formula at one time, under a heading.
pub(super) struct Time<'a> {
    pub(super) head: String,
    pub(super) line: &'a StageLine,
}

/// A table with a column for each time.
fn table(times: &[Time<'_>]) -> Table {
    let mut sides = vec![Side::Left];
    sides.extend(vec![Side::Right; times.len()]);
    let mut table = Table::new(&sides);
    let heads = times.iter().map(|time| time.head.clone());
    table.row(Ink::Faint, std::iter::once(String::new()).chain(heads).collect());
    table
}

fn row(times: &[Time<'_>], table: &mut Table, name: &str, ink: Ink, cell: impl Fn(&StageLine) -> String) {
    table.row(ink, std::iter::once(name.to_owned()).chain(times.iter().map(|time| cell(time.line))).collect());
}

fn or_dash(value: Option<String>) -> String {
    value.unwrap_or_else(|| "-".to_owned())
}

/// How near it is at each time, and what is left.
pub(super) fn measures(times: &[Time<'_>], page: &Page, out: &mut String) {
    let mut table = table(times);
    row(times, &mut table, "Match on paper, %", Ink::Plain, |it| or_dash(it.fidelity.map(|it| rounded(it, 1))));
    row(times, &mut table, "  likely", Ink::Plain, |it| or_dash(it.range.map(|range| range.words())));
    row(times, &mut table, "Strength kept, %", Ink::Plain, |it| significant(it.kept, 2, 0, 2));
    row(times, &mut table, "Film left, % of mass", Ink::Plain, |it| significant(it.film_left, 2, 0, 2));
    table.write(out, page);
}

/// Who carries it.
pub(super) fn shares(times: &[Time<'_>], page: &Page, out: &mut String) {
    let mut table = table(times);
    let share = |stage: &StageLine, name: &str| stage.shares.0.iter().find(|(it, _)| it == name).map(|it| it.1);
    // Those that carry the opening first.
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in times.iter().flat_map(|time| &time.line.shares.0) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let most = |name: &str| times.iter().filter_map(|time| share(time.line, name)).fold(0.0, f64::max);
    let (shown, few): (Vec<&str>, Vec<&str>) = names.iter().partition(|name| page.full || most(name) >= CARRIES);
    for name in shown {
        row(times, &mut table, &escaped(name), Ink::Plain, |stage| {
            share(stage, name).map_or_else(|| "·".to_owned(), |share| rounded(share, 1))
        });
    }
    table.write(out, page);
    if !few.is_empty() {
        let text = format!("{} more, each below {CARRIES} % throughout", few.len());
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
}

/// What it smells of beside what is wanted.
pub(super) fn profile(times: &[Time<'_>], page: &Page, out: &mut String) {
    let mut names: Vec<&str> = Vec::new();
    for line in times.iter().flat_map(|time| &time.line.profile) {
        if !names.contains(&line.descriptor.as_str()) {
            names.push(&line.descriptor);
        }
    }
    let of = |stage: &StageLine, name: &str| stage.profile.iter().find(|it| it.descriptor == name).cloned();
    let wanted = |name: &str| -> Vec<Option<f64>> {
        times
            .iter()
            .filter(|time| !time.line.profile.is_empty())
            .map(|time| Some(of(time.line, name)?.target))
            .collect()
    };
    // One column says it where the same is wanted throughout.
    let is_one = names.iter().all(|name| wanted(name).windows(2).all(|pair| pair[0] == pair[1]));
    let mut sides = vec![Side::Left];
    sides.extend(vec![Side::Right; times.len() + usize::from(is_one)]);
    let mut table = Table::new(&sides);
    let mut heads = vec![String::new()];
    heads.extend(is_one.then(|| "wanted".to_owned()));
    heads.extend(times.iter().map(|time| time.head.clone()));
    table.row(Ink::Faint, heads);
    for name in names {
        let mut cells = vec![escaped(name)];
        cells.extend(is_one.then(|| or_dash(wanted(name).first().copied().flatten().map(|it| rounded(it, 1)))));
        cells.extend(times.iter().map(|time| {
            or_dash(of(time.line, name).map(|line| match is_one {
                true => rounded(line.blend, 1),
                false => format!("{} / {}", rounded(line.blend, 1), rounded(line.target, 1)),
            }))
        }));
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
    if !is_one {
        page.paragraph(out, "  ", 2, "First what it has, then what is wanted at that stage.", Ink::Faint);
    }
}

/// What is left of each material.
pub(super) fn left(times: &[Time<'_>], page: &Page, out: &mut String) {
    let mut table = table(times);
    let names = times.first().map(|time| &time.line.left.0);
    for (name, _) in names.into_iter().flatten() {
        row(times, &mut table, &escaped(name), Ink::Plain, |stage| {
            let left = stage.left.0.iter().find(|(it, _)| it == name).map_or(0.0, |it| it.1);
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
