//! The sheet to weigh from, on the page.

use super::formula::unfolded;
use super::overshoot::mended;
use super::page::{Ink, Page, padded, width};
use super::table::{Side, Table};
use super::{in_short, limits};
use crate::brief::Basis;
use crate::escape::escaped;
use crate::number::{plain, rounded, rounded_down, rounded_up, significant};
use crate::results::FormulaReport;
use crate::results::on_scale;
use crate::results::weigh::{MixingLine, TakenLine, TakenReport, WeighLine, WeighReport};
use crate::sentences::care::{CAUTION_AND_FIRE, FIRE, light};

/// Doses off by rounding that the short form names.
const DOSES_OFF: usize = 6;

/// Decimals that a balance with this step shows.
pub fn decimals(step: f64) -> usize {
    let text = plain(step);
    text.split_once('.').map_or(0, |(_, decimals)| decimals.len())
}

/// The sheet. What to pour is the same in the short form, in its order.
pub fn weigh(report: &WeighReport, page: &Page) -> String {
    let mut out = String::new();
    let title = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&report.formula_file);
    page.paragraph(&mut out, "", 0, &escaped(title), Ink::Strong);
    page.paragraph(&mut out, "", 0, &what(report), Ink::Plain);
    page.head(&mut out, "Weigh into one vessel, in this order");
    table(report, page, &mut out);
    if let Some(sentence) = other_bottles(report) {
        if page.full {
            out.push('\n');
        }
        page.paragraph(&mut out, "  ", 2, &sentence, Ink::Strong);
    }
    if let Some(sentence) = report.unusual_told() {
        page.paragraph(&mut out, "  ", 2, &sentence, Ink::Plain);
    }
    summary(report, page, &mut out);
    if let Some(sentence) = report.idle.as_ref().and_then(|idle| idle.sentence.as_ref()) {
        page.paragraph(&mut out, "  ", 2, &format!("Idle weight: {}.", escaped(sentence)), Ink::Alert);
    }
    remedies(report, page, &mut out);
    stock(report, page, &mut out);
    if let Some(it) = &report.taken {
        page.head(&mut out, "Taken from the stock in the palette");
        for sentence in taken(it, decimals(report.balance)) {
            page.paragraph(&mut out, "  - ", 4, &sentence, Ink::Plain);
        }
    }
    bench(report, page, &mut out);
    if page.full {
        precision(report, page, &mut out);
    }
    if let Some(overshoot) = &report.overshoot {
        mended(report, overshoot, page, &mut out);
    }
    if !page.full {
        limits_in_short(report, page, &mut out);
        out.push('\n');
        page.paragraph(&mut out, "", 0, CAUTION_AND_FIRE, Ink::Faint);
        let light = light(&report.care.phototoxic);
        light.iter().for_each(|light| page.paragraph(&mut out, "", 0, &escaped(&format!("{light}.")), Ink::Faint));
        page.full_adds(&mut out, "every limit, labels for dilutions, and how near the balance comes");
        return out;
    }
    if report.care.limits_applied {
        page.head(&mut out, "Limits, of what is weighed");
        let (limits, joints, advice) = (report.limits.clone(), report.joints.clone(), report.advice.clone());
        limits::limits(&FormulaReport { limits, joints, advice, ..FormulaReport::default() }, page, &mut out);
    }
    for sentence in unchecked(report) {
        out.push('\n');
        page.paragraph(&mut out, "", 0, &sentence, Ink::Alert);
    }
    out.push('\n');
    page.paragraph(&mut out, "", 0, report.care.caution, Ink::Faint);
    if let Some(light) = light(&report.care.phototoxic) {
        page.paragraph(&mut out, "", 0, &escaped(&format!("{light}.")), Ink::Faint);
    }
    page.paragraph(&mut out, "", 0, FIRE, Ink::Faint);
    out
}

/// Limits of what is weighed: what is exceeded and what was not checked by
/// name, of the others the fullest.
fn limits_in_short(report: &WeighReport, page: &Page, out: &mut String) {
    let lines: Vec<in_short::Called> = report.limits.iter().map(|line| (None, line)).collect();
    in_short::limits(&report.care, &lines, report.joints.iter(), page, out);
}

/// What was not checked, a sentence each.
pub fn unchecked(report: &WeighReport) -> Vec<String> {
    let coverage = report.care.coverage.as_ref();
    let known = coverage.map(|coverage| escaped(&coverage.sentences().join(" "))).filter(|text| !text.is_empty());
    let unknown = match (&known, &report.care.unknown_constituents[..]) {
        (Some(_), _) | (None, []) => None,
        (None, names) => {
            Some(format!("Not fully checked, naturals of unknown constituents: {}.", escaped(&names.join(", "))))
        }
    };
    known.into_iter().chain(unknown).chain(report.care.not_checked.iter().map(|sentence| escaped(sentence))).collect()
}

/// What is weighed, in a sentence.
pub fn what(report: &WeighReport) -> String {
    let of = if report.basis == Basis::Neat { "of neat accord" } else { "as poured from the usual bottles" };
    let unfolded = unfolded(&report.unfolded);
    format!("{} g {of}, on a balance that shows {} g.{unfolded}", plain(report.batch), plain(report.balance))
}

/// A number of percent as it stands on a bottle; nothing for neat material.
pub fn bottle(percent: f64) -> String {
    if percent >= 100.0 { "neat".to_owned() } else { format!("{} %", plain(percent)) }
}

fn table(report: &WeighReport, page: &Page, out: &mut String) {
    let places = decimals(report.balance);
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left]);
    let head = ["", "bottle", "grams", "reading", "error", ""].map(str::to_owned).to_vec();
    table.row(Ink::Faint, head);
    for line in &report.lines {
        let error = format!("{} %", significant(line.error_percent, 2, 0, 3));
        let ink = match line {
            _ if line.below_least || line.stock_missing.is_some() => Ink::Alert,
            _ if line.other_bottle => Ink::Strong,
            _ => Ink::Plain,
        };
        let cells = vec![
            escaped(&line.material),
            bottle_column(line),
            rounded(line.grams, places),
            rounded(line.reading, places),
            error,
            column_marks(line),
        ];
        table.row(ink, cells);
    }
    if let Some(top) = report.top_up.as_ref().filter(|top| top.left_grams > 0.0) {
        let carrier = top.carrier.as_deref().map_or("a solvent".to_owned(), escaped);
        let grams = rounded(top.left_grams, places);
        let cells = vec![carrier, "neat".into(), grams, rounded(top.reading, places), String::new(), "fills up".into()];
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
}

/// What is marked beside a line.
pub fn marks(line: &WeighLine) -> String {
    let marks: Vec<String> =
        line.other_bottle.then(|| not_usual(line)).into_iter().chain(short_marks(line).map(str::to_owned)).collect();
    marks.join(", ")
}

/// What the balance and the bottle lack.
fn short_marks(line: &WeighLine) -> impl Iterator<Item = &'static str> {
    line.below_least.then_some("too little").into_iter().chain(line.stock_missing.map(|_| "short"))
}

/// The marks where the bottle stands with the usual one in a column of its own,
/// and the handling in a section of its own: as many as a line holds.
fn column_marks(line: &WeighLine) -> String {
    let handled = line.handling.as_ref().map(|_| "bench");
    short_marks(line).chain(handled).take(2).collect::<Vec<_>>().join(", ")
}

/// The bottle, and where it is another one the usual one.
fn bottle_column(line: &WeighLine) -> String {
    let own = bottle(line.bottle_percent);
    if line.other_bottle { format!("{own}, not {}", bottle(line.usual_percent)) } else { own }
}

/// What a line has that is poured from another bottle than the usual one.
fn not_usual(line: &WeighLine) -> String {
    match line.usual_percent >= 100.0 {
        true => "not neat as usual".to_owned(),
        false => format!("not the usual {}", bottle(line.usual_percent)),
    }
}

/// What is poured from another bottle than the one that reports of formulas
/// count on, in a sentence: the same grams of either look alike.
pub fn other_bottles(report: &WeighReport) -> Option<String> {
    let others: Vec<String> = report
        .lines
        .iter()
        .filter(|line| line.other_bottle)
        .map(|line| format!("{} {}, {}", escaped(&line.material), bottle(line.bottle_percent), not_usual(line)))
        .collect();
    (!others.is_empty()).then(|| format!("ANOTHER BOTTLE THAN USUAL: {}.", others.join("; ")))
}

fn summary(report: &WeighReport, page: &Page, out: &mut String) {
    out.push('\n');
    if page.full {
        for sentence in poured(report).into_iter().chain(money(report)) {
            page.paragraph(out, "  ", 2, &sentence, Ink::Plain);
        }
        return;
    }
    let mut said = poured(report);
    said.extend(money(report));
    said.push(nearness_in_short(report));
    page.paragraph(out, "  ", 2, &said.join(" "), Ink::Plain);
}

/// What rounding does to the match and to the doses.
fn nearness_in_short(report: &WeighReport) -> String {
    let it = &report.rounding;
    let matched = match it.fidelity_wanted.zip(it.fidelity_weighed) {
        Some((wanted, weighed)) => {
            format!("As weighed the match is {} % (formula {} %). ", rounded(weighed, 2), rounded(wanted, 2))
        }
        None => String::new(),
    };
    let off: Vec<String> = off_by_rounding(report).map(dose_off).collect();
    match &off[..] {
        [] => format!("{matched}Every dose is within 0.5 % of the formula."),
        off => format!("{matched}Doses more than 0.5 % off: {}.", in_short::few(off, DOSES_OFF)),
    }
}

/// Lines whose dose in the vessel is more than half a percent off.
fn off_by_rounding(report: &WeighReport) -> impl Iterator<Item = &WeighLine> {
    let is_off = |line: &&WeighLine| (line.parts_weighed - line.parts.as_f64()).abs() > 0.005 * line.parts.as_f64();
    report.lines.iter().filter(is_off)
}

/// `Eugenol 20.26 ‰ for 21`.
fn dose_off(line: &WeighLine) -> String {
    format!("{} {} ‰ for {}", escaped(&line.material), significant(line.parts_weighed, 4, 0, 6), line.parts)
}

/// What is in the vessel in the end, a sentence each.
pub fn poured(report: &WeighReport) -> Vec<String> {
    let places = decimals(report.balance);
    let grams = |grams: f64| format!("{} g", rounded(grams, places));
    let concentration = |percent: f64| significant(percent, 3, 1, 6);
    let mut said = Vec::new();
    if report.carriers.0.is_empty() {
        said.push(format!("{} are poured, all of it neat.", grams(report.poured_grams)));
    } else {
        let carriers: Vec<String> =
            report.carriers.0.iter().map(|(name, it)| format!("{} of {}", grams(*it), escaped(name))).collect();
        let top = if report.basis == Basis::Neat { ", on top of the formula" } else { "" };
        said.push(format!(
            "{} are poured, of which the bottles bring {}{top}. Accord concentration as poured: {} %.",
            grams(report.poured_grams),
            carriers.join(" and "),
            concentration(report.concentration_percent)
        ));
    }
    if let Some(top) = &report.top_up {
        let fits = rounded_down(top.batch_that_fits, 4).trim_end_matches('0').trim_end_matches('.').to_owned();
        if top.too_much_grams > 0.0 {
            said.push(format!(
                "That is already {} too much for {} in all: a batch of {fits} g fits into it.",
                grams(top.too_much_grams),
                grams(top.total)
            ));
        } else {
            let carrier = top.carrier.as_deref().map_or("a solvent (the palette has none)".to_owned(), escaped);
            said.push(format!(
                "For {} in all {} of {carrier} are left to add. Accord concentration then: {} %.",
                grams(top.total),
                grams(top.left_grams),
                concentration(top.concentration_percent)
            ));
        }
    }
    said
}

/// What the batch costs.
pub fn money(report: &WeighReport) -> Option<String> {
    match report.cost {
        Some(cost) => {
            let amount = significant(cost, 3, 2, 6);
            Some(format!("It costs {amount} {}.", escaped(&report.currency)))
        }
        None => {
            let names: Vec<String> = report.without_price.iter().map(|name| escaped(name)).collect();
            Some(format!("Its cost is not known: {} has no price in the palette.", names.join(", ")))
        }
    }
}

fn remedies(report: &WeighReport, page: &Page, out: &mut String) {
    if report.lines.iter().all(|line| !line.below_least) {
        return;
    }
    page.head(out, "Too little for this balance");
    page.paragraph(out, "  ", 2, &least(report), Ink::Plain);
    for line in report.lines.iter().filter(|line| line.below_least) {
        let places = decimals(report.balance);
        let text = if page.full { remedy(line, places) } else { dilution_to_make(line, places) };
        page.paragraph(out, "  - ", 4, &text, Ink::Plain);
    }
    page.paragraph(out, "  ", 2, &smallest(report), Ink::Plain);
}

/// The least mass, and why.
pub fn least(report: &WeighReport) -> String {
    let least = plain(report.least);
    match report.error {
        Some(error) => format!(
            "Below {least} g half a step of the balance is more than {} %. Draught and hand come on top.",
            plain(error)
        ),
        None => format!(
            "Below {least} g, 820 steps of the balance, a weighing does not meet 0.10 % even on the best balance \
             (USP general chapter 41, minimum weight)."
        ),
    }
}

/// The smallest batch that needs none of the dilutions.
pub fn smallest(report: &WeighReport) -> String {
    format!("Or weigh {} g or more of the formula: that needs no other bottle.", up(report.smallest_batch))
}

/// A mass rounded up to three digits or so.
pub fn up(grams: f64) -> String {
    let places = crate::number::decimals_for(grams, 3, 0, 6);
    rounded_up(grams, places)
}

/// What to do about one line, with the label to write.
pub fn remedy(line: &WeighLine, places: usize) -> String {
    let label = line.remedy.as_ref().map_or(String::new(), |remedy| format!(" Label: {}.", escaped(&remedy.label)));
    dilution_to_make(line, places) + &label
}

/// The dilution to make of one line, and how much to pour of it.
fn dilution_to_make(line: &WeighLine, places: usize) -> String {
    let name = escaped(&line.material);
    let has = format!("{name}: {} g from the {} bottle", rounded(line.grams, places), bottle(line.bottle_percent));
    let has =
        if line.bottle_percent >= 100.0 { format!("{name}: {} g neat", rounded(line.grams, places)) } else { has };
    let Some(remedy) = &line.remedy else { return format!("{has}. No usual dilution helps; a larger batch does.") };
    let carrier = escaped(&remedy.carrier);
    let mixings: Vec<String> = remedy.mixings.iter().map(|it| mixing(it, &carrier, places)).collect();
    format!(
        "{has}. Make a dilution of {} %: {}. Then pour {} g of it.",
        plain(remedy.percent),
        mixings.join("; then "),
        rounded(remedy.grams, places)
    )
}

fn mixing(it: &MixingLine, carrier: &str, places: usize) -> String {
    let from = if it.from_percent >= 100.0 { String::new() } else { format!(" of the {} %", plain(it.from_percent)) };
    format!(
        "{} g{from} in {} g of {carrier} gives {} %",
        rounded(it.take_grams, places),
        rounded(it.carrier_grams, places),
        significant(it.gives_percent, 4, 0, 6).parse::<f64>().map_or_else(|_| plain(it.gives_percent), plain)
    )
}

fn stock(report: &WeighReport, page: &Page, out: &mut String) {
    let short: Vec<&WeighLine> = report.lines.iter().filter(|line| line.stock_missing.is_some()).collect();
    if short.is_empty() {
        return;
    }
    page.head(out, "The bottles hold too little");
    for sentence in missing(report) {
        page.paragraph(out, "  - ", 4, &sentence, Ink::Plain);
    }
}

/// What the bottles lack, and the largest batch.
pub fn missing(report: &WeighReport) -> Vec<String> {
    let places = decimals(report.balance);
    let mut said = Vec::new();
    for line in &report.lines {
        if let (Some(stock), Some(missing)) = (line.stock, line.stock_missing) {
            let (has, lacks) = (plain(stock), rounded(missing, places));
            said.push(format!("{}: {has} g on hand, {lacks} g are missing.", escaped(&line.material)));
        }
    }
    if let Some(largest) = report.largest_batch.filter(|_| !said.is_empty()) {
        let places = crate::number::decimals_for(largest, 4, 0, 6);
        said.push(format!("What is on hand allows a batch of {} g.", rounded_down(largest, places)));
    }
    said
}

/// What is taken from the stock, a line each.
pub fn taken(it: &TakenReport, places: usize) -> Vec<String> {
    let line = |line: &TakenLine| {
        let poured = rounded(line.poured, places);
        let name = escaped(&line.material);
        format!("{name}: {} g less {poured} g leaves {} g", plain(line.before), plain(line.after))
    };
    let names: Vec<String> = it.not_counted.iter().map(|name| escaped(name)).collect();
    let passed = (!names.is_empty())
        .then(|| format!("Nothing of {}: no stock on file, or another bottle than the usual one", names.join(", ")));
    it.lines.iter().map(line).chain(passed).collect()
}

fn bench(report: &WeighReport, page: &Page, out: &mut String) {
    let handled: Vec<String> = report.lines.iter().filter_map(handling).collect();
    let specified =
        report.care.specifications.iter().map(|it| format!("{}: {}", escaped(&it.substance), escaped(&it.text)));
    // Purity is read when stock is bought: what is poured comes first.
    let lines: Vec<String> = handled.into_iter().chain(specified.filter(|_| page.full)).collect();
    if !lines.is_empty() {
        page.head(out, "At the bench");
    }
    for line in lines {
        page.paragraph(out, "  - ", 4, &line, Ink::Plain);
    }
}

/// What to do before or while weighing a line.
fn handling(line: &WeighLine) -> Option<String> {
    line.handling.as_ref().map(|text| format!("{}: {}", escaped(&line.material), escaped(text)))
}

fn precision(report: &WeighReport, page: &Page, out: &mut String) {
    page.head(out, "How near the balance comes");
    for sentence in nearness(report) {
        page.paragraph(out, "  ", 2, &sentence, Ink::Plain);
    }
    let lines: Vec<&WeighLine> = off_by_rounding(report).collect();
    if lines.is_empty() {
        page.paragraph(out, "  ", 2, "Every dose is within 0.5 % of what the formula says.", Ink::Plain);
        return;
    }
    page.paragraph(out, "  ", 2, "Doses that are more than 0.5 % off:", Ink::Plain);
    let widest = lines.iter().map(|line| width(&escaped(&line.material))).max().unwrap_or(0).min(40);
    for line in lines {
        let first = format!("    {}  ", padded(&escaped(&line.material), widest));
        let text = format!("{} ‰ for {}", significant(line.parts_weighed, 4, 0, 6), line.parts);
        page.paragraph(out, &first, widest + 6, &text, Ink::Plain);
    }
}

/// What rounding and the errors of the weighings do, a sentence each.
pub fn nearness(report: &WeighReport) -> Vec<String> {
    let mut said = Vec::new();
    let it = &report.rounding;
    let moved = significant(it.share_distance, 2, 2, 4);
    let best = if it.proven { "the nearest that this balance allows (proven)" } else { "the nearest found" };
    match (it.fidelity_wanted, it.fidelity_weighed, it.second_wanted, it.second_weighed) {
        (Some(wanted), Some(weighed), Some(second), Some(second_weighed)) => said.push(format!(
            "The masses are rounded together, {best}: {moved} % of the odour is not where the formula has it. The \
             match is {} % where the formula has {} %; second opinion {} % and {} %.",
            rounded(weighed, 2),
            rounded(wanted, 2),
            rounded(second_weighed, 2),
            rounded(second, 2)
        )),
        _ => said.push(format!(
            "The masses are rounded together, {best}: {moved} % of the odour is not where the formula has it. \
             Without a brief (--brief) nearness is judged by odour shares alone."
        )),
    }
    if let Some(simulation) = &report.simulation {
        let widest = report.profile.iter().max_by(|a, b| (a.high - a.low).total_cmp(&(b.high - b.low)));
        let of = widest.map_or(String::new(), |line| {
            format!(
                "; {} moves most, from {} to {}",
                escaped(&line.descriptor),
                rounded(line.low, 2),
                rounded(line.high, 2)
            )
        });
        let fidelity = match (simulation.fidelity_low, simulation.fidelity_high) {
            (Some(low), Some(high)) => format!(" a match from {} to {} %,", rounded(low, 2), rounded(high, 2)),
            _ => String::new(),
        };
        said.push(format!(
            "With every reading off by up to half a step, {} of {} simulated batches (seed {}) have{fidelity} each \
             descriptor within {} {}{of}.",
            plain(simulation.draws as f64 * simulation.inside_percent / 100.0),
            simulation.draws,
            report.seed,
            rounded_up(simulation.widest, 2),
            on_scale(report.scale)
        ));
    }
    said
}
