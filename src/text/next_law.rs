//! `next --about law` for reading.

use super::formula::dose;
use super::page::{Ink, Page};
use super::{care, in_short};
use crate::escape::escaped;
use crate::number::rounded;
use crate::results::LimitLine;
use crate::results::next_law::{NextLawReport, SeparationLine};
use crate::sentences::laws;

/// The trials, with what each law expects of them.
pub fn next_law(report: &NextLawReport, page: &Page) -> String {
    let mut out = String::new();
    page.title(&mut out, &report.head);
    page.paragraph(&mut out, "", 0, "What to smell next to tell the two laws apart", Ink::Plain);
    out.push('\n');
    if let Some(found) = report.exponent {
        let text = laws::so_far(found.value, found.error, found.told);
        page.paragraph(&mut out, "  ", 2, &format!("{text}."), Ink::Plain);
    }
    if report.next.is_empty() {
        page.paragraph(&mut out, "  ", 2, "No materials of this brief tell them apart.", Ink::Alert);
        return out;
    }
    let text = "Each of these blends is expected to smell differently by the linear and by the compressive law, more than \
                errors of scores and strengths could make up for. Rate every descriptor.";
    page.paragraph(&mut out, "  ", 2, text, Ink::Plain);
    for (at, line) in report.next.iter().enumerate() {
        one(at + 1, line, page, &mut out);
    }
    let Some(found) = &report.care else { return out };
    let formulas = || report.next.iter().map(|line| &line.mod_formula);
    let named = formulas().enumerate();
    if page.full {
        care::before_limits(found, page, &mut out);
        let all = named.flat_map(|(at, it)| it.limits.iter().map(move |limit| ((at + 1).to_string(), limit)));
        super::limits::fullest(all, page, &mut out);
        let lines: Vec<&LimitLine> = formulas().flat_map(|formula| &formula.limits).collect();
        care::after_limits(found, &lines, &care::parts_of(formulas()), page, &mut out);
    } else {
        let all =
            named.flat_map(|(at, it)| it.limits.iter().map(move |limit| (Some(format!("trial {}", at + 1)), limit)));
        let joints = formulas().flat_map(|formula| &formula.joints);
        in_short::close(found, &all.collect::<Vec<_>>(), joints, &care::parts_of(formulas()), page, &mut out);
        page.full_adds(&mut out, "every limit, and the handling");
    }
    out
}

fn one(number: usize, line: &SeparationLine, page: &Page, out: &mut String) {
    out.push('\n');
    let parts: Vec<String> = (line.mod_formula.materials.iter())
        .map(|part| format!("{} {}", escaped(&part.material), dose(part.parts.as_f64())))
        .collect();
    page.paragraph(out, &format!("  {number}  "), 5, &format!("{} ‰ neat", parts.join(", ")), Ink::Strong);
    let by = |of: &dyn Fn(&crate::results::next_law::DifferenceLine) -> f64| {
        let each = line.differs.iter().map(|line| format!("{} {}", escaped(&line.descriptor), rounded(of(line), 1)));
        each.collect::<Vec<_>>().join(", ")
    };
    let text = format!(
        "by the linear law {}; by the compressive law {}",
        by(&|line| line.linear),
        by(&|line| line.compressive)
    );
    page.paragraph(out, "     ", 5, &text, Ink::Plain);
    let text = format!("then the laws lie {} standard deviations apart", rounded(line.deviations, 1));
    page.paragraph(out, "     ", 5, &text, Ink::Plain);
}
