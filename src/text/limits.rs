//! Uses of restricted substances beside their limits, on the page.

use super::in_short::{self, Called, few};
use super::page::{Ink, Page};
use super::table::{Side, Table, aligned};
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded_down, rounded_up};
use crate::results::care::Care;
use crate::results::states::{AdvisedIn, FigureKnown};
use crate::results::{AdviceLine, CoverageReport, FormulaReport, LimitLine};
use crate::sentences::care::product_name;

/// Decimals of a percentage beyond which nothing is shown.
const MOST_DECIMALS: usize = 9;

/// The uses of restricted substances beside their limits.
pub fn limits(report: &FormulaReport, page: &Page, out: &mut String) {
    let mut products: Vec<&Option<String>> = Vec::new();
    for line in &report.limits {
        if !products.contains(&&line.product) {
            products.push(&line.product);
        }
    }
    for product in products {
        let lines: Vec<&LimitLine> = report.limits.iter().filter(|line| line.product == *product).collect();
        let called = escaped(product_name(product.as_deref()));
        page.paragraph(out, "  ", 2, &format!("Percent of {called}"), Ink::Strong);
        let used = lines.iter().filter(|line| line.use_percent > 0.0);
        let row = |line: &&LimitLine| Used {
            name: escaped(&line.substance),
            cells: use_cells(line.use_percent, line.limit_percent, line.room_percent),
            share_percent: line.share_percent(),
            mark: mark(line),
        };
        let rows: Vec<Used> = used.map(row).collect();
        if !rows.is_empty() {
            uses("limit", &rows, page, out);
        }
        key_of_marks(&lines, page, out);
        sources_of_tight(&lines, page, out);
        let idle = lines.iter().filter(|line| line.use_percent <= 0.0).count();
        if idle > 0 {
            let rows = if idle == 1 { "restriction does" } else { "restrictions do" };
            page.paragraph(
                out,
                "  ",
                2,
                &format!("{idle} more {rows} not apply to what is in the formula."),
                Ink::Faint,
            );
        }
        for joint in report.joints.iter().filter(|joint| joint.product == *product && joint.sum > 0.0) {
            let names: Vec<String> = joint.substances.iter().map(|name| escaped(name)).collect();
            let share = share(joint.share_percent());
            let mark = match joint.verified.0 {
                Verified::No => " A figure of it is unverified (from memory).",
                Verified::Text(_) => " How far its figures are verified is said below.",
                Verified::Yes => "",
            };
            let text =
                format!("One limit shared by {} ({}): {share} used.{mark}", names.join(" and "), escaped(&joint.joint));
            page.paragraph(out, "  ", 2, &text, Ink::Plain);
        }
    }
    advice(&report.advice, page, out);
}

/// What the marks beside the figures in use mean.
pub fn key_of_marks(lines: &[&LimitLine], page: &Page, out: &mut String) {
    let any = |is_it: fn(&Verified) -> bool| lines.iter().any(|it| it.use_percent > 0.0 && is_it(&it.verified.0));
    let mut said = Vec::new();
    if any(|verified| *verified == Verified::No) {
        said.push("Unverified: from memory.");
    }
    if any(|verified| matches!(verified, Verified::Text(_))) {
        said.push("Partly verified: the source below says what was read.");
    }
    if !said.is_empty() {
        page.paragraph(out, "  ", 2, &said.join(" "), Ink::Plain);
    }
}

/// The limits of some formulas in a few lines: every one that is exceeded, the
/// one that is nearest to it, how many figures nobody has verified, and what was
/// not checked, named where it is little and counted where it is much.
pub fn in_short(care: &Care, called: &[Called], formulas: &[&FormulaReport], page: &Page, out: &mut String) {
    let joints = formulas.iter().flat_map(|formula| &formula.joints);
    let mut exceeded = in_short::exceeded(called, joints);
    let advice = formulas.iter().flat_map(|formula| &formula.advice);
    exceeded.extend(advice.filter(|line| line.share_percent() > in_short::EXCEEDED_PERCENT).map(|line| {
        let share = rounded_up(line.share_percent(), 1);
        format!("{} at {share} % of the maximum that your palette recommends", advised(line))
    }));
    let mut label = "Limits";
    let mut say = |text: String, ink: Ink| {
        if !text.is_empty() {
            page.labelled(out, std::mem::take(&mut label), &text, ink);
        }
    };
    for line in exceeded {
        say(format!("EXCEEDED: {line}."), Ink::Alert);
    }
    let tightest = in_short::tightest(called, 1).map(|tightest| format!("Tightest: {tightest}."));
    let told: Vec<String> = tightest.into_iter().chain(unverified(called)).collect();
    say(told.join(" "), Ink::Plain);
    say(unchecked(care).join(" "), Ink::Alert);
}

/// Names up to so many are told, of more the number.
const NAMED: usize = 3;

/// How many of the figures in use nobody has verified.
fn unverified(called: &[Called]) -> Option<String> {
    let used = || called.iter().map(|(_, line)| *line).filter(|line| line.use_percent > 0.0);
    let different = |of: &mut dyn Iterator<Item = &LimitLine>| {
        let mut names: Vec<String> = Vec::new();
        for line in of {
            let name = escaped(&line.substance);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    };
    let all = different(&mut used()).len();
    let names = different(&mut used().filter(|line| line.verified.0 == Verified::No));
    match names.len() {
        0 => None,
        count if count <= NAMED => Some(format!("Unverified (from memory): {}.", names.join(", "))),
        count => Some(format!("{count} of {all} figures in use unverified (from memory).")),
    }
}

/// What was not checked, a sentence each.
fn unchecked(care: &Care) -> Vec<String> {
    let mut said = care.coverage.as_ref().map_or_else(Vec::new, without_figure);
    if care.coverage.is_none() && !care.unknown_constituents.is_empty() {
        let names: Vec<String> = care.unknown_constituents.iter().map(|name| escaped(name)).collect();
        said.push(format!("Not fully checked: {}, of unknown constituents.", few(&names, NAMED)));
    }
    said.extend(care.not_checked_of_materials().iter().map(|sentence| escaped(sentence)));
    let ignored =
        care.uses.iter().filter(|it| it.dosage.is_some() && it.accord_share < 100.0 && it.reserve.0.is_empty());
    let ignored: Vec<String> = ignored.map(|it| escaped(product_name(it.name.as_deref()))).collect();
    if !ignored.is_empty() {
        said.push(format!("Not counted: the rest of the concentrate in {}.", ignored.join(" and ")));
    }
    said
}

/// The materials that the limits files do not know, product by product: those
/// without a number and those of unknown constituents by name, the others by
/// name where they are few.
pub fn without_figure(coverage: &CoverageReport) -> Vec<String> {
    let materials = |of: &dyn Fn(&crate::results::WithoutFigure) -> bool| {
        let mut names: Vec<String> = Vec::new();
        for line in coverage.without_figure.iter().filter(|line| of(line)) {
            let name = escaped(&line.material);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    };
    let mut said = Vec::new();
    let unknown = materials(&|line| line.reason == FigureKnown::ConstituentsUnknown);
    if !unknown.is_empty() {
        said.push(format!("Not fully checked: {}, of unknown constituents.", few(&unknown, 2 * NAMED)));
    }
    let unnumbered = materials(&|line| line.reason == FigureKnown::NoCas);
    if !unnumbered.is_empty() {
        let them = if unnumbered.len() == 1 { "it" } else { "them" };
        said.push(format!("No CAS number, so limits pass {them} by: {}.", few(&unnumbered, 2 * NAMED)));
    }
    let told = |name: &String| unknown.contains(name) || unnumbered.contains(name);
    let mut products: Vec<Option<&str>> = Vec::new();
    for line in &coverage.by_category {
        if !products.contains(&line.product.as_deref()) {
            products.push(line.product.as_deref());
        }
    }
    let mut each: Vec<(String, Vec<String>)> = Vec::new();
    for product in products {
        let mut names = materials(&|line| line.product.as_deref() == product);
        names.retain(|name| !told(name));
        if !names.is_empty() {
            each.push((escaped(product_name(product)), names));
        }
    }
    if !each.is_empty() {
        // Names where they are few, else a count; products with one count together.
        let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
        for (called, names) in &each {
            let what = match names.len() {
                few if few <= NAMED => names.join(", "),
                many => format!("{many} of {} materials", coverage.materials),
            };
            match groups.iter_mut().find(|(other, _)| *other == what) {
                Some((_, products)) => products.push(called),
                None => groups.push((what, vec![called])),
            }
        }
        let one = |(what, products): &(String, Vec<&str>)| format!("{what} in {}", products.join(" and "));
        said.push(format!("Not fully checked: {}.", groups.iter().map(one).collect::<Vec<_>>().join("; ")));
    }
    said
}

/// How near the formulas of a report come to their limits: the fullest of all,
/// with the label of its formula.
pub fn fullest<'a>(all: impl Iterator<Item = (String, &'a LimitLine)>, page: &Page, out: &mut String) {
    let used = all.filter(|(_, limit)| limit.use_percent > 0.0);
    let fullest = used.max_by(|a, b| a.1.share_percent().total_cmp(&b.1.share_percent()));
    let Some((label, limit)) = fullest else { return };
    let text = format!(
        "The fullest limit in any of them: {} in {label}, {} % of what is allowed. permil compare shows the others.",
        escaped(&limit.substance),
        rounded_up(limit.share_percent(), 1)
    );
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

/// How sure a figure is, in a word or two; [`key_of_marks`] explains them.
pub fn mark(line: &LimitLine) -> &'static str {
    match &line.verified.0 {
        Verified::Yes => "",
        Verified::No => "unverified",
        Verified::Text(_) => "partly verified",
    }
}

/// Use rounded up, limit as it is, room rounded down. Where there is room, so
/// many decimals are shown that the use stays below the limit.
fn use_cells(used: f64, limit: f64, room: f64) -> [String; 3] {
    let least = if limit == 0.0 { 6 } else { decimals_for(limit, 3, 2, MOST_DECIMALS) };
    let has_room = |decimals: &usize| rounded_down(room, *decimals).contains(|c| ('1'..='9').contains(&c));
    let decimals = if room > 0.0 { (least..MOST_DECIMALS).find(has_room) } else { None };
    let decimals = decimals.unwrap_or(least);
    [rounded_up(used, decimals), plain(limit), rounded_down(room, decimals)]
}

/// A row of a table of uses.
struct Used {
    name: String,
    cells: [String; 3],
    share_percent: f64,
    mark: &'static str,
}

/// A table of uses beside limits, decimal points below each other.
fn uses(title: &str, rows: &[Used], page: &Page, out: &mut String) {
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Right, Side::Right, Side::Left]);
    table.row(Ink::Faint, ["", "use", title, "room", "used", ""].map(str::to_owned).to_vec());
    let column = |at: usize| aligned(&rows.iter().map(|row| row.cells[at].clone()).collect::<Vec<_>>());
    let [used, limit, room] = [column(0), column(1), column(2)];
    for (at, row) in rows.iter().enumerate() {
        let cells = [&row.name, &used[at], &limit[at], &room[at], &share(row.share_percent), row.mark];
        let ink = if row.share_percent > 100.0 + 1e-6 { Ink::Alert } else { Ink::Plain };
        table.row(ink, cells.map(str::to_owned).to_vec());
    }
    table.write(out, page);
}

fn share(percent: f64) -> String {
    if percent.is_finite() { format!("{} %", rounded_up(percent, 1)) } else { "over".to_owned() }
}

/// What brings the substances whose limits are more than half used.
fn sources_of_tight(lines: &[&LimitLine], page: &Page, out: &mut String) {
    // That a material brings itself goes without saying.
    let itself =
        |line: &LimitLine| line.reserve_percent <= 0.0 && line.from.0.iter().all(|(name, _)| *name == line.substance);
    for line in lines.iter().filter(|line| line.share_percent() > 50.0 && !itself(line)) {
        // No coarser than the use itself: a part never reads as more than the whole.
        let decimals = decimals_for(line.use_percent, 3, 0, MOST_DECIMALS);
        let part = |percent: f64| rounded_up(percent, decimals_for(percent, 2, 0, MOST_DECIMALS).max(decimals));
        let mut from: Vec<String> =
            line.from.0.iter().map(|(name, percent)| format!("{} {}", escaped(name), part(*percent))).collect();
        if line.reserve_percent > 0.0 {
            from.push(format!("the rest of the concentrate {}", part(line.reserve_percent)));
        }
        let first = format!("  {} from ", escaped(&line.substance));
        page.paragraph(out, "  ", 4, &format!("{}{}", first.trim_start(), from.join(", ")), Ink::Faint);
    }
}

fn advice(lines: &[AdviceLine], page: &Page, out: &mut String) {
    if lines.is_empty() {
        return;
    }
    page.paragraph(out, "  ", 2, "Recommended maxima (your palette), in percent", Ink::Strong);
    let row = |line: &AdviceLine| Used {
        name: advised(line),
        cells: use_cells(line.use_percent, line.limit_percent, line.room_percent),
        share_percent: line.share_percent(),
        mark: "",
    };
    uses("at most", &lines.iter().map(row).collect::<Vec<_>>(), page, out);
}

/// A material, and where it is advised to stay below a maximum.
fn advised(line: &AdviceLine) -> String {
    let of = match (line.of, &line.product) {
        (AdvisedIn::Product, name) => escaped(product_name(name.as_deref())),
        (_, Some(name)) => format!("concentrate for {}", escaped(name)),
        _ => "the concentrate".to_owned(),
    };
    format!("{} in {of}", escaped(&line.material))
}

#[cfg(test)]
mod tests {
    use super::use_cells;

    #[test]
    fn a_use_below_its_limit_reads_so() {
        assert_eq!(use_cells(0.019_934, 0.02, 0.000_066), ["0.01994", "0.02", "0.00006"]);
        assert_eq!(use_cells(0.02, 0.02, 0.0), ["0.0200", "0.02", "0.0000"]);
        assert_eq!(use_cells(0.02, 0.02, 4e-18), ["0.0200", "0.02", "0.0000"]);
        assert_eq!(use_cells(1.875_72, 4.7, 2.824_28), ["1.88", "4.7", "2.82"]);
        assert_eq!(use_cells(0.021, 0.02, -0.001), ["0.0210", "0.02", "-0.0010"]);
        assert_eq!(use_cells(1e-7, 0.0, -1e-7), ["0.000001", "0", "-0.000001"]);
    }
}
