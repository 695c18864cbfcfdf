//! A finished product, on the page.

use super::formula::unfolded;
use super::page::{Ink, Page, shortened, width};
use super::table::{Side, Table, aligned};
use super::{care, in_short, limits};
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded, rounded_down, rounded_up, significant};
use crate::results::LimitLine;
use crate::results::limits::VerifiedWord;
use crate::results::product::{Batch, CategoryLine, LabelLine, ProductReport};
use crate::results::states::{FigureKnown, PouredFrom};
use crate::sentences::care::{CAUTION_AND_FIRE, FIRE};

/// The limits that are nearest to their end in the short form.
const TIGHTEST: usize = 3;

/// The whole report; in short the verdict, the names for the label and what to
/// mix.
pub fn product(report: &ProductReport, page: &Page) -> String {
    let mut out = String::new();
    let title = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&report.file);
    page.paragraph(&mut out, "", 0, &format!("{}: the finished product", escaped(title)), Ink::Strong);
    let unfolded = unfolded(&report.unfolded);
    if !unfolded.is_empty() {
        page.paragraph(&mut out, "", 0, unfolded.trim_start(), Ink::Plain);
    }
    page.paragraph(&mut out, "", 0, &vessel(report), Ink::Plain);
    verdict(report, page, &mut out);
    label(report, page, &mut out);
    if let Some(batch) = &report.batch {
        mix(report, batch, page, &mut out);
    }
    if !page.full {
        out.push('\n');
        page.paragraph(&mut out, "", 0, CAUTION_AND_FIRE, Ink::Faint);
        let more = "every limit with its use, the highest dosage in each category, what the label names come from, \
                    the sources of the limits, and the handling of the materials";
        page.full_adds(&mut out, more);
        return out;
    }
    care::before_limits(&report.care, page, &mut out);
    limits::limits(&report.whole, page, &mut out);
    highest(report, page, &mut out);
    let lines: Vec<&LimitLine> = report.limits.iter().collect();
    care::after_limits(&report.care, &lines, &report.whole.materials, page, &mut out);
    out
}

/// Whether the limits are kept, which are the tightest, how high the dosage may
/// be, and what was not checked.
fn verdict(report: &ProductReport, page: &Page, out: &mut String) {
    out.push('\n');
    let mut line = |label: &str, words: &str, ink: Ink| {
        let first = format!("  {label:<16}  ");
        page.paragraph(out, &first, width(&first), words, ink);
    };
    let at = format!("At {} %", plain(report.dosage_percent));
    let limits: Vec<in_short::Called> = report.limits.iter().map(|line| (None, line)).collect();
    let exceeded = in_short::exceeded(&limits, report.joints.iter());
    let is_complete = report.care.coverage.as_ref().is_some_and(|coverage| coverage.complete);
    let (words, ink) = match () {
        () if !exceeded.is_empty() => (format!("EXCEEDED: {}", exceeded.join("; ")), Ink::Alert),
        () if !report.care.limits_applied && !is_complete => ("nothing was checked".to_owned(), Ink::Alert),
        () if is_complete => ("every limit on file is kept, and every material was looked up".to_owned(), Ink::Good),
        () => ("no limit on file is exceeded, but not everything was checked".to_owned(), Ink::Strong),
    };
    line(&at, &words, ink);
    for (at, sentence) in in_short::unchecked(&report.care).iter().enumerate() {
        line(if at == 0 { "Not checked" } else { "" }, sentence, Ink::Alert);
    }
    if let Some(tightest) = in_short::tightest(&limits, TIGHTEST) {
        line("Tightest", &tightest, Ink::Plain);
    }
    if report.care.coverage.as_ref().is_some_and(|coverage| coverage.materials > 0) {
        let (text, ink) = match report.highest_dosage_percent {
            Some(_) => established(report),
            None => (not_established(report), Ink::Alert),
        };
        line("Highest dosage", &text, ink);
    }
}

/// The highest dosage in each category.
fn highest(report: &ProductReport, page: &Page, out: &mut String) {
    if report.categories.is_empty() || report.care.coverage.as_ref().is_none_or(|coverage| coverage.materials == 0) {
        return;
    }
    page.head(out, "Highest dosage in each category of the limits files");
    page.paragraph(
        out,
        "  ",
        2,
        "Each category by itself, with the limits that hold in every one: the highest dosage where every material has \
         a figure there or was looked up and is free, and what the figures on file allow.",
        Ink::Plain,
    );
    by_category(report, page, out);
}

/// The highest dosage where everything that is in the formula was looked up.
fn established(report: &ProductReport) -> (String, Ink) {
    let figure = report.highest_dosage_percent.map(percent_down).unwrap_or_default();
    let mark = figure_mark(report.highest_dosage_verified.as_ref());
    match &report.highest_dosage_by {
        None => ("no limit on file is reached at any dosage; every material was looked up".to_owned(), Ink::Plain),
        Some(by) if report.highest_dosage_percent == Some(0.0) => {
            (format!("none: {} may not be used here{mark}", escaped(by)), Ink::Alert)
        }
        Some(by) if report.passed.is_empty() => {
            let text = format!("{figure} % concentrate: {} reaches its limit first{mark}", escaped(by));
            (text, Ink::Plain)
        }
        Some(by) => {
            let asked = plain(report.dosage_percent);
            let text = format!("{asked} % is too much: at {figure} % {} reaches its limit{mark}", escaped(by));
            (text, Ink::Alert)
        }
    }
}

/// What is said in the place of a highest dosage that nobody knows: what the
/// figures on file allow.
fn not_established(report: &ProductReport) -> String {
    let Some(highest) = report.highest_dosage_by_figures_percent else {
        return "not established: nothing in the formula has a figure on file".to_owned();
    };
    let mark = figure_mark(report.highest_dosage_verified.as_ref());
    let then = match &report.highest_dosage_by {
        None => "no limit is reached at any dosage".to_owned(),
        Some(by) if highest <= 0.0 => format!("none, {} may not be used here{mark}", escaped(by)),
        Some(by) => format!("{} %, {} reaches its limit first{mark}", percent_down(highest), escaped(by)),
    };
    let too_much = match report.passed.is_empty() {
        true => String::new(),
        false => format!("; {} % is too much even so", plain(report.dosage_percent)),
    };
    format!("not established; by the figures on file {then}{too_much}")
}

/// What is said of a figure that was not checked in its source.
fn figure_mark(verified: Option<&VerifiedWord>) -> &'static str {
    match verified.map(|word| &word.0) {
        Some(verified) => in_short::sure(verified),
        None => "",
    }
}

fn by_category(report: &ProductReport, page: &Page, out: &mut String) {
    let lines = &report.categories;
    let figures = |of: &dyn Fn(&CategoryLine) -> Option<f64>| {
        aligned(&lines.iter().map(|line| of(line).map_or("·".to_owned(), percent_down)).collect::<Vec<_>>())
    };
    let highest = figures(&|line| line.highest_dosage_percent);
    // A dosage of 100 that no figure stands against is no finding.
    let by_figures = figures(&|line| line.highest_dosage_by_figures_percent.filter(|_| line.by.is_some()));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Left, Side::Right]);
    table
        .row(Ink::Faint, ["", "highest, %", "by figures", "first at its limit", "lacking"].map(str::to_owned).to_vec());
    let (mut remembered, mut partly) = (false, false);
    for (at, line) in lines.iter().enumerate() {
        let mark = match line.verified.as_ref().map(|word| &word.0) {
            Some(Verified::No) => " *",
            Some(Verified::Text(_)) => " **",
            _ => "",
        };
        (remembered, partly) = (remembered || mark == " *", partly || mark == " **");
        let by = match &line.by {
            Some(by) => format!("{}{mark}", shortened(&escaped(by), 21)),
            None if line.highest_dosage_percent.is_some() => "nothing, all looked up".to_owned(),
            None if line.highest_dosage_by_figures_percent.is_some() => "none of the figures".to_owned(),
            None => "not known".to_owned(),
        };
        let lacking = match line.materials - line.with_figure {
            0 => "·".to_owned(),
            count => format!("{count} of {}", line.materials),
        };
        let cells = vec![escaped(&line.category), highest[at].clone(), by_figures[at].clone(), by, lacking];
        table.row(Ink::Plain, cells);
    }
    table.write(out, page);
    if remembered {
        page.paragraph(out, "  ", 2, "* unverified (from memory)", Ink::Plain);
    }
    if partly {
        page.paragraph(out, "  ", 2, "** partly verified", Ink::Plain);
    }
}

/// A percentage to four digits, never more than it is.
fn percent_down(percent: f64) -> String {
    rounded_down(percent, decimals_for(percent, 4, 0, 6))
}

fn label(report: &ProductReport, page: &Page, out: &mut String) {
    page.head(out, "Names for the label");
    if !report.label_checked {
        let text = "NOT LOOKED AT: no limits file lists what must be named in these categories.";
        return page.paragraph(out, "  ", 2, text, Ink::Alert);
    }
    if !report.care.unknown_constituents.is_empty() {
        let names: Vec<String> = report.care.unknown_constituents.iter().map(|name| escaped(name)).collect();
        let text = format!("Not complete: the constituents of {} are unknown.", names.join(" and "));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    let without_number = report.without_figure.iter().filter(|line| line.reason == FigureKnown::NoCas);
    let mut unnumbered: Vec<String> = without_number.map(|line| escaped(&line.material)).collect();
    unnumbered.dedup();
    if !unnumbered.is_empty() {
        let text = format!("Not complete: the lists go by CAS number, and these have none: {}.", unnumbered.join(", "));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    if report.label.is_empty() {
        let text = match (&report.care.unknown_constituents[..], &unnumbered[..], report.label_list_complete) {
            ([], [], true) => "Nothing that the lists name is above its share, and the lists are complete.",
            _ => "Nothing that the lists name is above its share.",
        };
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    } else if !page.full {
        let marked = |line: &LabelLine| format!("{}{}", escaped(&line.name), in_short::sure(&line.verified.0));
        let names: Vec<String> = report.label.iter().map(marked).collect();
        page.paragraph(out, "  ", 2, &format!("{}.", names.join(", ")), Ink::Strong);
    } else {
        let figure = |line: &LabelLine| rounded_up(line.percent, decimals_for(line.percent, 3, 3, 6));
        let figures = aligned(&report.label.iter().map(figure).collect::<Vec<_>>());
        let mut table = Table::new(&[Side::Left, Side::Right, Side::Left, Side::Left]);
        table.row(Ink::Faint, ["", "%", "from", ""].map(str::to_owned).to_vec());
        for (line, figure) in report.label.iter().zip(figures) {
            let from: Vec<String> = line.from.0.iter().take(2).map(|(name, _)| escaped(name)).collect();
            let more = line.from.0.len().saturating_sub(2);
            let more = if more == 0 { String::new() } else { format!(" and {more} more") };
            let mark = match line.verified.0 {
                Verified::No => "unverified (from memory)",
                _ => "",
            };
            let cells = vec![escaped(&line.name), figure, format!("{}{more}", from.join(", ")), mark.to_owned()];
            table.row(Ink::Plain, cells);
        }
        table.write(out, page);
    }
    let shares: Vec<f64> = report.label.iter().chain(&report.below_label).map(|line| line.above_percent).collect();
    if let Some(least) = shares.iter().copied().reduce(f64::min) {
        let below = report.below_label.len();
        let others = match below {
            0 => String::new(),
            1 => "; one more substance of the lists is in it at no more than that".to_owned(),
            _ => format!("; {below} more substances of the lists are in it at no more than that"),
        };
        let text = format!("To be named above {} % of the product{others}.", plain(least));
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
}

/// What the accord is poured from, in a sentence.
fn vessel(report: &ProductReport) -> String {
    let it = &report.vessel;
    let percent = significant(it.accord_percent, 3, 1, 6);
    let category: Vec<String> = report.category.iter().map(|label| escaped(label)).collect();
    let share = report.accord_share_percent;
    let share = if share < 100.0 { format!(", {} % of it this accord", plain(share)) } else { String::new() };
    let word = if category.len() == 1 { "category" } else { "categories" };
    let dosage = plain(report.dosage_percent);
    let asked = format!("{dosage} % concentrate{share}, {word} {}.", category.join(", "));
    if it.from == PouredFrom::Batch {
        let label = it.label.as_deref().map_or(String::new(), |label| format!(" {}", escaped(label)));
        let date = it.date.as_deref().map_or(String::new(), |date| format!(", weighed on {date}"));
        let holds = plain(it.holds_grams.unwrap_or_default());
        return format!("{asked} From the batch{label}{date}: {holds} g, accord concentration as poured: {percent} %.");
    }
    if it.carriers.0.is_empty() {
        return format!("{asked} Nothing was weighed (no batch.toml): the accord as in the formula, without solvent.");
    }
    format!(
        "{asked} Accord concentration as poured: {percent} %, from the usual bottles; nothing was weighed (no \
         batch.toml)."
    )
}

/// What is poured from, as the name of a row.
fn poured(report: &ProductReport) -> String {
    let percent = significant(report.vessel.accord_percent, 3, 1, 6);
    match (report.vessel.from, report.vessel.carriers.0.is_empty()) {
        (_, true) => "accord".to_owned(),
        (PouredFrom::Batch, false) => format!("from the vessel, {percent} % accord"),
        _ => format!("as poured from the usual bottles, {percent} % accord"),
    }
}

/// What is in that, where it is not accord alone.
fn within(batch: &Batch) -> Option<String> {
    let carriers: Vec<String> =
        batch.carriers.0.iter().map(|(name, grams)| format!("{} g of {}", rounded(*grams, 3), escaped(name))).collect();
    (!carriers.is_empty()).then(|| {
        let take = if carriers.len() == 1 { "takes" } else { "take" };
        format!(
            "{} g hold {} g of accord and {}, which {take} the place of as much ethanol and water.",
            rounded(batch.vessel_grams, 3),
            rounded(batch.accord_grams, 3),
            carriers.join(" and ")
        )
    })
}

fn mix(report: &ProductReport, batch: &Batch, page: &Page, out: &mut String) {
    page.head(out, &format!("To mix {} g", plain(batch.product_grams)));
    let mut rows = vec![(poured(report), batch.vessel_grams, None)];
    if batch.rest_grams > 0.0 {
        rows.push(("rest of the concentrate".to_owned(), batch.rest_grams, None));
    }
    let ethanol = format!("ethanol of {} % by volume", plain(batch.ethanol_percent));
    rows.push((ethanol, batch.ethanol_grams, Some(batch.ethanol_ml)));
    if batch.water_grams > 0.0 {
        rows.push(("water".to_owned(), batch.water_grams, Some(batch.water_ml)));
    }
    let grams = aligned(&rows.iter().map(|row| rounded(row.1, 3)).collect::<Vec<_>>());
    let volumes = rows.iter().map(|row| row.2.map_or(String::new(), |ml| format!("{} ml", rounded(ml, 1))));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right]);
    table.row(Ink::Faint, ["", "g", "at 20 °C"].map(str::to_owned).to_vec());
    for ((row, grams), volume) in rows.iter().zip(grams).zip(volumes.collect::<Vec<_>>()) {
        table.row(Ink::Plain, vec![row.0.clone(), grams, volume]);
    }
    table.write(out, page);
    if let Some(text) = within(batch) {
        page.paragraph(out, "  ", 2, &text, Ink::Strong);
    }
    if let (Some(missing), Some(holds)) = (batch.missing_grams, report.vessel.holds_grams) {
        let most = batch.product_grams * holds / batch.vessel_grams;
        let text = format!(
            "The vessel holds {} g, {} g too little: it makes {} g of product.",
            plain(holds),
            rounded_up(missing, 3),
            rounded_down(most, 2)
        );
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    if batch.water_grams > 0.0 {
        let text = format!(
            "Ethanol and water together: {} ml of {} % by volume, less than the sum of both. Add the water last, \
             slowly; it may turn cloudy.",
            rounded(batch.solvent_ml, 1),
            plain(batch.solvent_percent)
        );
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if let Some(price) = batch.accord_price {
        let text = format!("The accord in it costs {} {}.", rounded(price, 2), escaped(&report.currency));
        page.paragraph(out, "  ", 2, &text, Ink::Plain);
    }
    if page.full {
        let text = "Densities of ethanol and water: Council Directive 76/766/EEC.";
        page.paragraph(out, "  ", 2, text, Ink::Faint);
        page.paragraph(out, "  ", 2, FIRE, Ink::Faint);
    }
}
