//! Uses of restricted substances beside their limits, on the page.

use super::page::{Ink, Page};
use super::table::{Side, Table, aligned};
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded_down, rounded_up};
use crate::results::states::AdvisedIn;
use crate::results::{AdviceLine, FormulaReport, LimitLine};
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
        sources_of_tight(&lines, page, out);
        let idle = lines.iter().filter(|line| line.use_percent <= 0.0).count();
        if idle > 0 {
            let rows = if idle == 1 { "restriction concerns" } else { "restrictions concern" };
            page.paragraph(out, "  ", 2, &format!("{idle} more {rows} nothing in the formula."), Ink::Faint);
        }
        for joint in report.joints.iter().filter(|joint| joint.product == *product && joint.sum > 0.0) {
            let names: Vec<String> = joint.substances.iter().map(|name| escaped(name)).collect();
            let share = share(joint.share_percent());
            let mark = match joint.verified.0 {
                Verified::No => " A figure of it is from memory.",
                Verified::Text(_) => " How sure its figures are stands below.",
                Verified::Yes => "",
            };
            let text =
                format!("One limit shared by {} ({}): {share} used.{mark}", names.join(" and "), escaped(&joint.joint));
            page.paragraph(out, "  ", 2, &text, Ink::Plain);
        }
    }
    advice(&report.advice, page, out);
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

/// How sure a figure is, in two words; a text of the file comes with its source.
pub fn mark(line: &LimitLine) -> &'static str {
    match &line.verified.0 {
        Verified::Yes => "",
        Verified::No => "from memory",
        Verified::Text(_) => "see below",
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
    page.paragraph(out, "  ", 2, "Advice of the palette, in percent", Ink::Strong);
    let row = |line: &AdviceLine| {
        let of = match (line.of, &line.product) {
            (AdvisedIn::Product, name) => escaped(product_name(name.as_deref())),
            (_, Some(name)) => format!("concentrate for {}", escaped(name)),
            _ => "the concentrate".to_owned(),
        };
        Used {
            name: format!("{} in {of}", escaped(&line.material)),
            cells: use_cells(line.use_percent, line.limit_percent, line.room_percent),
            share_percent: line.share_percent(),
            mark: "",
        }
    };
    uses("at most", &lines.iter().map(row).collect::<Vec<_>>(), page, out);
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
