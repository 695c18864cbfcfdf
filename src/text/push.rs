//! How far one material can go, on the page.

use super::formula::{most_idle, round_to};
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use super::{care, in_short, limits, reasons};
use crate::analysis::curve::evenly;
use crate::escape::escaped;
use crate::number::{decimals_for, plain, rounded, rounded_down, rounded_up};
use crate::results::LimitLine;
use crate::results::push::{EndLine, PushPoint, PushReport};
use crate::results::states::CapReason;
use crate::solve::Status;
use crate::text::sure::nearer_in;

/// Rows of the curve that are shown within the caps, and beyond.
const ROWS: usize = 12;
const ROWS_BEYOND: usize = 4;
/// Caps that are told in the short form: the lowest are those that hold.
const FEW_CAPS: usize = 3;
/// Gains of less than this many % points are none.
const NOTHING: f64 = 0.005;

/// The whole answer.
pub fn push(report: &PushReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    let text = format!("How far {} can go: every other dose solved again", escaped(&report.material));
    page.paragraph(&mut out, "", 0, &text, Ink::Plain);
    if let Some(text) = &report.let_in {
        page.paragraph(&mut out, "", 0, &escaped(text), Ink::Alert);
    }
    out.push('\n');
    let Some(care) = &report.care else {
        without_blend(report, page, &mut out);
        return out;
    };
    headline(report, page, &mut out);
    let best = report.best_blend.iter().map(|blend| ("the best formula".to_owned(), blend));
    let at = |dose: f64| format!("the formula at {} ‰", amount(dose));
    most_idle(best.chain(report.formulas.iter().map(|line| (at(line.dose), &line.formula))), page, &mut out);
    caps(report, page, &mut out);
    if page.full {
        curve(report, page, &mut out);
    }
    not_had(report, page, &mut out);
    ends(report, page, &mut out);
    if !report.complete {
        out.push('\n');
        let text =
            "Stopped before all of it was worked out: this is what was done. A longer --time-limit tells the rest.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Alert);
    }
    let named = |dose: f64| format!("the formula at {} ‰", amount(dose));
    let all =
        report.formulas.iter().flat_map(|line| line.formula.limits.iter().map(move |limit| (named(line.dose), limit)));
    if !page.full {
        let best = report.best_blend.iter();
        let best_limits =
            best.clone().flat_map(|it| &it.limits).map(|limit| (Some("the best formula".to_owned()), limit));
        let all: Vec<in_short::Called> = all.map(|(name, limit)| (Some(name), limit)).chain(best_limits).collect();
        let joints = report.formulas.iter().map(|line| &line.formula).chain(best).flat_map(|formula| &formula.joints);
        in_short::close(care, &all, joints, &[], page, &mut out);
        page.full_adds(&mut out, "dose and match along the curve, every cap, and the second opinion");
        return out;
    }
    care::before_limits(care, page, &mut out);
    if care.limits_applied {
        let text =
            "Every formula within the caps keeps the limits; those beyond do not, and are there to look at alone.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Plain);
    }
    limits::fullest(all, page, &mut out);
    let shown = report.formulas.iter().map(|line| &line.formula).chain(&report.best_blend);
    let lines: Vec<&LimitLine> = shown.clone().flat_map(|formula| &formula.limits).collect();
    let parts = care::parts_of(shown);
    care::after_limits(care, &lines, &parts, page, &mut out);
    out
}

/// A dose for reading.
fn amount(ppt: f64) -> String {
    plain(round_to(ppt, decimals_for(ppt, 3, 0, 9)))
}

fn without_blend(report: &PushReport, page: &Page, out: &mut String) {
    if report.status == Status::Infeasible {
        let text = "No formula keeps the rules, whatever the dose of this material (proven).";
        page.paragraph(out, "  ", 2, text, Ink::Alert);
        reasons::reasons(&report.reasons, page, out);
    } else {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        page.paragraph(out, "  ", 2, "A longer --time-limit may tell.", Ink::Plain);
    }
}

fn headline(report: &PushReport, page: &Page, out: &mut String) {
    let mut line = |label: &str, dose: String, fidelity: Option<f64>, words: &str, ink: Ink| {
        let fidelity = fidelity.map_or_else(String::new, |value| format!("{} %", rounded(value, 2)));
        let first = format!("  {label:<16}{dose:>13} {fidelity:>9}  ");
        page.paragraph(out, &first, width(&first), words, ink);
    };
    let dose = |ppt: f64| format!("{} ‰", amount(ppt));
    if let Some(best) = report.best {
        let is_wall = report.high_end.as_ref().is_some_and(|end| end.wall && end.dose <= best.dose * (1.0 + 1e-6));
        let words = match best.dose {
            0.0 => "the best match is without it",
            _ if is_wall => "the best match; the rules leave no more",
            _ => "the best match on paper",
        };
        line("Best", dose(best.dose), Some(best.fidelity), words, Ink::Good);
    }
    if let Some([low, high]) = report.window {
        let points = if report.margin == 1.0 { "% point" } else { "% points" };
        let sure = if report.window_proven == [true; 2] { "" } else { "; may be wider, not proven" };
        let words = format!("formulas within {} {points} of the best{sure}", plain(report.margin));
        line("Window", format!("{} to {} ‰", amount(low), amount(high)), None, &words, Ink::Plain);
    }
    match report.without {
        Some(without) if without.costs < NOTHING => {
            line("Without it", dose(0.0), Some(without.fidelity), "leaving it out costs nothing", Ink::Plain);
        }
        Some(without) => {
            let count = without.nearer_in_percent;
            let count = count.map_or_else(String::new, |count| format!("; without it {}", nearer_in(count)));
            let words = format!("leaving it out costs {} % points{count}", rounded(without.costs, 2));
            line("Without it", dose(0.0), Some(without.fidelity), &words, Ink::Plain);
        }
        None => line("Without it", "-".to_owned(), None, "no formula inside the rules does without", Ink::Plain),
    }
    let gains = report.without.is_some_and(|without| without.costs >= NOTHING);
    match report.gain_gone {
        Some(gone) if gains && report.gain_gone_beyond_cap => {
            line("Gain gone", dose(gone), None, "no better than without any; beyond its cap", Ink::Plain);
        }
        Some(gone) if gains => line("Gain gone", dose(gone), None, "no better than without any", Ink::Plain),
        None if gains => line("Gain gone", "-".to_owned(), None, "nowhere on the curve", Ink::Plain),
        _ => {}
    }
    if let Some(second) = report.best_second.filter(|_| page.full) {
        let words = format!("the best second opinion (exponent {}) on this curve", plain(report.exponent));
        line("Second opinion", dose(second.dose), Some(second.fidelity), &words, Ink::Plain);
    }
}

/// A cap is never shown as more than it is.
fn cap_amount(ppt: f64) -> String {
    let text = rounded_down(ppt, decimals_for(ppt, 4, 0, 9));
    let trimmed = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    trimmed.to_owned()
}

fn caps(report: &PushReport, page: &Page, out: &mut String) {
    page.head(out, if page.full { "Every cap on it, in ‰" } else { "Caps on it, in ‰, the lowest first" });
    if report.caps.is_empty() {
        let text = "None: neither the brief, the palette nor a limit caps it. The other rules still hold.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        return;
    }
    let count = report.caps.len();
    let shown = if page.full || count <= FEW_CAPS + 1 { count } else { FEW_CAPS };
    let caps = &report.caps[..shown];
    let doses = aligned(&caps.iter().map(|cap| cap_amount(cap.dose)).collect::<Vec<_>>());
    for (cap, dose) in caps.iter().zip(doses) {
        let place = match (&cap.file, cap.line) {
            (Some(file), Some(line)) => format!(" ({}:{line})", escaped(file_name(file))),
            _ => String::new(),
        };
        let memory = if cap.verified == Some(false) { "; unverified (from memory)" } else { "" };
        let first = format!("  {dose:>10}  ");
        page.paragraph(out, &first, width(&first), &format!("{}{memory}{place}", escaped(&cap.words)), Ink::Plain);
    }
    if shown < count {
        page.paragraph(out, "  ", 2, &format!("{} higher caps with --full.", count - shown), Ink::Plain);
    }
    if page.full && report.caps.iter().any(|cap| matches!(cap.reason, CapReason::Restriction | CapReason::Joint)) {
        let text = "Caps of restrictions are what is left if nothing else brought the substance.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}

/// The last part of a path.
fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// Points that are shown: those spoken of, then as many near the window as from
/// there on, evenly along the curve.
fn shown<'a>(points: &'a [PushPoint], rows: usize, spoken_of: &[f64], near: f64) -> Vec<&'a PushPoint> {
    let mut shown: Vec<usize> = Vec::new();
    let mut show = |wanted: f64| {
        let off = |at: usize| (points[at].dose - wanted).abs();
        let nearest = (0..points.len()).min_by(|&a, &b| off(a).total_cmp(&off(b)));
        shown.extend(nearest.filter(|at| !shown.contains(at)));
    };
    spoken_of.iter().for_each(|&dose| show(dose));
    let heights = |is_near: bool| -> Vec<(f64, f64)> {
        let here = points.iter().filter(|point| !is_near || point.dose <= near);
        here.map(|point| (point.dose, point.fidelity)).collect()
    };
    for heights in [heights(true), heights(false)] {
        evenly(&heights, (rows / 2).min(heights.len())).into_iter().for_each(&mut show);
    }
    shown.sort_unstable();
    shown.into_iter().map(|at| &points[at]).collect()
}

fn curve(report: &PushReport, page: &Page, out: &mut String) {
    let [low, high] = report.window.unwrap_or_default();
    let best = report.best.map(|best| best.dose);
    let spoken_of: Vec<f64> = [low, high].into_iter().chain(best).chain(report.gain_gone).collect();
    let rows = if report.formulas.is_empty() { ROWS } else { report.points.len() };
    let within = shown(&report.points, rows, &spoken_of, 2.0 * high);
    let beyond = shown(&report.beyond, ROWS_BEYOND, &[], 0.0);
    if within.is_empty() {
        return;
    }
    let head = if report.continuous { "Dose and match" } else { "Dose and match: the best formula with each dose" };
    page.head(out, head);
    let mut table = Table::new(&[Side::Right, Side::Right, Side::Right, Side::Right, Side::Left]);
    let price = format!("{}/kg", escaped(&report.head.currency));
    table.row(Ink::Faint, ["dose", "match, %", "second, %", price.as_str(), ""].map(str::to_owned).to_vec());
    let all: Vec<&PushPoint> = within.iter().chain(&beyond).copied().collect();
    let doses = aligned(&all.iter().map(|point| amount(point.dose)).collect::<Vec<_>>());
    let is = |dose: f64, other: f64| (dose - other).abs() <= 1e-6 * other;
    for (at, (point, dose)) in all.iter().zip(doses).enumerate() {
        let is_beyond = at >= within.len();
        let mut words = Vec::new();
        if is_beyond {
            words.push("beyond the cap".to_owned());
        } else if best.is_some_and(|best| is(point.dose, best)) {
            words.push("best".to_owned());
        } else if high > low && is(point.dose, low) {
            words.push("window begins".to_owned());
        } else if high > low && is(point.dose, high) {
            words.push("window ends".to_owned());
        } else if report.gain_gone.is_some_and(|gone| is(point.dose, gone)) {
            words.push("gain gone".to_owned());
        }
        if !point.proven {
            words.push(format!("not proven best, at most {} %", rounded_up(point.at_most, 2)));
        }
        let price = point.price.map_or_else(|| "-".to_owned(), super::formula::money);
        let cells = [dose, rounded(point.fidelity, 2), rounded(point.second_opinion, 2), price, words.join(", ")];
        table.row(if is_beyond { Ink::Faint } else { Ink::Plain }, cells.to_vec());
    }
    table.write(out, page);
    let count = report.points.len() + report.beyond.len();
    if count > all.len() {
        let text = format!("{count} doses were worked out; JSON and CSV have all of them.");
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
    if !beyond.is_empty() {
        let text = "Beyond the cap the caps on it give way as far as its dose needs, and every other rule holds: to \
                    see what they cost, not to mix.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}

/// Doses that cannot be had, or were not looked at.
fn not_had(report: &PushReport, page: &Page, out: &mut String) {
    let list = |doses: &[f64]| doses.iter().map(|dose| plain(*dose)).collect::<Vec<_>>().join(", ");
    if !report.without_formula.is_empty() {
        let text = format!("No formula (proven) at {} ‰.", list(&report.without_formula));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if !report.not_computed.is_empty() {
        let text = format!("Not found out in time at {} ‰.", list(&report.not_computed));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
}

/// What gives way on both sides of the window.
fn ends(report: &PushReport, page: &Page, out: &mut String) {
    if report.low_end.is_none() && report.high_end.is_none() {
        return;
    }
    page.head(out, "What gives way");
    let best = report.best.map_or(0.0, |best| best.dose);
    for (end, side) in [(&report.low_end, "below"), (&report.high_end, "above")] {
        let Some(end) = end else { continue };
        let same = (end.dose - best).abs() <= 1e-6 * best;
        if side == "below" && end.dose == 0.0 && same {
            continue;
        }
        let first = format!("  {:<18}", format!("{side} {} ‰", amount(end.dose)));
        page.paragraph(out, &first, 20, &gives_way(end, side, same, &report.head.on_scale()), Ink::Plain);
        for rule in &end.rules {
            page.paragraph(out, "                  - ", 20, &rule_text(rule), Ink::Plain);
        }
    }
}

fn rule_text(rule: &crate::results::push::RuleLine) -> String {
    let place = rule.line.map_or_else(String::new, |line| format!(" ({}:{line})", escaped(file_name(&rule.file))));
    format!("{}{place}", escaped(&rule.sentence))
}

fn gives_way(end: &EndLine, side: &str, is_best: bool, on_scale: &str) -> String {
    let mut said = Vec::new();
    if end.wall && side == "above" {
        said.push("the rules leave no more".to_owned());
    } else if end.wall && side == "below" {
        said.push(if end.dose == 0.0 { "it can be left out" } else { "the rules ask for so much" }.to_owned());
    }
    if !is_best && let (Some(descriptor), Some(gap), Some(adds)) = (&end.descriptor, end.gap, end.adds) {
        let more = if gap > 0.0 { "too much" } else { "too little" };
        said.push(format!(
            "{} gives way: {} {more} {on_scale}, which adds {} to the loss",
            escaped(descriptor),
            rounded(gap.abs(), 2),
            rounded(adds, 2)
        ));
    }
    if !end.rules.is_empty() {
        said.push("held by".to_owned());
    }
    if said.is_empty() { "the match falls by the margin".to_owned() } else { said.join("; ") }
}
