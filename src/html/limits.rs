//! Restricted substances beside their limits.

use maud::{Markup, html};

use super::kit::names;
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{decimals_for, plain, rounded_down, rounded_up};
use crate::results::{JointLine, LimitLine};

/// The restricted substances that are in a formula, the fullest limit first.
pub fn in_use(lines: &[LimitLine]) -> Vec<&LimitLine> {
    let mut used: Vec<&LimitLine> = lines.iter().filter(|line| line.use_percent > 0.0).collect();
    used.sort_by(|a, b| b.share_percent().total_cmp(&a.share_percent()));
    used
}

/// A row for each, in percent of the finished product; uses are rounded up, room
/// down. `full` draws how full a limit is beside the number.
pub fn table(lines: &[&LimitLine], full: &dyn Fn(&LimitLine) -> Markup) -> Markup {
    html! {
        table {
            thead { tr {
                th { "Substance" } th { "In" } th.n { "use, %" } th.n { "limit, %" } th.n { "room, %" } th { "how full" }
            } }
            tbody { @for line in lines { (row(line, full)) } }
        }
    }
}

fn row(line: &LimitLine, full: &dyn Fn(&LimitLine) -> Markup) -> Markup {
    let decimals = decimals_for(line.use_percent, 3, 0, 9);
    let category = line.category.as_str();
    html! {
        tr {
            th scope="row" {
                (escaped(&line.substance))
                span.sub { "from " (names(line.from.0.iter().map(|(name, _)| name))) }
                @if line.verified.0 == Verified::No { span.sub { (UNVERIFIED) } }
            }
            td { (escaped(line.product.as_deref().unwrap_or("the finished product"))) span.sub { "category " (escaped(category)) } }
            td.n { (rounded_up(line.use_percent, decimals)) }
            td.n { (plain(line.limit_percent)) }
            td.n { (rounded_down(line.room_percent, decimals)) }
            td.share {
                @if line.room_percent < 0.0 { span.mark { "TOO MUCH " } }
                (full(line)) span.n { (rounded_up(line.share_percent(), 0)) " %" }
            }
        }
    }
}

/// Beside a figure that nobody read in its source.
pub const UNVERIFIED: &str = "unverified (from memory)";

/// Limits that several substances share.
pub fn joints(lines: &[JointLine]) -> Markup {
    html! {
        @for line in lines {
            p {
                (escaped(&line.joint)) ": " (rounded_up(line.share_percent(), 0)) " % of the limit that "
                (names(&line.substances)) " share."
                @if line.verified.0 == Verified::No { span.sub { (UNVERIFIED) } }
            }
        }
    }
}
