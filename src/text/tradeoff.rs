//! What a limit buys, on the page.

use super::formula::{dose, money, most_idle, round_to};
use super::page::{Ink, Page, width};
use super::table::{Side, Table, aligned};
use super::{care, in_short, limits, reasons};
use crate::analysis::curve::evenly;
use crate::escape::escaped;
use crate::number::{decimals_for, plain, rounded, rounded_up};
use crate::portable::Portable;
use crate::results::states::Traded;
use crate::results::tradeoff::{LimitFormula, PassingLine, TradeoffReport};
use crate::results::{FormulaReport, LimitLine};
use crate::text::sure::{key_of_counts, may_not_be_noticeable, of_hundred};

/// Rows of the curve that are shown, and in the short form.
const ROWS: usize = 12;
const FEW_ROWS: usize = 9;
/// Materials that enter and leave in the short form.
const FEW_MATERIALS: usize = 9;
/// Gains of less than this many % points are none.
const NOTHING: f64 = 0.005;

/// The whole answer.
pub fn tradeoff(report: &TradeoffReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, &subject(report), Ink::Plain);
    if let Some(text) = &report.let_in {
        page.paragraph(&mut out, "", 0, &escaped(text), Ink::Alert);
    }
    out.push('\n');
    let Some(care) = &report.care else {
        without_blend(report, page, &mut out);
        return out;
    };
    headline(report, page, &mut out);
    curve(report, page, &mut out);
    upper_limit(report, page, &mut out);
    passings(report, page, &mut out);
    let at = |at: f64| format!("the formula at {}", report.amount(at));
    most_idle(report.formulas.iter().map(|line| (at(line.at), &line.formula)), page, &mut out);
    if let Some(unusual) = report.blend.as_ref().and_then(FormulaReport::unusual_told) {
        page.paragraph(&mut out, "  ", 2, &format!("The best formula: {unusual}"), Ink::Plain);
    }
    if !report.complete {
        out.push('\n');
        let text =
            "Stopped before all of it was worked out: this is what was done. A longer --time-limit tells the rest.";
        page.paragraph(&mut out, "  ", 2, text, Ink::Alert);
    }
    let named = |at: f64| format!("the formula at {}", report.amount(at));
    let all =
        report.formulas.iter().flat_map(|line| line.formula.limits.iter().map(move |limit| (named(line.at), limit)));
    if !page.full {
        let all: Vec<in_short::Called> = all.map(|(name, limit)| (Some(name), limit)).collect();
        let joints = report.formulas.iter().flat_map(|line| &line.formula.joints);
        in_short::close(care, &all, joints, &[], page, &mut out);
        let more = "in how many draws each formula is nearer, every material along the curve, and the sources of the \
                    limits; JSON and CSV have every formula";
        page.full_adds(&mut out, more);
        return out;
    }
    care::before_limits(care, page, &mut out);
    if care.limits_applied {
        page.paragraph(&mut out, "  ", 2, "Every formula on the curve keeps the limits.", Ink::Plain);
    }
    limits::fullest(all, page, &mut out);
    let shown = report.formulas.iter().map(|line| &line.formula).chain(&report.blend);
    let lines: Vec<&LimitLine> = shown.clone().flat_map(|formula| &formula.limits).collect();
    let parts = care::parts_of(shown);
    care::after_limits(care, &lines, &parts, page, &mut out);
    out
}

impl TradeoffReport {
    /// A limit for reading, without its unit.
    fn bare(&self, at: f64) -> String {
        match self.against {
            Traded::Price => money(at),
            Traded::Count => plain(at),
            _ => plain(round_to(at, decimals_for(at, 4, 0, 6))),
        }
    }

    /// A limit with its unit.
    fn amount(&self, at: f64) -> String {
        let bare = self.bare(at);
        match self.against {
            Traded::Price | Traded::Effect => format!("{bare} {}", escaped(&self.unit)),
            Traded::Count if at == 1.0 => "1 material".to_owned(),
            Traded::Count => format!("{bare} materials"),
            Traded::Strength => format!("strength {bare}"),
            _ => format!("{bare} ‰"),
        }
    }
}

fn subject(report: &TradeoffReport) -> String {
    let currency = escaped(&report.head.currency);
    match report.against {
        Traded::Price => format!("What money buys: the best match on paper at every cost, {currency} per kg"),
        Traded::Effect => {
            format!("The best match on paper at every cost per unit of strength, {currency}/kg")
        }
        Traded::Strength => "What strength costs: the best match on paper at every least strength".to_owned(),
        Traded::Count => "The best match on paper with each number of materials".to_owned(),
        _ => {
            let name = escaped(report.material.as_deref().unwrap_or_default());
            format!("The best match on paper with each dose of {name}, in ‰")
        }
    }
}

fn without_blend(report: &TradeoffReport, page: &Page, out: &mut String) {
    if report.is_impossible() {
        let text = "No formula keeps the other rules, whatever this one is (proven).";
        page.paragraph(out, "  ", 2, text, Ink::Alert);
        reasons::reasons(&report.reasons, page, out);
    } else {
        page.paragraph(out, "  ", 2, "Stopped without an answer.", Ink::Alert);
        page.paragraph(out, "  ", 2, "A longer --time-limit may tell.", Ink::Plain);
    }
}

fn headline(report: &TradeoffReport, page: &Page, out: &mut String) {
    let Some(ends) = report.ends else { return };
    let mut line = |label: &str, at: f64, fidelity: Option<f64>, words: &str, ink: Ink| {
        let fidelity = fidelity.map_or_else(|| "-".to_owned(), |value| format!("{} %", rounded(value, 2)));
        let first = format!("  {label:<14}{:>9} {fidelity:>10}  ", report.bare(at));
        page.paragraph(out, &first, width(&first), words, ink);
    };
    let (first, last) = match report.against {
        Traded::Price => ("the cheapest formula that keeps the other rules", "more money buys nothing"),
        Traded::Effect => (
            "the least cost per unit of strength within the other rules",
            "more cost per unit of strength buys nothing",
        ),
        Traded::Strength => ("less asks for nothing better", "the strongest that the other rules allow"),
        Traded::Count => ("the fewest that keep the other rules", "more materials add nothing"),
        _ => ("the least within the other rules", "the most within the other rules"),
    };
    line("From", ends.from, Some(ends.fidelity_from), first, Ink::Plain);
    if let Some(own) = &report.own {
        let words = match own.fidelity {
            None => "what the brief says: no formula keeps it".to_owned(),
            Some(_) => "what the brief says".to_owned(),
        };
        line("Yours", own.at, own.fidelity, &words, Ink::Strong);
    }
    if let Some(knee) = &report.knee {
        // Costs per unit of strength are small numbers: a tenth of one is a step.
        let step = if ends.to - ends.from < 2.0 {
            10f64.power((ends.to - ends.from).decimal_logarithm().floor())
        } else {
            1.0
        };
        let per = match report.against {
            Traded::Count => "for each material".to_owned(),
            Traded::Price if step == 1.0 => format!("for each {}", escaped(&report.head.currency)),
            _ if step == 1.0 => "for each unit".to_owned(),
            _ => format!("for each {}", plain(step)),
        };
        let what =
            if knee.return_after < 0.0 { "from here on the match falls most" } else { "the return falls off most" };
        let words = format!(
            "{what}: {} % points {per} up to here, {} beyond",
            slope(knee.return_before.abs() * step),
            slope(knee.return_after.abs() * step)
        );
        line("Bend", knee.at, Some(knee.fidelity), &words, Ink::Plain);
    }
    if report.against == Traded::Dose && ends.best_at > ends.from && ends.best_at < ends.to {
        line("Best", ends.best_at, Some(ends.best), "the dose with the best match", Ink::Good);
    }
    line("To", ends.to, Some(ends.fidelity_to), last, Ink::Plain);
    if !ends.proven {
        page.paragraph(out, "  ", 2, "The ends are not proven: the curve may begin and end elsewhere.", Ink::Alert);
    }
    own(report, page, out);
    doubt(report, page, out);
}

fn slope(value: f64) -> String {
    plain(round_to(value, decimals_for(value, 2, 0, 6)))
}

/// What one point costs at the user's own limit.
fn own(report: &TradeoffReport, page: &Page, out: &mut String) {
    let Some(own) = &report.own else { return };
    let Some(gain) = own.to_gain else { return };
    if report.against == Traded::Count || report.against == Traded::Dose {
        return;
    }
    let by = |amount: f64| if report.against == Traded::Strength { report.bare(amount) } else { report.amount(amount) };
    let mut said = Vec::new();
    let strength = report.against == Traded::Strength;
    // On a curve of steps the step may begin before the limit that was looked at.
    let most = if report.is_in_steps() { "at most " } else { "" };
    said.push(match own.point_more_costs {
        Some(cost) if strength => format!("one % point more costs {most}{} of strength", by(cost)),
        Some(cost) => format!("one % point more costs {most}{}", by(cost)),
        None if gain < NOTHING && strength => "less strength brings nothing".to_owned(),
        None if gain < NOTHING => "more brings nothing".to_owned(),
        None => format!("there is less than one % point to gain: {}", rounded(gain, 2)),
    });
    if let Some(saves) = own.point_less_saves.filter(|saves| *saves > 0.0) {
        let what = if strength { " more strength" } else { "" };
        let verb = if strength { "gives" } else { "saves" };
        let least = if report.is_in_steps() { "at least " } else { "" };
        said.push(format!("one % point less {verb} {least}{}{what}", by(saves)));
    }
    page.paragraph(out, "  ", 2, &format!("At what the brief says, {}.", said.join("; ")), Ink::Plain);
}

/// Whether the best formula is nearer than the one at the brief's own limit.
fn doubt(report: &TradeoffReport, page: &Page, out: &mut String) {
    let fidelity = |line: &LimitFormula| line.formula.fidelity.unwrap_or(0.0);
    let best = report.formulas.iter().reduce(|a, b| if fidelity(b) > fidelity(a) { b } else { a });
    let Some((best, count)) = best.and_then(|best| Some((best, best.nearer_in_percent?))) else { return };
    let so = if may_not_be_noticeable(count) { ": the difference may not be noticeable" } else { "" };
    let text = format!(
        "In {} draws of the scores and strengths the best formula below, at {}, is nearer than the one at what the \
         brief says{so}.",
        of_hundred(count),
        report.amount(best.at),
    );
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// Some formulas of the curve, evenly by what they gain; all of them where there
/// are few.
fn curve(report: &TradeoffReport, page: &Page, out: &mut String) {
    if report.points.is_empty() {
        return;
    }
    let count = report.points.len();
    let head = match report.against {
        Traded::Count | Traded::Dose => "The best formula with each",
        _ if report.is_in_steps() => "The best formulas on the way: each line holds until the next",
        _ => "On the way: the best formula at some limits",
    };
    page.head(out, head);
    let shown = shown(report, if page.full { ROWS } else { FEW_ROWS });
    let mut table =
        Table::new(&[Side::Right, Side::Right, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left]);
    let unit = match report.against {
        Traded::Price => "cost",
        Traded::Effect => "per unit",
        Traded::Strength => "strength",
        Traded::Count => "at most",
        _ => "dose",
    };
    let per_kg = format!("{}/kg", escaped(&report.head.currency));
    // The limit of a curve of money is the cost already.
    let is_price = report.against == Traded::Price;
    let price = if is_price { "" } else { per_kg.as_str() };
    let is_compared = page.full && report.formulas.iter().any(|line| line.nearer_in_percent.is_some());
    let compared = if is_compared { "nearer in" } else { "" };
    table.row(Ink::Faint, [unit, "match, %", "gain", compared, price, "materials", ""].map(str::to_owned).to_vec());
    let limits = aligned(&shown.iter().map(|&at| report.bare(report.points[at].at)).collect::<Vec<_>>());
    let yours = report.own.and_then(|own| report.kept_at(own.at));
    for (row, &at) in shown.iter().enumerate() {
        let point = &report.points[at];
        let gain = row.checked_sub(1).map(|before| point.fidelity - report.points[shown[before]].fidelity);
        let gain = gain.map_or_else(String::new, signed);
        let mut words = Vec::new();
        if yours == Some(at) {
            words.push("yours".to_owned());
        }
        if !point.proven {
            words.push(format!("not proven best, at most {} %", rounded_up(point.at_most, 2)));
        }
        let price = if is_price { String::new() } else { point.price.map_or_else(|| "-".to_owned(), money) };
        let parts = point.parts.0.len().to_string();
        let line = report.formulas.iter().find(|line| line.at == point.at);
        let nearer = line.and_then(|line| line.nearer_in_percent).filter(|_| is_compared);
        let nearer = nearer.map_or_else(String::new, of_hundred);
        let cells = [limits[row].clone(), rounded(point.fidelity, 2), gain, nearer, price, parts, words.join(", ")];
        table.row(if point.proven { Ink::Plain } else { Ink::Alert }, cells.to_vec());
    }
    table.write(out, page);
    if count > shown.len() {
        let text = format!("{count} were worked out; JSON and CSV have all of them, with their doses.");
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
    if report.is_in_steps() && count > 1 && page.full {
        let text = "Where a step begins was looked for at some limits only: a line may hold from a little earlier on.";
        page.paragraph(out, "  ", 2, text, Ink::Faint);
    }
    if is_compared {
        page.paragraph(out, "  ", 2, &key_of_counts("the one at what the brief says"), Ink::Plain);
    }
    let list = |limits: &[f64]| limits.iter().map(|at| report.bare(*at)).collect::<Vec<_>>().join(", ");
    if !report.without_formula.is_empty() {
        let text = format!("No formula (proven) at {}.", list(&report.without_formula));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if !report.not_computed.is_empty() {
        let text = format!("Not found out in time at {}.", list(&report.not_computed));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
}

/// The points that are shown: that of the brief's own limit among them.
fn shown(report: &TradeoffReport, rows: usize) -> Vec<usize> {
    let count = report.points.len();
    if count <= rows || report.against == Traded::Count {
        return (0..count).collect();
    }
    let heights: Vec<(f64, f64)> = report.points.iter().map(|point| (point.at, point.fidelity)).collect();
    let mut shown: Vec<usize> = report.own.and_then(|own| report.kept_at(own.at)).into_iter().collect();
    for wanted in evenly(&heights, rows) {
        let off = |at: usize| (report.points[at].at - wanted).abs();
        let nearest = (0..count).min_by(|&a, &b| off(a).total_cmp(&off(b)));
        shown.extend(nearest.filter(|at| !shown.contains(at)));
    }
    shown.sort_unstable();
    shown
}

/// What could be had over any doses: where it was asked for.
fn upper_limit(report: &TradeoffReport, page: &Page, out: &mut String) {
    if !report.shows_upper_limit || report.upper_limit.is_empty() {
        return;
    }
    page.head(out, "Upper limit, any doses and any number of materials");
    let heights: Vec<(f64, f64)> = report.upper_limit.iter().map(|upper| (upper.at, upper.fidelity)).collect();
    let mut shown: Vec<usize> = Vec::new();
    for wanted in evenly(&heights, ROWS.min(heights.len())) {
        let off = |at: usize| (heights[at].0 - wanted).abs();
        let nearest = (0..heights.len()).min_by(|&a, &b| off(a).total_cmp(&off(b)));
        shown.extend(nearest.filter(|at| !shown.contains(at)));
    }
    let mut table = Table::new(&[Side::Right, Side::Right]);
    let limits = aligned(&shown.iter().map(|&at| report.bare(heights[at].0)).collect::<Vec<_>>());
    for (limit, &at) in limits.into_iter().zip(&shown) {
        table.row(Ink::Plain, vec![limit, format!("{} %", rounded(heights[at].1, 2))]);
    }
    table.write(out, page);
    let text = "No formula lies above it; that it can be reached is not said.";
    page.paragraph(out, "  ", 2, text, Ink::Plain);
}

fn signed(gain: f64) -> String {
    let text = rounded(gain.abs(), 2);
    if text == "0.00" { text } else { format!("{}{text}", if gain > 0.0 { "+" } else { "−" }) }
}

/// What enters, leaves and stays.
fn passings(report: &TradeoffReport, page: &Page, out: &mut String) {
    if report.materials.is_empty() {
        return;
    }
    let head = match report.against {
        Traded::Count => "Materials, by the number from which on they are in",
        _ => "Materials along the curve, with their greatest dose in ‰",
    };
    page.head(out, head);
    let is_moving =
        |line: &PassingLine| line.present.iter().any(|stretch| stretch.enters.is_some() || stretch.leaves.is_some());
    // What is in every formula has little to say of the curve.
    let lines: Vec<&PassingLine> = report.materials.iter().filter(|line| page.full || is_moving(line)).collect();
    let shown = if page.full { lines.len() } else { lines.len().min(FEW_MATERIALS) };
    if !page.full {
        let staying = report.materials.iter().filter(|line| !is_moving(line));
        let staying: Vec<String> = staying.map(|line| escaped(&line.material)).collect();
        if !staying.is_empty() {
            page.paragraph(
                out,
                "  ",
                2,
                &format!("Throughout: {}.", in_short::few(&staying, 2 * FEW_MATERIALS)),
                Ink::Plain,
            );
        }
    }
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Left]);
    let most = aligned(&lines[..shown].iter().map(|line| dose_of(line.most)).collect::<Vec<_>>());
    for (line, most) in lines.iter().zip(most) {
        table.row(Ink::Plain, vec![escaped(&line.material), most, stretches(report, line)]);
    }
    table.write(out, page);
    if shown < lines.len() {
        page.paragraph(out, "  ", 2, &format!("{} more with --full.", lines.len() - shown), Ink::Plain);
    }
}

fn dose_of(ppt: f64) -> String {
    if ppt >= 1.0 { plain(round_to(ppt, 1)) } else { dose(ppt) }
}

fn stretches(report: &TradeoffReport, line: &PassingLine) -> String {
    let words = line.present.iter().map(|stretch| match (stretch.enters, stretch.leaves) {
        (None, None) => "throughout".to_owned(),
        (Some(from), None) => format!("from {}", report.bare(from)),
        (None, Some(to)) => format!("up to {}", report.bare(to)),
        (Some(from), Some(to)) if from == to => format!("at {} alone", report.bare(from)),
        (Some(from), Some(to)) => format!("{} to {}", report.bare(from), report.bare(to)),
    });
    words.collect::<Vec<_>>().join("; ")
}
