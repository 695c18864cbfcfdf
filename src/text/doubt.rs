//! How sure formulas are, on the page.

use super::broken::sentence;
use super::compare::letter;
use super::compositions::compositions;
use super::page::{Ink, Page, width};
use super::reasons;
use super::table::{Side, Table};
use crate::escape::escaped;
use crate::number::{rounded, rounded_up, significant};
use crate::results::doubt::{DoubtLine, DoubtReport, MaterialShare, NearerLine, NumberLine, SpreadLine};
use crate::results::states::{FormulaStatus, WhichNumber};
use crate::text::sure::of_hundred;

/// Materials that are shown of those that make the doubt.
const SHOWN: usize = 8;
/// The same where there are several formulas.
const FEW: usize = 3;
/// Shares below this, in percent, are not spoken of.
const NOTHING: f64 = 1.0;
/// Descriptors that spread by less than this, in scores, are left out.
const STILL: f64 = 0.05;
/// Materials and descriptors that are told in the short form.
const FEW_MATERIALS: usize = 5;
const FEW_DESCRIPTORS: usize = 6;

/// The whole answer.
pub fn doubt(report: &DoubtReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    out.push('\n');
    let Some(care) = &report.care else {
        none(report, page, &mut out);
        return out;
    };
    match &report.formulas[..] {
        [one] => alone(report, one, page, &mut out),
        several => beside(report, several, page, &mut out),
    }
    compositions(&report.compositions, page, &mut out);
    broken(report, page, &mut out);
    out.push('\n');
    let mut said = report.formulas.iter().flat_map(|line| &line.numbers);
    let loose = match said.any(|number| number.said.is_some() && number.number == WhichNumber::Strength) {
        true => "; strengths in words to within 3 times, comparisons to within 2, thresholds in air to within 50",
        false => "",
    };
    let whose = if report.head.by_trials { "what the trials left unsure of" } else { "the palette's" };
    let text = match page.full {
        true => format!(
            "{} draws of {whose} scores and strengths, each within its score_error or strength_factor (1 {} and \
             a factor of 1.5 where the palette says nothing{loose}); scores of 0 are taken as certain. Seed {}.",
            report.draws,
            report.head.on_scale(),
            report.seed
        ),
        false => format!("{} draws of {whose} scores and strengths; seed {}.", report.draws, report.seed),
    };
    page.paragraph(&mut out, "", 0, &text, Ink::Faint);
    page.paragraph(&mut out, "", 0, care.caution, Ink::Faint);
    page.full_adds(&mut out, "every descriptor, more of what the doubt is made of, and how the draws are made");
    out
}

fn none(report: &DoubtReport, page: &Page, out: &mut String) {
    if report.status == FormulaStatus::Infeasible {
        page.paragraph(out, "  ", 2, "No blend can meet this brief (proven).", Ink::Alert);
        reasons::reasons(&report.reasons, page, out);
    } else {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
    }
}

/// `86.9 to 94.7`.
fn range(spread: &SpreadLine, decimals: usize) -> String {
    format!("{} to {}", rounded(spread.p5, decimals), rounded(spread.p95, decimals))
}

fn alone(report: &DoubtReport, one: &DoubtLine, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: String, words: &str| {
        let first = format!("  {label:<16}{value:>14}  ");
        page.paragraph(out, &first, width(&first), words, Ink::Plain);
    };
    let what = match &one.name {
        Some(name) => escaped(name),
        None if report.status == FormulaStatus::Optimal => {
            "the proposal, the best these numbers allow (proven)".to_owned()
        }
        None => "the proposal, not proven best".to_owned(),
    };
    line("Match on paper", format!("{} %", rounded(one.on_paper, 2)), &what);
    line("On average", format!("{} %", rounded(one.fidelity.mean, 1)), &average(one));
    line("Nine in ten", format!("{} %", range(&one.fidelity, 1)), "nine draws in ten lie between these");
    line("Worst tenth", format!("{} %", rounded(one.worst_tenth, 1)), "the mean of the worst draws in ten");
    descriptors(report, one, page, out);
    page.head(out, "What the doubt is made of");
    made_of(one, if page.full { SHOWN } else { FEW_MATERIALS }, page, out);
}

/// Why the average is not the match on paper.
fn average(one: &DoubtLine) -> String {
    let lower = one.on_paper - one.fidelity.mean;
    if lower >= 0.1 {
        "over the draws: what fits the written numbers fits others less well".to_owned()
    } else {
        "over the draws".to_owned()
    }
}

fn descriptors(report: &DoubtReport, one: &DoubtLine, page: &Page, out: &mut String) {
    let mut lines: Vec<_> = one.profile.iter().filter(|line| line.spread.sd >= STILL).collect();
    if lines.is_empty() {
        return;
    }
    lines.sort_by(|a, b| b.spread.sd.total_cmp(&a.spread.sd));
    let moving = lines.len();
    if !page.full && moving > FEW_DESCRIPTORS + 1 {
        lines.truncate(FEW_DESCRIPTORS);
    }
    page.head(out, &format!("How sure each descriptor is, {}", report.head.on_scale()));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right]);
    let titles = ["", "target", "on paper", "nine draws in ten", "give or take"];
    table.row(Ink::Faint, titles.map(str::to_owned).to_vec());
    for line in &lines {
        let cells = [
            escaped(&line.descriptor),
            rounded(line.target, 2),
            rounded(line.blend, 2),
            range(&line.spread, 2),
            rounded(line.spread.sd, 2),
        ];
        table.row(Ink::Plain, cells.to_vec());
    }
    table.write(out, page);
    let rest = one.profile.len() - lines.len();
    if moving > lines.len() {
        let most = moving_most(one, lines.len());
        page.paragraph(out, "  ", 2, &format!("{rest} more, each to within {most}."), Ink::Plain);
    } else if rest > 0 {
        page.paragraph(out, "  ", 2, "All others spread by less than 0.05.", Ink::Plain);
    }
}

/// The deviation of the descriptor that spreads most after the first so many.
fn moving_most(one: &DoubtLine, after: usize) -> String {
    let mut all: Vec<f64> = one.profile.iter().map(|line| line.spread.sd).collect();
    all.sort_by(|a, b| b.total_cmp(a));
    all.get(after).map_or_else(|| rounded(0.0, 2), |sd| rounded_up(*sd, 2))
}

/// What a number is called beside its material.
fn called(number: &NumberLine) -> String {
    let said = number.said.as_deref().map_or(String::new(), |said| format!(" ({})", escaped(said)));
    match &number.descriptor {
        Some(word) => format!("{}{said}", escaped(word)),
        None => format!("strength{said}"),
    }
}

fn made_of(one: &DoubtLine, most: usize, page: &Page, out: &mut String) {
    let telling: Vec<&MaterialShare> = one.by_material.iter().filter(|line| line.share >= NOTHING).collect();
    let Some(first) = telling.first() else {
        let is_sure = one.give_or_take.is_none_or(|points| points < STILL);
        let text = match is_sure {
            true => "Nothing in it is uncertain enough to speak of.",
            false => {
                "The trials have tied these errors together: none has a share of its own. `permil next` says what to smell."
            }
        };
        page.paragraph(out, "  ", 2, text, Ink::Plain);
        return;
    };
    for line in telling.iter().take(most) {
        let own = one.numbers.iter().filter(|number| number.material == line.material && number.share >= NOTHING);
        let parts: Vec<String> =
            own.take(4).map(|number| format!("{} {} %", called(number), rounded(number.share, 0))).collect();
        let parts = if parts.is_empty() { String::new() } else { format!(": {}", parts.join(", ")) };
        let text = format!("{}{parts}", escaped(&line.material));
        page.paragraph(out, &format!("  {:>4} %  ", rounded(line.share, 0)), 10, &text, Ink::Plain);
    }
    let told: f64 = telling.iter().take(most).map(|line| line.share).sum();
    if told < 95.0 {
        let text = "other materials, and several numbers being off together";
        page.paragraph(out, &format!("  {:>4} %  ", rounded(100.0 - told, 0)), 10, text, Ink::Plain);
    }
    if page.full {
        out.push('\n');
    }
    page.paragraph(out, "  ", 2, &advice(one, first), Ink::Strong);
}

/// What to smell again first.
fn advice(one: &DoubtLine, first: &MaterialShare) -> String {
    let name = escaped(&first.material);
    let share = rounded(first.share, 0);
    let strength = one
        .numbers
        .iter()
        .find(|number| number.material == first.material && number.number == WhichNumber::Strength)
        .map_or(0.0, |number| number.share);
    if strength > 0.5 * first.share {
        format!(
            "Match the strength of {name} again first: {share} % of the doubt is {name}, most of it by its strength."
        )
    } else {
        format!("Smell {name} again first: {share} % of the doubt is {name}.")
    }
}

fn beside(report: &DoubtReport, several: &[DoubtLine], page: &Page, out: &mut String) {
    for (at, line) in several.iter().enumerate() {
        let name = line.name.as_deref().unwrap_or("the proposal");
        page.paragraph(out, &format!("  {:<3}", letter(at)), 5, &escaped(name), Ink::Strong);
    }
    page.head(out, "Match on paper and over the draws, in percent");
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right]);
    let titles = ["", "on paper", "on average", "nine in ten", "worst tenth"];
    table.row(Ink::Faint, titles.map(str::to_owned).to_vec());
    for (at, line) in several.iter().enumerate() {
        let cells = [
            letter(at),
            rounded(line.on_paper, 2),
            rounded(line.fidelity.mean, 1),
            range(&line.fidelity, 1),
            rounded(line.worst_tenth, 1),
        ];
        table.row(Ink::Plain, cells.to_vec());
    }
    table.write(out, page);
    page.head(out, "Which is nearer the target");
    for line in &report.nearer {
        page.paragraph(out, "  - ", 4, &nearer(line), Ink::Plain);
    }
    if !page.full {
        page.head(out, "What the doubt is made of");
        for (at, line) in several.iter().enumerate() {
            let most = line.by_material.iter().filter(|share| share.share >= NOTHING).take(FEW);
            let most: Vec<String> =
                most.map(|it| format!("{} {} %", escaped(&it.material), rounded(it.share, 0))).collect();
            let text =
                if most.is_empty() { "nothing uncertain enough to speak of".to_owned() } else { most.join(", ") };
            page.paragraph(out, &format!("  {:<3}", letter(at)), 5, &text, Ink::Plain);
        }
        return;
    }
    for (at, line) in several.iter().enumerate() {
        page.head(out, &format!("What the doubt of {} is made of", letter(at)));
        made_of(line, FEW, page, out);
    }
}

fn nearer(line: &NearerLine) -> String {
    let turned = line.chance < 50.0;
    let (first, second) = if turned { (line.b, line.a) } else { (line.a, line.b) };
    let chance = if turned { 100.0 - line.chance } else { line.chance };
    let by = if turned { -line.difference.mean } else { line.difference.mean };
    let text = format!(
        "{} is nearer than {} in {} draws, by {} % points on average",
        letter(first),
        letter(second),
        of_hundred(chance),
        significant(by, 2, 1, 2)
    );
    if line.inside_doubt { format!("{text}: the difference may not be noticeable.") } else { format!("{text}.") }
}

fn broken(report: &DoubtReport, page: &Page, out: &mut String) {
    if report.formulas.iter().all(|line| line.broken.is_empty()) {
        return;
    }
    page.head(out, "Broken rules");
    for (at, line) in report.formulas.iter().enumerate() {
        for rule in &line.broken {
            let first = if report.formulas.len() > 1 { format!("  {:<3}", letter(at)) } else { "  - ".to_owned() };
            page.paragraph(out, &first, width(&first), &sentence(rule), Ink::Plain);
        }
    }
}
