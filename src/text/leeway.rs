//! How far each dose may go, on the page.

use super::formula::{dose, idle_weight};
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use super::{care, in_short, limits, reasons};
use crate::escape::escaped;
use crate::number::{plain, rounded};
use crate::results::FormulaReport;
use crate::results::leeway::{LeewayLine, LeewayReport};
use crate::results::states::{FormulaStatus, Removal, Role};
use crate::text::sure::{key_of_counts, nearer_in};
use crate::units::Ppt;

/// Materials that could come in and are named in the short form.
const FEW: usize = 6;

/// The whole answer.
pub fn leeway(report: &LeewayReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    let of = report.name.as_deref().map_or_else(|| "the proposal".to_owned(), escaped);
    page.paragraph(&mut out, "", 0, &format!("How far each dose of {of} may go"), Ink::Plain);
    out.push('\n');
    let Some(care) = &report.care else {
        without_formula(report, page, &mut out);
        return out;
    };
    headline(report, page, &mut out);
    if let Some(proposal) = &report.proposal {
        idle_weight(proposal, None, page, &mut out);
    }
    if report.materials.is_empty() {
        out.push('\n');
        let text = "No formula inside the rules comes as near as that, so there is no leeway to tell.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Alert);
    }
    let lists_all = report.lists_all || page.full;
    spans(report, lists_all, page, &mut out);
    without(report, page, &mut out);
    if let Some(unusual) = report.proposal.as_ref().and_then(FormulaReport::unusual_told) {
        out.push('\n');
        page.paragraph(&mut out, "  ", 2, &unusual, Ink::Plain);
    }
    if lists_all {
        others(report, page, &mut out);
    } else {
        not_in_it(report, page, &mut out);
    }
    if !report.complete {
        out.push('\n');
        let text = "There was no time for all of it. A longer --time-limit tells the rest.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Alert);
    }
    if !report.broken.is_empty() {
        page.head(&mut out, "Rules of the brief that the formula breaks");
        for line in &report.broken {
            page.paragraph(&mut out, "  - ", 4, &super::broken::sentence(line), Ink::Plain);
        }
    }
    if !page.full {
        in_short(report, care, page, &mut out);
        return out;
    }
    care::before_limits(care, page, &mut out);
    let Some(proposal) = &report.proposal else { return out };
    if care.limits_applied && !report.materials.is_empty() {
        let text = "Every formula looked at keeps the limits. The figures are those of the formula itself.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Plain);
    }
    limits::limits(proposal, page, &mut out);
    let lines: Vec<_> = proposal.limits.iter().collect();
    care::after_limits(care, &lines, &proposal.materials, page, &mut out);
    out
}

/// Limits of the formula, the caution, and what more there is.
fn in_short(report: &LeewayReport, care: &crate::results::Care, page: &Page, out: &mut String) {
    let proposal = report.proposal.iter();
    let lines: Vec<in_short::Called> = proposal.clone().flat_map(|it| &it.limits).map(|line| (None, line)).collect();
    let joints = proposal.clone().flat_map(|it| &it.joints);
    in_short::close(care, &lines, joints, &[], page, out);
    let is_in = |line: &LeewayLine| line.at > Ppt::ZERO;
    let others = !report.lists_all && !report.materials.iter().all(is_in);
    let more = match (others, care.limits_applied) {
        (true, true) => "the materials that are not in the formula (as --all), and every limit with its source",
        (true, false) => "the materials that are not in the formula (as --all)",
        (false, true) => "every limit with its use and its source",
        (false, false) => return,
    };
    page.full_adds(out, more);
}

fn without_formula(report: &LeewayReport, page: &Page, out: &mut String) {
    if report.status == FormulaStatus::Infeasible {
        page.paragraph(out, "  ", 2, "No blend can meet this brief (proven).", Ink::Alert);
        reasons::reasons(&report.reasons, page, out);
    } else {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        page.paragraph(out, "  ", 2, "A longer --time-limit may tell.", Ink::Plain);
    }
}

fn headline(report: &LeewayReport, page: &Page, out: &mut String) {
    let mut line = |label: &str, value: Option<f64>, words: &str, ink: Ink| {
        let value = value.map_or_else(|| "-".to_owned(), |value| format!("{} %", rounded(value, 2)));
        let first = format!("  {label:<18}{value:>9}  ");
        let indent = width(&first);
        page.paragraph(out, &first, indent, words, ink);
    };
    let fidelity = report.proposal.as_ref().and_then(|proposal| proposal.fidelity);
    let (words, ink) = match report.status {
        FormulaStatus::Optimal => ("the proposal (proven best)", Ink::Good),
        FormulaStatus::Feasible if report.name.is_none() => ("the proposal, not proven best", Ink::Alert),
        FormulaStatus::Broken => ("the formula, which breaks rules of the brief", Ink::Alert),
        _ => ("the formula", Ink::Plain),
    };
    line("Match on paper", fidelity, words, ink);
    let margin = plain(report.margin);
    let points = if report.margin == 1.0 { "% point" } else { "% points" };
    line("Looked at down to", report.least_fidelity, &format!("{margin} {points} less"), Ink::Plain);
    if report.any_doses {
        line("Upper limit", report.best_continuous, "any doses and any number of materials", Ink::Plain);
    }
}

fn amount(parts: Option<Ppt>) -> String {
    parts.map_or_else(|| "?".to_owned(), |parts| if parts <= Ppt::LEAST { "·".to_owned() } else { dose_of(parts) })
}

/// A dose for reading: two decimals are more than leeway needs.
fn dose_of(parts: Ppt) -> String {
    let ppt = parts.as_f64();
    if ppt >= 1.0 { plain(super::formula::round_to(ppt, 2)) } else { dose(ppt) }
}

/// The materials of the formula, and with all of them those that could come in.
fn spans(report: &LeewayReport, lists_all: bool, page: &Page, out: &mut String) {
    let shown = |line: &&LeewayLine| if lists_all { line.role != Role::StaysOut } else { line.at > Ppt::ZERO };
    let mut lines: Vec<&LeewayLine> = report.materials.iter().filter(shown).collect();
    if lines.is_empty() {
        return;
    }
    // Those of the formula by falling dose, then by how much could come in.
    lines.sort_by_key(|line| (std::cmp::Reverse(line.at), std::cmp::Reverse(line.max)));
    page.head(out, "Doses in ‰, one at a time: all other doses are solved again");
    let column = |of: &dyn Fn(&LeewayLine) -> Option<Ppt>| {
        aligned(&lines.iter().map(|line| amount(of(line))).collect::<Vec<_>>())
    };
    let (at, least, most) = (column(&|line| Some(line.at)), column(&|line| line.min), column(&|line| line.max));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Left]);
    table.row(Ink::Faint, ["", "at", "least", "most", ""].map(str::to_owned).to_vec());
    for (index, line) in lines.iter().enumerate() {
        let mut words = match line.role {
            Role::Dispensable => "could go",
            role => role.word(),
        }
        .to_owned();
        if line.min.is_some() && line.min == line.max {
            words = "no leeway".to_owned();
        } else if !line.proven && line.role != Role::NotComputed {
            words += ", not proven";
        }
        let ink = if line.role == Role::Indispensable { Ink::Strong } else { Ink::Plain };
        let cells =
            [escaped(&line.material), at[index].clone(), least[index].clone(), most[index].clone(), words].to_vec();
        table.row(ink, cells);
    }
    table.write(out, page);
    let knows_usual = report.proposal.as_ref().is_some_and(|proposal| proposal.unusual.is_some());
    let kept = if report.any_doses && knows_usual {
        "They set steps, least doses and the numbers of materials and of unusual doses aside; every other rule of the \
         brief holds, and such a blend may be more than you can weigh."
    } else if report.any_doses {
        "They set steps, least doses and the number of materials aside; every other rule of the brief holds, and such \
         a blend may be more than you can weigh."
    } else {
        "Each is that of a formula which keeps every rule of the brief."
    };
    let text = format!("These extremes cannot be had together: each is reached with other doses of the rest. {kept}");
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
    let others = report.not_looked_at.len();
    if others > 0 && lists_all {
        let what = if others == 1 {
            "1 weaker material that might come in was"
        } else {
            &format!("{others} weaker materials that might come in were")
        };
        page.paragraph(out, "  ", 2, &format!("{what} not looked at; JSON names them."), Ink::Plain);
    }
}

/// What leaving each part of the formula out costs.
fn without(report: &LeewayReport, page: &Page, out: &mut String) {
    let mut lines: Vec<(&LeewayLine, f64, f64)> = Vec::new();
    for line in &report.materials {
        if let Some((fidelity, costs)) = line.without.and_then(|without| without.fidelity.zip(without.costs)) {
            lines.push((line, fidelity, costs));
        }
    }
    if !lines.is_empty() {
        page.head(out, "Left out, one at a time: the match that is left, and what it costs in % points");
        lines.sort_by(|a, b| a.2.total_cmp(&b.2));
        for (line, fidelity, costs) in lines {
            let costs = if costs < 0.005 { "0.00".to_owned() } else { format!("−{}", rounded(costs, 2)) };
            let first = format!("  {:>9} {costs:>8}  ", format!("{} %", rounded(fidelity, 2)));
            let mut words = escaped(&line.material);
            if line.without.is_some_and(|without| !without.proven) {
                words += ", at least: not proven best";
            }
            if let Some(count) = line.without.and_then(|without| without.nearer_in_percent) {
                words += &format!(": {}", nearer_in(count));
            }
            page.paragraph(out, &first, 22, &words, Ink::Plain);
        }
        page.paragraph(out, "  ", 2, &key_of_counts("the best with everything"), Ink::Plain);
    }
    let mut group = |outcome: Removal, label: &str| {
        let is = |line: &&LeewayLine| line.without.is_some_and(|without| without.outcome == outcome);
        let names: Vec<String> = report.materials.iter().filter(is).map(|line| escaped(&line.material)).collect();
        if !names.is_empty() {
            page.paragraph(out, label, 22, &names.join(", "), Ink::Plain);
        }
    };
    group(Removal::Impossible, "  no formula without  ");
    group(Removal::Required, "  the brief wants     ");
    group(Removal::NotComputed, "  not computed        ");
}

/// How many materials could come in, those with the most room by name, and how
/// many stay out.
fn not_in_it(report: &LeewayReport, page: &Page, out: &mut String) {
    let mut coming: Vec<&LeewayLine> = report.materials.iter().filter(|line| line.role == Role::CouldComeIn).collect();
    coming.sort_by_key(|line| std::cmp::Reverse(line.max));
    let open = report.materials.iter().filter(|line| line.at <= Ppt::ZERO && line.role == Role::NotComputed).count();
    let staying = report.materials.iter().filter(|line| line.role == Role::StaysOut).count();
    let mut said = Vec::new();
    if !coming.is_empty() {
        let named: Vec<String> =
            coming.iter().map(|line| format!("{} {}", escaped(&line.material), amount(line.max))).collect();
        said.push(format!("Could come in, up to so many ‰: {}.", in_short::few(&named, FEW)));
    }
    if staying > 0 {
        said.push(format!("In none of these formulas: {staying} more materials of the shelf."));
    }
    if open + report.not_looked_at.len() > 0 {
        said.push(format!("Not looked at: {}.", open + report.not_looked_at.len()));
    }
    if !said.is_empty() {
        page.head(out, "Not in the formula");
        page.paragraph(out, "  ", 2, &said.join(" "), Ink::Plain);
    }
}

fn others(report: &LeewayReport, page: &Page, out: &mut String) {
    let stays = |line: &&LeewayLine| line.role == Role::StaysOut;
    let names: Vec<String> = report.materials.iter().filter(stays).map(|line| escaped(&line.material)).collect();
    if !names.is_empty() {
        page.head(out, "In none of these formulas");
        page.paragraph(out, "  ", 2, &names.join(", "), Ink::Plain);
    }
}
