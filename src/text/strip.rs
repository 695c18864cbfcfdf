//! A formula on a blotter, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table};
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::results::course::Course;
use crate::results::strip::{StageLine, StripReport, TimeLine};

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
    let times: Vec<Time> = report.stages.iter().map(|time| Time { head: called(time), line: &time.line }).collect();
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

/// What a time is called: the stage that it is, if it is one, and when.
pub fn called(time: &TimeLine) -> String {
    let at = span(time.line.hours());
    time.name.as_ref().map_or(at.clone(), |name| format!("{}, {at}", escaped(name)))
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

/// A time in whole minutes, as a clock has it: `1 h 20 min`, `3 days 4 h`.
fn clock(minutes: f64) -> String {
    let two = |one: u64, unit: &str, other: u64, smaller: &str| match other {
        0 => format!("{one} {unit}"),
        other => format!("{one} {unit} {other} {smaller}"),
    };
    match minutes.round() as u64 {
        minutes @ 0..60 => format!("{minutes} min"),
        minutes if minutes < 72 * 60 => two(minutes / 60, "h", minutes % 60, "min"),
        minutes => {
            let hours = (minutes + 30) / 60;
            two(hours / 24, "days", hours % 24, "h")
        }
    }
}

/// A time of a course beside its stages: `1 h 20 min, between heart and drydown`.
pub fn moment(course: &Course, minutes: f64) -> String {
    let stages: Vec<(f64, String)> =
        course.wanted.iter().filter_map(|line| Some((line.minutes?, escaped(line.stage.as_ref()?)))).collect();
    let is_at = |at: f64| (at - minutes).abs() <= 1e-6 * at.max(1.0);
    let after = stages.partition_point(|(at, _)| *at < minutes);
    let at = stages.iter().find(|(at, _)| is_at(*at)).map(|(_, name)| name);
    let place = match (at, after.checked_sub(1).map(|it| &stages[it].1), stages.get(after)) {
        (Some(name), ..) => name.clone(),
        (None, Some(one), Some((_, other))) => format!("between {one} and {other}"),
        (None, None, Some((_, first))) => format!("before {first}"),
        (None, Some(last), None) => format!("after {last}"),
        (None, None, None) => return clock(minutes),
    };
    format!("{}, {place}", clock(minutes))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::results::course::WantedLine;

    #[test]
    fn times_are_said_beside_their_stages() {
        let line = |(name, minutes): (&str, f64)| WantedLine {
            stage: Some(name.to_owned()),
            minutes: Some(minutes),
            target: Vec::new(),
        };
        let course = |stages: &[(&str, f64)]| Course {
            course_view: None,
            descriptors: Vec::new(),
            wanted: stages.iter().copied().map(line).collect(),
            course: Vec::new(),
        };
        let three = course(&[("opening", 5.0), ("heart", 60.0), ("drydown", 480.0)]);
        assert_eq!(moment(&three, 80.0), "1 h 20 min, between heart and drydown");
        assert_eq!(moment(&three, 60.0), "1 h, heart");
        assert_eq!(moment(&three, 1.2), "1 min, before opening");
        assert_eq!(moment(&three, 4320.0), "3 days, after drydown");
        assert_eq!(moment(&three, 4559.0), "3 days 4 h, after drydown");
        assert_eq!(moment(&course(&[]), 59.6), "1 h");
    }
}
