//! The sheet to weigh from, to print and to write on.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::kit::to_mind;
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded, rounded_up, significant};
use crate::results::LimitLine;
use crate::results::weigh::{Overshoot, WayOut, WeighLine, WeighReport};
use crate::sentences::care::CAUTIONS_HEAD;
use crate::text::sheet::{
    DOES_NOT_KEEP, NOTHING_OVER, bottle, broken, comes_to, decimals, fresh, keeps, least, marks, missing, money,
    nearness, no_room, other_bottles, poured, remedy, smallest, unchecked, vessel, ways, what,
};

const STYLE: &str = "\
@page { size: A4; margin: 14mm 12mm }
* { box-sizing: border-box }
body { font: 10.5pt/1.35 system-ui, sans-serif; color: #111; background: #fff; max-width: 186mm; margin: 0 auto; padding: 4mm }
h1 { font-size: 16pt; margin: 0 0 1mm } h2 { font-size: 11.5pt; margin: 6mm 0 1mm }
p { margin: 1mm 0 } ul { margin: 1mm 0; padding-left: 5mm }
table { border-collapse: collapse; width: 100%; margin-top: 3mm }
thead { display: table-header-group } tr { break-inside: avoid }
th { text-align: left; font-size: 8.5pt; border-bottom: 1.2pt solid #111; padding: 1mm }
td { border-bottom: .5pt solid #999; padding: 1.6mm 1mm; vertical-align: top }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap }
.g { font-weight: 700; font-size: 12pt } .box { width: 4.5mm; height: 4.5mm; border: 1pt solid #111; display: inline-block }
.actual { width: 19mm; border: .5pt solid #999 } .lot { width: 18mm } .seen { width: 24mm } .mark { font-weight: 700 } .small { font-size: 8.5pt; color: #333 }
.fill { display: flex; gap: 6mm; margin: 3mm 0 } .fill span { flex: 1; border-bottom: .5pt solid #111; padding-bottom: 4mm }
.notes { border: .5pt solid #999; height: 40mm; margin-top: 2mm }
footer { margin-top: 6mm; border-top: 1pt solid #111; padding-top: 2mm; font-size: 9pt }
section { break-inside: avoid }
";

/// The page. Names and texts of the user's are escaped.
pub fn weigh(report: &WeighReport) -> String {
    let title = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&report.formula_file);
    let title = escaped(title);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Weigh: " (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { (title) }
                p { (what(report)) " Weigh into one vessel, in this order; the reading is what the balance then shows." }
                div.fill { span { "Date" } span { "Weighed by" } span { "Batch no." } span { "Vessel, g" } }
                @if let Some(sentence) = other_bottles(report) { p.mark { (sentence) } }
                (table(report))
                @if let Some(sentence) = report.unusual_told() { p { (sentence) } }
                @for sentence in poured(report) { p { (sentence) } }
                @if let Some(sentence) = money(report) { p { (sentence) } }
                (list("Too little for this balance", &too_little(report)))
                (list("The bottles hold too little", &missing(report)))
                (list("How near the balance comes", &nearness(report)))
                (list("Limits, of what is weighed", &limits(report)))
                @if let Some(overshoot) = &report.overshoot { (mended(report, overshoot)) }
                section { h2 { "Observations" } div.notes {} }
                footer {
                    @for sentence in unchecked(report) { p.mark { (sentence) } }
                    @for it in &report.care.specifications { p { (escaped(&it.substance)) ": " (escaped(&it.text)) } }
                    p { (report.care.caution) }
                    section {
                        h2 { (CAUTIONS_HEAD) }
                        (to_mind(Some(&report.care)))
                    }
                }
            }
        }
    };
    page.into_string() + "\n"
}

/// Every restricted substance in it beside its limit; uses are rounded up.
fn limits(report: &WeighReport) -> Vec<String> {
    let used = report.limits.iter().filter(|line| line.use_percent > 0.0);
    let sentence = |line: &LimitLine| {
        let product = escaped(line.product.as_deref().unwrap_or("the finished product"));
        let decimals = decimals_for(line.use_percent, 3, 0, 9);
        let used = rounded_up(line.use_percent, decimals);
        let memory = if line.verified.0 == Verified::No { " (unverified, from memory)" } else { "" };
        let over = if line.use_percent > line.limit_percent { ": TOO MUCH" } else { "" };
        let (substance, limit) = (escaped(&line.substance), plain(line.limit_percent));
        format!("{substance}: {used} % of {product}, at most {limit} %{memory}{over}")
    };
    used.map(sentence).collect()
}

fn too_little(report: &WeighReport) -> Vec<String> {
    let below: Vec<&WeighLine> = report.lines.iter().filter(|line| line.below_least).collect();
    if below.is_empty() {
        return Vec::new();
    }
    let places = decimals(report.balance);
    let remedies = below.into_iter().map(|line| remedy(line, places));
    std::iter::once(least(report)).chain(remedies).chain([smallest(report)]).collect()
}

fn list(head: &str, lines: &[String]) -> Markup {
    html! {
        @if !lines.is_empty() {
            section { h2 { (head) } ul { @for line in lines { li { (line) } } } }
        }
    }
}

fn table(report: &WeighReport) -> Markup {
    let places = decimals(report.balance);
    html! {
        table {
            thead { tr {
                th { "" } th { "Material" } th.n { "Bottle" } th.n { "Grams" } th { "Actual, g" } th.n { "Reading" }
                th.n { "Error" } th { "Lot" } th { "Seen, smelled" }
            } }
            tbody {
                @for line in &report.lines {
                    tr {
                        td { span.box {} }
                        td {
                            (escaped(&line.material))
                            @let marks = marks(line);
                            @if !marks.is_empty() { " " span.mark { "(" (marks) ")" } }
                            @if let Some(handling) = &line.handling { div.small { (escaped(handling)) } }
                            @if line.bottle_percent < 100.0 {
                                @if let Some(carrier) = &line.bottle_carrier { div.small { "in " (escaped(carrier)) } }
                            }
                        }
                        td.n.mark[line.other_bottle] { (bottle(line.bottle_percent)) }
                        td.n.g { (rounded(line.grams, places)) }
                        td.actual {}
                        td.n { (rounded(line.reading, places)) }
                        td.n { (significant(line.error_percent, 2, 0, 3)) " %" }
                        td.lot {} td.seen {}
                    }
                }
                @if let Some(top) = report.top_up.as_ref().filter(|top| top.left_grams > 0.0) {
                    tr {
                        td { span.box {} }
                        td { (top.carrier.as_deref().map_or("a carrier".to_owned(), escaped)) div.small { "fills up to " (plain(top.total)) " g" } }
                        td.n { "neat" }
                        td.n.g { (rounded(top.left_grams, places)) }
                        td.actual {}
                        td.n { (rounded(top.reading, places)) }
                        td.n {} td.lot {} td.seen {}
                    }
                }
            }
        }
    }
}

/// What to do where too much was poured.
fn mended(report: &WeighReport, overshoot: &Overshoot) -> Markup {
    let places = decimals(report.balance);
    html! {
        section {
            h2 { (vessel(report, overshoot)) }
            @if !overshoot.is_over { p { (NOTHING_OVER) } }
            @for (sentence, way) in ways(report, overshoot) {
                p.mark { (sentence) }
                table {
                    thead { tr {
                        th { "" } th { "Material" } th.n { "Bottle" } th.n { "Add grams" } th.n { "Reading" } th.n { "Parts ‰" }
                    } }
                    tbody {
                        @for line in way.lines.iter().filter(|line| line.add_grams > 0.0) {
                            tr {
                                td { span.box {} }
                                td { (escaped(&line.material)) }
                                td.n { (bottle(line.bottle_percent)) }
                                td.n.g { (rounded(line.add_grams, places)) }
                                td.n { (rounded(line.reading, places)) }
                                td.n { (significant(line.parts_weighed, 4, 0, 6)) }
                            }
                        }
                    }
                }
                p { (comes_to(way, report)) }
                (verdict(way, report))
            }
            @if let Some((sentence, rules)) = no_room(overshoot) {
                p.mark { (sentence) }
                ul { @for rule in &rules { li { (rule) } } }
            }
            @if let (Some(sentence), Some(way)) = (fresh(report, overshoot), &overshoot.fresh) {
                p.mark { (sentence) }
                (verdict(way, report))
            }
        }
    }
}

/// What a way keeps or breaks.
fn verdict(way: &WayOut, report: &WeighReport) -> Markup {
    let broken = broken(way);
    html! {
        @if broken.is_empty() { p { (keeps(report)) } }
        @else { p.mark { (DOES_NOT_KEEP) } ul { @for rule in &broken { li.mark { (rule) } } } }
    }
}
