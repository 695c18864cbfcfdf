//! A finished product, on the page.

use super::formula::unfolded;
use super::page::{Ink, Page, shortened};
use super::table::{Side, Table, aligned};
use super::{care, limits};
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded, rounded_down, rounded_up, significant};
use crate::report::LimitLine;
use crate::report::product::{Batch, CategoryLine, LabelLine, ProductReport};

/// The whole report.
pub fn product(report: &ProductReport, page: &Page) -> String {
    let mut out = String::new();
    let title = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&report.file);
    page.paragraph(&mut out, "", 0, &format!("{}: the finished product", escaped(title)), Ink::Strong);
    let unfolded = unfolded(&report.unfolded);
    if !unfolded.is_empty() {
        page.paragraph(&mut out, "", 0, unfolded.trim_start(), Ink::Plain);
    }
    page.paragraph(&mut out, "", 0, &vessel(report), Ink::Plain);
    care::before_limits(&report.care, page, &mut out);
    limits::limits(&report.whole, page, &mut out);
    highest(report, page, &mut out);
    label(report, page, &mut out);
    if let Some(batch) = &report.batch {
        mix(report, batch, page, &mut out);
    }
    let lines: Vec<&LimitLine> = report.limits.iter().collect();
    let materials = report.whole.materials.clone();
    care::after_limits(&report.care, &lines, &materials, page, &mut out);
    out
}

fn highest(report: &ProductReport, page: &Page, out: &mut String) {
    let Some(highest) = report.highest_dosage_percent else { return };
    page.head(out, "Highest dosage");
    let figure = percent_down(highest);
    let (text, ink) = match (&report.highest_dosage_by, report.passed.is_empty()) {
        (None, _) => ("No limit stands in the way of any dosage.".to_owned(), Ink::Plain),
        (Some(by), _) if highest <= 0.0 => (format!("None at all: {} may not be used here.", escaped(by)), Ink::Alert),
        (Some(by), true) => {
            (format!("{figure} % concentrate keeps every limit; {} is full then.", escaped(by)), Ink::Plain)
        }
        (Some(by), false) => {
            let asked = plain(report.dosage_percent);
            (format!("{asked} % is too much: {figure} % keeps every limit; {} is full then.", escaped(by)), Ink::Alert)
        }
    };
    page.paragraph(out, "  ", 2, &text, ink);
    if report.categories.is_empty() {
        return;
    }
    out.push('\n');
    page.paragraph(
        out,
        "  ",
        2,
        "Each label of the limits files by itself, with the limits of every category",
        Ink::Faint,
    );
    let figure = |line: &CategoryLine| line.highest_dosage_percent.map_or("·".to_owned(), percent_down);
    let figures = aligned(&report.categories.iter().map(figure).collect::<Vec<_>>());
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Left, Side::Right]);
    table.row(Ink::Faint, ["", "%", "full then", "no figure for"].map(str::to_owned).to_vec());
    let mut remembered = false;
    for (line, figure) in report.categories.iter().zip(figures) {
        let from_memory = line.verified.as_ref().is_some_and(|word| word.0 == Verified::No);
        remembered |= from_memory;
        let by = match (&line.by, line.highest_dosage_percent) {
            (Some(by), _) => format!("{}{}", shortened(&escaped(by), 32), if from_memory { " *" } else { "" }),
            (None, Some(_)) => "nothing".to_owned(),
            (None, None) => "not known".to_owned(),
        };
        let lacking = match line.without_figure.len() {
            0 => "·".to_owned(),
            count => format!("{count} in it"),
        };
        table.row(Ink::Plain, vec![escaped(&line.category), figure, by, lacking]);
    }
    table.write(out, page);
    if remembered {
        page.paragraph(out, "  ", 2, "* a figure from memory", Ink::Faint);
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
    if report.label.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing that the lists name is above its share.", Ink::Plain);
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
                Verified::No => "from memory",
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
            1 => "; one more is in it and not above".to_owned(),
            _ => format!("; {below} more are in it and not above"),
        };
        let text = format!("Named above {} % of the product{others}.", plain(least));
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
}

/// What the accord is poured from, in a sentence.
fn vessel(report: &ProductReport) -> String {
    let it = &report.vessel;
    let stands = significant(it.accord_percent, 3, 1, 6);
    if it.from == "batch" {
        let label = it.label.as_deref().map_or(String::new(), |label| format!(" {}", escaped(label)));
        let date = it.date.as_deref().map_or(String::new(), |date| format!(", weighed on {date}"));
        let holds = plain(it.holds_grams.unwrap_or_default());
        return format!("Poured from the batch{label}{date}: {holds} g, in which the accord stands at {stands} %.");
    }
    if it.carriers.0.is_empty() {
        return "Nothing was weighed (no batch.toml): the accord as the formula counts it, without carriers."
            .to_owned();
    }
    format!(
        "Nothing was weighed (no batch.toml): assumed is what the usual bottles pour, in which the accord stands at \
         {stands} %. Another bottle makes another vessel."
    )
}

/// What is poured from, as the name of a row.
fn poured(report: &ProductReport) -> String {
    let stands = significant(report.vessel.accord_percent, 3, 1, 6);
    match (report.vessel.from, report.vessel.carriers.0.is_empty()) {
        (_, true) => "accord".to_owned(),
        ("batch", false) => format!("from the vessel, at {stands} %"),
        _ => format!("accord as poured from the usual bottles, at {stands} %"),
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
    let text = "Densities of ethanol and water: Council Directive 76/766/EEC. Ethanol burns: no flame near it.";
    page.paragraph(out, "  ", 2, text, Ink::Faint);
}
