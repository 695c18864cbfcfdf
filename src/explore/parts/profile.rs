//! Target and blend, descriptor by descriptor.

use maud::{Markup, html};

use crate::escape::escaped;
use crate::html::kit;
use crate::number::rounded;
use crate::results::{FormulaReport, ProfileLine};

/// Room at both ends of a line, in percent of its width.
const ROOM: f64 = 2.0;
/// Part of the scale below which a gap needs no attention.
pub const FITS: f64 = 0.025;

/// One row for each descriptor in the order of the sliders: where the target
/// is, where the blend is, and the gap.
pub fn profile(report: &FormulaReport, pin: Option<(&str, &FormulaReport)>, scale: f64) -> Markup {
    let most = report.profile.iter().flat_map(|line| [line.target, line.blend]).fold(scale * 0.1, f64::max);
    let place = |points: f64| place(points, most);
    let fits = scale * FITS;
    let is_blank = |line: &&ProfileLine| line.target <= 0.0 && line.blend < fits;
    let shown = report.profile.iter().filter(|line| !is_blank(line));
    let blank: Vec<String> = report.profile.iter().filter(is_blank).map(|line| escaped(&line.descriptor)).collect();
    let pinned = |line: &ProfileLine| {
        let (_, pin) = pin?;
        pin.profile.iter().find(|other| other.descriptor == line.descriptor).map(|other| other.blend)
    };
    html! {
        p.key {
            span { svg width="14" height="14" aria-hidden="true" { circle.target cx="7" cy="7" r="5" {} } "target" }
            span { svg width="14" height="14" aria-hidden="true" { circle.low cx="7" cy="7" r="5" {} } "blend, too low" }
            span { svg width="14" height="14" aria-hidden="true" { circle.high cx="7" cy="7" r="5" {} } "too high" }
            span { svg width="14" height="14" aria-hidden="true" { circle.fits cx="7" cy="7" r="5" {} } "it fits" }
            @if pin.is_some() {
                span { svg width="14" height="14" aria-hidden="true" { rect.pin x="6" y="1" width="2.5" height="12" {} } "pinned" }
            }
        }
        ul.profile aria-label="Target and blend in points" {
            @for line in shown {
                @let class = verdict(line.gap, fits);
                li {
                    span.word { (escaped(&line.descriptor)) }
                    svg.line height="20" aria-hidden="true" {
                        line.axis x1=(place(0.0)) x2=(place(most)) y1="10" y2="10" {}
                        line class={ "gap " (class) } x1=(place(line.target)) x2=(place(line.blend)) y1="10" y2="10" {}
                        @if let Some(points) = pinned(line) {
                            svg x=(place(points)) overflow="visible" { rect.pin x="-1.25" y="2" width="2.5" height="16" {} }
                        }
                        circle.target cx=(place(line.target)) cy="10" r="6" {}
                        circle class=(class) cx=(place(line.blend)) cy="10" r="4.5" {}
                    }
                    span.numbers {
                        (rounded(line.blend, 1)) span.soft { " of " (rounded(line.target, 1)) }
                        span class={ "gap " (class) } { (signed(line.gap)) }
                    }
                }
            }
        }
        @if !blank.is_empty() {
            p.soft { "Not wanted, and not there: " (blank.join(", ")) "." }
        }
        p.soft { "Points from 0 to " (rounded(most, 1)) "; the last number is blend less target." }
    }
}

/// Where points stand on a line that ends at the most of them.
pub fn place(points: f64, most: f64) -> String {
    format!("{:.2}%", ROOM + (100.0 - 2.0 * ROOM) * (points / most).clamp(0.0, 1.0))
}

/// What a gap is: nothing to mind within what fits.
pub fn verdict(gap: f64, fits: f64) -> &'static str {
    match gap {
        gap if gap.abs() <= fits => "fits",
        gap if gap < 0.0 => "low",
        _ => "high",
    }
}

/// A gap with its sign; none where it is too small to be seen.
pub fn signed(gap: f64) -> String {
    if gap.abs() < 0.05 {
        return "0".to_owned();
    }
    kit::signed(gap, 1)
}
