//! Limits in a few lines: what is exceeded or was not checked is always named,
//! or counted where there is too much to name.

use super::page::{Ink, Page};
use crate::escape::escaped;
use crate::limits::Verified;
use crate::number::{plain, rounded_up};
use crate::results::care::Care;
use crate::results::states::FigureKnown;
use crate::results::{JointLine, LimitLine, PartLine};

/// Names of a list beyond this many are counted.
const NAMES: usize = 8;
/// A limit is exceeded from this many percent of it on: the arithmetic's own
/// error is below.
pub const EXCEEDED_PERCENT: f64 = 100.0 + 1e-6;

/// A few names; of many the first, and how many more there are.
pub fn few(names: &[String], most: usize) -> String {
    // One more name takes no more room than its count.
    let shown = if names.len() <= most + 1 { names.len() } else { most };
    let rest = names.len() - shown;
    let named = names[..shown].join(", ");
    if rest > 0 { format!("{named} and {rest} more") } else { named }
}

/// A limit of a formula, with what the formula is called among several.
pub type Called<'a> = (Option<String>, &'a LimitLine);

/// How sure a figure is, in brackets; nothing where its source was read.
pub fn sure(verified: &Verified) -> &'static str {
    match verified {
        Verified::Yes => "",
        Verified::No => " (unverified, from memory)",
        Verified::Text(_) => " (partly verified)",
    }
}

/// Where a limit was looked at, and how sure its figure is: the product, and
/// the formula among several.
fn place((label, line): &Called) -> String {
    let product = line.product.as_deref().map_or(String::new(), |name| format!(" in {}", escaped(name)));
    let sure = match &line.verified.0 {
        Verified::Yes => None,
        Verified::No => Some("unverified, from memory".to_owned()),
        Verified::Text(_) => Some("partly verified".to_owned()),
    };
    let marks: Vec<String> = label.clone().into_iter().chain(sure).collect();
    if marks.is_empty() { product } else { format!("{product} ({})", marks.join(", ")) }
}

/// Every limit that is exceeded, with use and limit.
pub fn exceeded<'a>(limits: &[Called<'a>], joints: impl Iterator<Item = &'a JointLine>) -> Vec<String> {
    let own = limits.iter().filter(|(_, line)| line.share_percent() > EXCEEDED_PERCENT).map(|called| {
        let line = called.1;
        let used = rounded_up(line.use_percent, crate::number::decimals_for(line.use_percent, 3, 2, 9));
        let name = escaped(&line.substance);
        format!("{name} {used} %, limit {} %{}", plain(line.limit_percent), place(called))
    });
    let joint = joints.filter(|joint| joint.share_percent() > EXCEEDED_PERCENT).map(|joint| {
        let names: Vec<String> = joint.substances.iter().map(|name| escaped(name)).collect();
        format!("the limit shared by {}, {} % of it", names.join(" and "), rounded_up(joint.share_percent(), 1))
    });
    own.chain(joint).collect()
}

/// The fullest limits that are kept, with how much of each is used.
pub fn tightest(limits: &[Called], most: usize) -> Option<String> {
    let mut used: Vec<&Called> = limits.iter().filter(|(_, line)| line.use_percent > 0.0).collect();
    used.retain(|(_, line)| line.share_percent() <= EXCEEDED_PERCENT);
    used.sort_by(|a, b| b.1.share_percent().total_cmp(&a.1.share_percent()));
    let one = |called: &&Called| {
        let line = called.1;
        let share = rounded_up(line.share_percent(), 1);
        format!("{}, {share} % used{}", escaped(&line.substance), place(called))
    };
    let all: Vec<String> = used.iter().take(most).map(one).collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// What was not checked, a sentence each: materials without a number or a
/// figure by name where they are few, and all else that the report says.
pub fn unchecked(care: &Care) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    if let Some(coverage) = &care.coverage {
        let of = |reasons: &[FigureKnown]| {
            let mut names: Vec<String> = Vec::new();
            for line in coverage.without_figure.iter().filter(|line| reasons.contains(&line.reason)) {
                let name = escaped(&line.material);
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            names
        };
        said.extend(coverage.unknown().iter().map(|sentence| escaped(sentence)));
        let unknown = of(&[FigureKnown::ConstituentsUnknown]);
        let unnumbered = of(&[FigureKnown::NoCas]);
        if !unnumbered.is_empty() {
            said.push(format!("No CAS number, so that limits pass it by: {}.", few(&unnumbered, NAMES)));
        }
        let mut without = of(&[FigureKnown::InNoFile, FigureKnown::NoFigure]);
        without.retain(|name| !unnumbered.contains(name) && !unknown.contains(name));
        if !without.is_empty() {
            let lack = if without.len() == 1 { "lacks" } else { "lack" };
            let which = if coverage.by_category.len() > 1 { "in one category or more" } else { "on file" };
            let named = if without.len() <= NAMES + 1 {
                format!(": {}", without.join(", "))
            } else {
                "; --full names them".to_owned()
            };
            let (count, all) = (without.len(), coverage.materials);
            said.push(format!("{count} of {all} materials {lack} a figure {which}{named}."));
        }
    } else if !care.unknown_constituents.is_empty() {
        let names: Vec<String> = care.unknown_constituents.iter().map(|name| escaped(name)).collect();
        said.push(format!("Not fully checked: {}, of unknown constituents.", few(&names, NAMES)));
    }
    said.extend(care.not_checked_of_materials().iter().map(|sentence| escaped(sentence)));
    said
}

/// How many of the limits in use rest on a figure that nobody has verified.
fn unverified(limits: &[Called]) -> Option<String> {
    let mut names: Vec<&str> = Vec::new();
    for (_, line) in limits.iter().filter(|(_, line)| line.use_percent > 0.0 && line.verified.0 == Verified::No) {
        if !names.contains(&line.substance.as_str()) {
            names.push(&line.substance);
        }
    }
    let count = names.len();
    let (figure, is) = if count == 1 { ("figure", "is") } else { ("figures", "are") };
    (count > 0).then(|| format!("{count} {figure} {is} unverified (from memory)."))
}

/// The section on limits of a short answer: of one formula, or of several that
/// are called by their labels.
pub fn limits<'a>(
    care: &Care,
    limits: &[Called<'a>],
    joints: impl Iterator<Item = &'a JointLine>,
    page: &Page,
    out: &mut String,
) {
    page.head(out, "Limits");
    let broken = exceeded(limits, joints);
    for line in &broken {
        page.paragraph(out, "  ", 4, &format!("EXCEEDED: {line}."), Ink::Alert);
    }
    if let Some(tightest) = tightest(limits, 1) {
        let memory = unverified(limits).map_or(String::new(), |memory| format!(" {memory}"));
        page.paragraph(out, "  ", 4, &format!("Tightest: {tightest}.{memory}"), Ink::Plain);
    }
    for sentence in unchecked(care) {
        page.paragraph(out, "  ", 4, &sentence, Ink::Alert);
    }
}

/// The end of a short answer that shows formulas: their limits, what is to be
/// handled with care, and the caution.
pub fn close<'a>(
    care: &Care,
    called: &[Called<'a>],
    joints: impl Iterator<Item = &'a JointLine>,
    poured: &[PartLine],
    page: &Page,
    out: &mut String,
) {
    limits(care, called, joints, page, out);
    let handled = poured.iter().filter(|line| line.handling.is_some());
    let handled: Vec<String> = handled.map(|line| escaped(&line.material)).collect();
    if !handled.is_empty() {
        let text = format!("Handle with care: {}.", few(&handled, NAMES));
        page.paragraph(out, "  ", 4, &text, Ink::Plain);
    }
    out.push('\n');
    page.paragraph(out, "", 0, care.caution, Ink::Faint);
}
