//! `journal` for reading.

use super::in_short::few;
use super::page::{Ink, Page, padded, shortened, width};
use super::table::{Side, Table};
use crate::analysis::journal::WhyDue;
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::portable::Portable;
use crate::results::journal::{DueLine, EntryLine, JournalReport, OlderNumber};
use crate::trials::Medium;

/// Older numbers that are told of a trial.
const OLDER: usize = 3;
/// Scores that are told of a trial; JSON and CSV have them all.
const SCORES: usize = 6;
/// Blanks for every step down the tree, and how far they go.
const STEP: usize = 2;
const DEEPEST: usize = 10;

/// Trials of the tree in the short form; more are there with `--full`.
const ROWS: usize = 16;
/// The least columns for what a trial changes.
const LEAST_CHANGES: usize = 16;

/// What is due, the best mod and the tree; with everything that was smelled the
/// trials one by one and the way to the target.
pub fn journal(report: &JournalReport, page: &Page) -> String {
    let mut out = String::new();
    let name = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&report.trials);
    page.paragraph(&mut out, "", 0, &format!("Trials: {}", escaped(name)), Ink::Strong);
    if report.entries.is_empty() {
        page.paragraph(&mut out, "", 0, "None yet. --help says what a trial holds.", Ink::Plain);
        return out;
    }
    if page.full {
        for entry in &report.entries {
            out.push('\n');
            one(entry, page, &mut out);
        }
        way(report, page, &mut out);
        due(report, page, &mut out);
        return out;
    }
    page.paragraph(&mut out, "", 0, &counted(report), Ink::Plain);
    best(report, page, &mut out);
    due(report, page, &mut out);
    mods(report, page, &mut out);
    let older: Vec<String> =
        report.entries.iter().filter(|entry| !entry.older_numbers.is_empty()).map(|it| escaped(&it.code)).collect();
    if !older.is_empty() {
        let text = format!("Trials judged under older numbers of the palette: {}.", few(&older, ROWS));
        page.paragraph(&mut out, "  ", 2, &text, Ink::Alert);
    }
    page.full_adds(&mut out, "every trial with its formula, how it was smelled, its scores and your remarks");
    out
}

/// How many trials there are, and from when.
fn counted(report: &JournalReport) -> String {
    let count = report.entries.len();
    let many = if count == 1 { "1 trial".to_owned() } else { format!("{count} trials") };
    let mut dates: Vec<&str> = report.entries.iter().filter_map(|entry| entry.date.as_deref()).collect();
    dates.sort_unstable();
    match (dates.first(), dates.last()) {
        (Some(first), Some(last)) if first != last => format!("{many}, {first} to {last}"),
        (Some(day), _) => format!("{many}, {day}"),
        _ => many,
    }
}

/// The mod that came nearest to the target by the nose.
fn nearest(report: &JournalReport) -> Option<&EntryLine> {
    let smelled = report.entries.iter().filter(|entry| entry.materials > 1 && entry.smelled_fidelity.is_some());
    smelled.reduce(|best, entry| if entry.smelled_fidelity > best.smelled_fidelity { entry } else { best })
}

fn best(report: &JournalReport, page: &Page, out: &mut String) {
    if report.brief.is_none() {
        return page.paragraph(out, "", 0, "--brief says how near to a target each came.", Ink::Plain);
    }
    let Some((best, fidelity)) = nearest(report).and_then(|best| Some((best, best.smelled_fidelity?))) else {
        return page.paragraph(out, "", 0, "Nothing of the target was judged yet.", Ink::Plain);
    };
    let judged = best
        .judged_percent
        .map_or(String::new(), |judged| format!(" (judged on {} % of the target)", rounded(judged, 0)));
    let computed = best.computed_fidelity.map_or(String::new(), |it| format!("; computed {} %", rounded(it, 1)));
    let text = format!("Nearest by your nose: {}, {} %{judged}{computed}.", escaped(&best.code), rounded(fidelity, 0));
    page.paragraph(out, "", 0, &text, Ink::Good);
}

/// The tree, a line for each trial: how near it came and what it changed.
fn mods(report: &JournalReport, page: &Page, out: &mut String) {
    page.head(out, "Each under the one that it changes, doses in ‰ neat");
    let from = report.entries.len().saturating_sub(ROWS);
    let entries = &report.entries[from..];
    let lead = |entry: &EntryLine| format!("{}{}", " ".repeat(STEP * entry.depth.min(DEEPEST)), escaped(&entry.code));
    let widest = entries.iter().map(|entry| width(&lead(entry))).max().unwrap_or(0).min(24);
    let is_held = report.brief.is_some();
    let figures = |smelled: &str, computed: &str| match is_held {
        true => format!("{smelled:>7}  {computed:>8}  "),
        false => String::new(),
    };
    if is_held {
        let head = format!("  {}  {:<10}  {}", " ".repeat(widest), "", figures("smelled", "computed"));
        *out += &format!("{}\n", page.ink(head.trim_end(), Ink::Faint));
    }
    let percent = |number: Option<f64>, decimals: usize| {
        number.map_or_else(|| "·".to_owned(), |number| format!("{} %", rounded(number, decimals)))
    };
    let nearest = nearest(report).map(|entry| &entry.code);
    for entry in entries {
        // A single material is on the way to nothing.
        let [smelled, computed] =
            [entry.smelled_fidelity, entry.computed_fidelity].map(|figure| figure.filter(|_| entry.materials > 1));
        let first = format!(
            "  {}  {:<10}  {}",
            padded(&shortened(&lead(entry), widest), widest),
            entry.date.as_deref().unwrap_or_default(),
            figures(&percent(smelled, 0), &percent(computed, 1))
        );
        let room = page.width.saturating_sub(width(&first)).max(LEAST_CHANGES);
        let ink = if nearest == Some(&entry.code) { Ink::Good } else { Ink::Plain };
        *out += &format!("{first}{}\n", page.ink(&shortened(&in_a_line(entry), room), ink));
    }
    if from > 0 {
        page.paragraph(out, "  ", 2, &format!("{from} more before these."), Ink::Plain);
    }
}

/// What a trial is beside the one before it.
fn in_a_line(entry: &EntryLine) -> String {
    let unsmelled = if entry.smelled.is_empty() && entry.strength.is_none() { "not smelled yet; " } else { "" };
    if entry.again {
        return format!("{unsmelled}the same, smelled again");
    }
    if entry.from.is_none() {
        let what = match &entry.changes[..] {
            [one] => escaped(&one.material),
            parts => format!("{} materials", parts.len()),
        };
        return format!("{unsmelled}{what}");
    }
    let mut changes: Vec<_> = entry.changes.iter().collect();
    let ratio = |before: f64, after: f64| {
        if before.min(after) > 0.0 { (after / before).logarithm().abs() } else { f64::INFINITY }
    };
    // What changes most in proportion first: that is what was tried.
    changes.sort_by(|a, b| ratio(b.before, b.after).total_cmp(&ratio(a.before, a.after)));
    let told = changes.iter().map(|it| format!("{} {} → {}", escaped(&it.material), dose(it.before), dose(it.after)));
    format!("{unsmelled}{}", told.collect::<Vec<_>>().join(", "))
}

fn one(entry: &EntryLine, page: &Page, out: &mut String) {
    let indent = STEP * entry.depth.min(DEEPEST);
    let lead = " ".repeat(indent);
    let inner = indent + STEP;
    let mut head = vec![escaped(&entry.code)];
    if let Some(from) = &entry.from {
        head.push(format!("from {}", escaped(from)));
    }
    head.extend(entry.date.clone());
    head.extend(entry.minutes.map(|minutes| format!("{} after dipping", time(minutes))));
    head.extend(entry.film_left.map(|left| match left {
        left if left > 0.0 => format!("{} % of the film left", rounded(left, 0)),
        _ => "the film gone by the numbers".to_owned(),
    }));
    head.extend(entry.age_days.map(age));
    head.extend(entry.medium.map(|medium| match medium {
        Medium::Blotter => "on a blotter".to_owned(),
        Medium::Product => "in the product".to_owned(),
        Medium::Skin => "on skin".to_owned(),
    }));
    head.extend(entry.percent.map(|percent| format!("at {} %", plain(percent))));
    page.paragraph(out, &lead, inner, &head.join(", "), Ink::Strong);
    let pad = " ".repeat(inner);
    if entry.again {
        page.paragraph(out, &pad, inner + STEP, "the same formula, smelled again", Ink::Plain);
    } else if entry.from.is_some() {
        let changes: Vec<String> = entry
            .changes
            .iter()
            .map(|change| format!("{} {} → {}", escaped(&change.material), dose(change.before), dose(change.after)))
            .collect();
        page.paragraph(out, &pad, inner + STEP, &format!("{} ‰", changes.join(", ")), Ink::Plain);
    } else {
        let parts: Vec<String> =
            entry.changes.iter().map(|part| format!("{} {}", escaped(&part.material), dose(part.after))).collect();
        page.paragraph(out, &pad, inner + STEP, &format!("{} ‰", parts.join(", ")), Ink::Plain);
    }
    if let Some(it) = &entry.batch {
        let name = it.label.as_deref().filter(|label| !label.trim().is_empty()).unwrap_or(&it.file);
        let date = it.date.as_deref().map_or(String::new(), |date| format!(", weighed on {date}"));
        let stands = significant(it.concentration_percent, 3, 1, 6);
        let text = format!("batch {}{date}: {} g, accord concentration {stands} %", escaped(name), plain(it.grams));
        page.paragraph(out, &pad, inner + STEP, &text, Ink::Plain);
    }
    if entry.smelled.is_empty() && entry.strength.is_none() {
        page.paragraph(out, &pad, inner + STEP, "not smelled yet", Ink::Alert);
    } else {
        page.paragraph(out, &pad, inner + STEP, &scores(entry), Ink::Plain);
    }
    if !entry.older_numbers.is_empty() {
        page.paragraph(out, &pad, inner + STEP, &older(entry), Ink::Alert);
    }
    if let Some(remarks) = entry.remarks.as_deref().filter(|remarks| !remarks.trim().is_empty()) {
        page.paragraph(out, &pad, inner + STEP, &format!("“{}”", escaped(remarks)), Ink::Faint);
    }
}

/// Numbers that are others now: those that tell of strength and smell.
fn older(entry: &EntryLine) -> String {
    const UNTOLD: [&str; 3] = ["strength_factor", "score_error", "times"];
    let told = |it: &&OlderNumber| !UNTOLD.contains(&&*it.what);
    let written = |text: &Option<String>| text.as_deref().map_or_else(|| "nothing".to_owned(), escaped);
    let mut lines: Vec<&OlderNumber> = entry.older_numbers.iter().filter(told).collect();
    // Strengths first: they move most.
    lines.sort_by_key(|it| it.what != "strength");
    let all: Vec<String> = lines
        .iter()
        .map(|it| {
            format!("{} {} {}, now {}", escaped(&it.material), escaped(&it.what), written(&it.then), written(&it.now))
        })
        .collect();
    let more = all.len().saturating_sub(OLDER);
    let more = if more > 0 { format!("; {more} more") } else { String::new() };
    let shown = all[..all.len().min(OLDER)].join("; ");
    format!(
        "judged under older numbers: {}{more}",
        if shown.is_empty() { "how sure they are has changed" } else { &shown }
    )
}

/// What was smelled: the most, and what changed most.
fn scores(entry: &EntryLine) -> String {
    let mut told: Vec<(usize, String)> = Vec::new();
    let mut order: Vec<usize> = (0..entry.smelled.len()).collect();
    let change = |at: usize| entry.smelled[at].change.unwrap_or(0.0).abs();
    order.sort_by(|a, b| change(*b).total_cmp(&change(*a)).then(a.cmp(b)));
    for at in order.into_iter().take(SCORES) {
        let score = &entry.smelled[at];
        let change = match score.change {
            Some(change) if change > 0.0 => format!(" (+{})", plain_tidy(change)),
            Some(change) if change < 0.0 => format!(" (−{})", plain_tidy(-change)),
            _ => String::new(),
        };
        told.push((at, format!("{} {}{change}", escaped(&score.descriptor), plain(score.score))));
    }
    told.sort_by_key(|(at, _)| *at);
    let mut words: Vec<String> = told.into_iter().map(|(_, text)| text).collect();
    words.extend(entry.strength.map(|strength| format!("strength {}", plain(strength))));
    let rest = entry.smelled.len().saturating_sub(SCORES);
    let more = if rest > 0 { format!("; {rest} more") } else { String::new() };
    format!("smelled {}{more}", words.join(", "))
}

fn plain_tidy(value: f64) -> String {
    plain(crate::number::tidy(value))
}

fn dose(ppt: f64) -> String {
    // Small doses have no zeros at the end.
    plain(significant(ppt, 4, 0, 6).parse().unwrap_or(ppt))
}

fn age(days: f64) -> String {
    match days {
        0.0 => "just mixed".to_owned(),
        1.0 => "1 day old".to_owned(),
        days => format!("{} days old", plain(days)),
    }
}

fn time(minutes: f64) -> String {
    match minutes {
        1.0 => "1 minute".to_owned(),
        minutes if minutes < 120.0 => format!("{} minutes", plain(minutes)),
        minutes if minutes < 2880.0 => format!("{} hours", plain((minutes / 6.0).round() / 10.0)),
        minutes => format!("{} days", plain((minutes / 144.0).round() / 10.0)),
    }
}

/// The way to the target, where there is one.
fn way(report: &JournalReport, page: &Page, out: &mut String) {
    if report.brief.is_none() {
        return;
    }
    page.head(out, "How near to the target, in time");
    let mut table = Table::new(&[Side::Left, Side::Left, Side::Right, Side::Right, Side::Right]);
    let head = ["", "", "smelled", "judged", "computed"];
    table.row(Ink::Faint, head.map(str::to_owned).to_vec());
    let percent = |number: Option<f64>, decimals: usize| {
        number.map_or_else(|| "·".to_owned(), |number| format!("{} %", rounded(number, decimals)))
    };
    let best = report.entries.iter().filter_map(|entry| entry.smelled_fidelity).fold(0.0, f64::max);
    for entry in report.in_time() {
        let ink = if entry.smelled_fidelity == Some(best) { Ink::Good } else { Ink::Plain };
        let cells = [
            escaped(&entry.code),
            entry.date.clone().unwrap_or_default(),
            percent(entry.smelled_fidelity, 0),
            percent(entry.judged_percent, 0),
            percent(entry.computed_fidelity, 1),
        ];
        table.row(ink, cells.to_vec());
    }
    table.write(out, page);
    let text = "Smelled: your scores against the target, in the descriptors that you judged. Judged: how much of the \
                target these are. Computed: the formula by the palette's numbers, of what is left of it at its time on \
                the blotter.";
    page.paragraph(out, "  ", 2, text, Ink::Faint);
}

fn due(report: &JournalReport, page: &Page, out: &mut String) {
    page.head(out, &format!("To be smelled, as of {}", report.today));
    if report.due.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing.", Ink::Plain);
    }
    for line in &report.due {
        let when = match (&line.on, line.now) {
            (_, true) => "now".to_owned(),
            (Some(day), false) => format!("from {day} on"),
            (None, false) => String::new(),
        };
        let ink = if line.now { Ink::Alert } else { Ink::Plain };
        page.paragraph(out, "  ", 4, &format!("{}, {when}: {}", escaped(&line.code), reasons(line)), ink);
    }
    if page.full {
        let text = "Due is what no later mod has changed, and was smelled only once, only in its first hour on the \
                    blotter, or only younger than a week.";
        page.paragraph(out, "  ", 2, text, Ink::Faint);
    }
}

fn reasons(line: &DueLine) -> String {
    if line.why.contains(&WhyDue::Never) {
        return "not smelled yet".to_owned();
    }
    let word = |why: &WhyDue| match why {
        WhyDue::OpeningOnly => "only in the top notes, not in the drydown",
        WhyDue::YoungOnly => "only younger than a week",
        WhyDue::Never | WhyDue::Once => "only once",
    };
    format!("smelled {}", line.why.iter().map(word).collect::<Vec<_>>().join("; "))
}
