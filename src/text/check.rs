//! What a look at a brief came to, on the page.

use super::compositions::compositions;
use super::limits::without_figure;
use super::noses::noses;
use super::page::{Ink, Page};
use super::reasons;
use super::table::{Side, Table, aligned};
use crate::analysis::check::Verdict;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_down, rounded_up, significant};
use crate::results::check::{CheckReport, RangeLine};
use crate::results::finding::FindingLine;
use crate::results::finding::{FindingKind, Severity};
use crate::sentences::said::marked;

/// The whole report.
pub fn check(report: &CheckReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    out.push('\n');
    let (verdict, ink) = match report.status {
        Verdict::Possible => ("The rules can be kept together, as a formula shows.", Ink::Good),
        Verdict::Contradictory => ("No blend can meet this brief (proven).", Ink::Alert),
        Verdict::Unknown => {
            ("Whether the rules can be kept together was not found out in the time allowed.", Ink::Alert)
        }
    };
    page.paragraph(&mut out, "  ", 2, verdict, ink);
    given(report, page, &mut out);
    if report.status == Verdict::Contradictory {
        reasons::reasons(&report.reasons, page, &mut out);
    }
    if page.full {
        ranges(report, page, &mut out);
    } else {
        out_of_reach(report, page, &mut out);
    }
    findings(report, Severity::Warning, "Worth a second look", page, &mut out);
    if page.full {
        findings(report, Severity::Note, "Good to know", page, &mut out);
    }
    first(report, page, &mut out);
    compositions(&report.compositions, page, &mut out);
    noses(report, page, &mut out);
    coverage(report, page, &mut out);
    if report.warnings.is_empty() && report.findings.is_empty() && report.status == Verdict::Possible {
        out.push('\n');
        page.paragraph(&mut out, "  ", 2, "Nothing else strikes.", Ink::Plain);
    }
    if !page.full {
        let notes = report.findings.iter().filter(|line| line.severity == Severity::Note).count();
        let notes = match notes {
            0 => String::new(),
            1 => ", 1 note".to_owned(),
            notes => format!(", {notes} notes"),
        };
        page.full_adds(
            &mut out,
            &format!("what blends can have of each descriptor{notes}, and each material without a figure"),
        );
    }
    out
}

/// What is idle of the formulas that were given.
fn given(report: &CheckReport, page: &Page, out: &mut String) {
    for line in &report.given {
        let (words, ink) = match &line.idle {
            None => ("has no odour".to_owned(), Ink::Alert),
            Some(idle) => match &idle.sentence {
                Some(sentence) => (sentence.clone(), Ink::Alert),
                None => (format!("{} of 1000 parts are idle weight", rounded(idle.parts, 0)), Ink::Plain),
            },
        };
        page.paragraph(out, "  ", 2, &format!("{}: {}.", escaped(&line.name), escaped(&words)), ink);
    }
}

/// Which numbers to smell first.
fn first(report: &CheckReport, page: &Page, out: &mut String) {
    let Some(first) = &report.smell_first else { return };
    page.head(out, "What to smell first");
    let lines = if page.full { &first.numbers[..] } else { &first.numbers[..first.numbers.len().min(FEW)] };
    if lines.is_empty() {
        page.paragraph(out, "  ", 2, "No single number matters much to this brief.", Ink::Plain);
        return;
    }
    for line in lines {
        let (material, said) = (escaped(&line.material), line.said.as_deref());
        let figure = marked(&significant(line.at, 2, 0, 6), said.is_some());
        let said = said.map_or(String::new(), |said| format!(" ({})", escaped(said)));
        let text = match &line.descriptor {
            None => {
                format!("the strength of {material}: {figure}{said}, times or divided by {}", rounded(line.error, 1))
            }
            Some(word) => {
                format!("how {} {material} is: {figure}{said}, give or take {}", escaped(word), rounded(line.error, 1))
            }
        };
        page.paragraph(out, &format!("  {:>4} %  ", rounded(line.share, 0)), 10, &text, Ink::Plain);
    }
    let text = format!(
        "Of what is unsure about the match of the best blend over any doses, {} to {} % in nine draws of ten: so much \
         would go if the number were known. Strengths are matched side by side (`permil strengths`).",
        rounded(first.fidelity.p5, 0),
        rounded(first.fidelity.p95, 0)
    );
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// Numbers to smell first in the short form.
const FEW: usize = 5;

/// What the limits files know of what the brief may use.
fn coverage(report: &CheckReport, page: &Page, out: &mut String) {
    let Some(coverage) = report.coverage.as_ref().filter(|coverage| coverage.materials > 0) else { return };
    if !page.full {
        out.push('\n');
        let known = coverage.summary().pop().unwrap_or_default();
        page.labelled(out, "Limits", &escaped(&known), if coverage.complete { Ink::Plain } else { Ink::Alert });
        let missing = without_figure(coverage);
        if !missing.is_empty() {
            page.labelled(out, "", &missing.join(" "), Ink::Alert);
        }
        return;
    }
    page.head(out, "What the limits files know of the materials that may be used");
    let ink = if coverage.complete { Ink::Plain } else { Ink::Alert };
    for (at, sentence) in coverage.sentences().iter().enumerate() {
        let ink = if at == 0 { ink } else { Ink::Plain };
        page.paragraph(out, "  - ", 4, &escaped(sentence), ink);
    }
}

/// The targets that no blend inside the rules reaches, each by itself.
fn out_of_reach(report: &CheckReport, page: &Page, out: &mut String) {
    if report.ranges.is_empty() {
        return;
    }
    let mut lines: Vec<(String, Ink)> = Vec::new();
    for line in report.ranges.iter().filter(|line| line.inside == Some(false)) {
        let (name, target) = (escaped(&line.descriptor), plain(line.target));
        let (most, end) = match (line.low, line.high) {
            (Some(low), _) if line.target < low => ("at least", rounded_down(low + HAIR, 2)),
            (_, high) => ("at most", rounded_up((high.unwrap_or(0.0) - HAIR).max(0.0), 2)),
        };
        lines.push((format!("{name}: {most} {end} {}, target {target}", report.head.on_scale()), Ink::Alert));
    }
    let open: Vec<String> =
        report.ranges.iter().filter(|line| line.inside.is_none()).map(|line| escaped(&line.descriptor)).collect();
    out.push('\n');
    if lines.is_empty() && open.is_empty() {
        let text = "Every target can be reached by itself; all of them together is what propose looks for.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
    for (text, ink) in lines {
        page.paragraph(out, "  Out of reach: ", 4, &text, ink);
    }
    if !open.is_empty() {
        page.paragraph(out, "  ", 2, &format!("Not worked out whether in reach: {}.", open.join(", ")), Ink::Alert);
    }
}

/// What the solver's last digits add does not count.
const HAIR: f64 = 1e-6;

fn ranges(report: &CheckReport, page: &Page, out: &mut String) {
    if report.ranges.is_empty() {
        return;
    }
    page.head(out, &format!("What blends inside the rules can reach, {}", report.head.on_scale()));
    let shown = |value: Option<f64>, round: fn(f64, usize) -> String| value.map_or("?".to_owned(), |v| round(v, 2));
    let column = |of: &dyn Fn(&RangeLine) -> String| aligned(&report.ranges.iter().map(of).collect::<Vec<_>>());
    let targets = column(&|line| plain(line.target));
    // Outwards: nothing that can be reached is left out.
    let lows = column(&|line| shown(line.low.map(|low| low + HAIR), rounded_down));
    let beyond = |line: &RangeLine| line.high.is_some_and(|high| high > report.scale + HAIR);
    let high = |line: &RangeLine| match line.high {
        // A figure beyond the scale reads like a score that could be asked for.
        Some(_) if beyond(line) => plain(report.scale),
        high => shown(high.map(|high| (high - HAIR).max(0.0)), rounded_up),
    };
    let highs = column(&high);
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Left]);
    table.row(Ink::Faint, ["", "target", "from", "to", ""].map(str::to_owned).to_vec());
    for (at, line) in report.ranges.iter().enumerate() {
        let verdict = match (line.inside, line.low, line.high) {
            (Some(true), ..) if beyond(line) => "and beyond the scale",
            (Some(true), ..) => "",
            (Some(false), Some(low), _) if line.target < low => "out of reach: always more",
            (Some(false), ..) => "out of reach: always less",
            (None, ..) => "not worked out",
        };
        let ink = if line.inside == Some(false) { Ink::Alert } else { Ink::Plain };
        let numbers = [&targets[at], &lows[at], &highs[at]].map(String::clone);
        let cells = std::iter::once(escaped(&line.descriptor)).chain(numbers).chain([verdict.to_owned()]);
        table.row(ink, cells.collect());
    }
    table.write(out, page);
    let text = "Each end is a blend of its own, over continuous doses: counts, steps and least doses are set aside, \
                every other rule is kept.";
    page.paragraph(out, "  ", 2, text, Ink::Plain);
    if report.ranges.iter().any(beyond) {
        let text = "Beyond the scale: a blend of little else than that descriptor, seen at the target's own total.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    }
}

fn findings(report: &CheckReport, severity: Severity, head: &str, page: &Page, out: &mut String) {
    let lines: Vec<&FindingLine> = report.findings.iter().filter(|line| line.severity == severity).collect();
    let warnings: &[String] = if severity == Severity::Warning { &report.warnings } else { &[] };
    if lines.is_empty() && warnings.is_empty() {
        return;
    }
    page.head(out, head);
    for warning in warnings {
        page.paragraph(out, "  - ", 4, &escaped(warning), Ink::Plain);
    }
    for line in lines {
        let file = std::path::Path::new(&line.file).file_name();
        let file = file.map_or(line.file.as_str().into(), |name| name.to_string_lossy());
        let place = line.line.map_or(format!(" ({file})"), |at| format!(" ({file}:{at})"));
        let place = if line.kind == FindingKind::NeverUsable { String::new() } else { escaped(&place) };
        let remedy = line.remedy.as_ref().map_or(String::new(), |remedy| format!(": {}", escaped(remedy)));
        page.paragraph(out, "  - ", 4, &format!("{}{place}{remedy}", escaped(&line.message)), Ink::Plain);
    }
}
