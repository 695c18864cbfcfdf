//! How long materials last on a blotter, for reading.

use super::page::{Ink, Page};
use super::table::{Side, Table, aligned};
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::results::learn::LearnReport;
use crate::results::learn_lasting::{DriedLine, LastingLine};
use crate::sentences::blotter;

/// Tenacities that are shown, and in the short form; JSON and CSV have them all.
const SHOWN: usize = 20;
const FEW: usize = 6;
/// A change of less than this many deviations is noise.
const NOISE: f64 = 0.5;
/// What marks a tenacity that was taken from other materials.
const ASSUMED: &str = "~";

/// What trials that dried tell; nothing where there are none.
pub fn on_paper(report: &LearnReport, page: &Page, out: &mut String) {
    if report.dried.is_empty() {
        return;
    }
    page.head(out, "How long materials last on a blotter");
    if report.lasting.is_empty() {
        let text = "These trials were smelled at one time: that does not tell how long a material lasts from how strong \
                    it is. The hours stay as they are; how unsure they are is counted.";
        page.paragraph(out, "  ", 2, text, Ink::Plain);
    } else {
        lasting(report, page, out);
    }
    for line in report.dried.iter().filter(|line| line.gone) {
        page.paragraph(out, "  ", 4, &gone(line), Ink::Alert);
    }
    page.paragraph(out, "  ", 2, blotter::IN_SHORT, Ink::Faint);
}

fn lasting(report: &LearnReport, page: &Page, out: &mut String) {
    let most = if page.full { SHOWN } else { FEW };
    let told: Vec<&LastingLine> = report.lasting.iter().filter(|it| it.sds.abs() >= NOISE).take(most).collect();
    if told.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing: the trials agree with your palette.", Ink::Plain);
    }
    let column = |of: &dyn Fn(&LastingLine) -> String| aligned(&told.iter().map(|it| of(it)).collect::<Vec<_>>());
    let mark = |it: &LastingLine| if it.assumed { ASSUMED } else { "" };
    let before = column(&|it| format!("{}{}", mark(it), hours(it.before)));
    let after = column(&|it| hours(it.after));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Right, Side::Left, Side::Left]);
    if !told.is_empty() {
        table.row(Ink::Faint, ["", "before", "after", "give or take", "smelled at"].map(str::to_owned).to_vec());
    }
    for (at, it) in told.iter().enumerate() {
        let factors = format!("×÷{}, before ×÷{}", rounded(it.factor, 2), rounded(it.factor_before, 2));
        let times = format!("{} times, {} trials", it.times, it.trials);
        let ink = if it.sds.abs() >= 2.0 { Ink::Strong } else { Ink::Plain };
        table.row(ink, vec![escaped(&it.material), before[at].clone(), after[at].clone(), factors, times]);
    }
    table.write(out, page);
    let rest = report.lasting.len() - told.len();
    if rest > 0 {
        let words = if rest == 1 { "1 smaller change is".to_owned() } else { format!("{rest} smaller changes are") };
        page.paragraph(out, "  ", 2, &format!("{words} in the CSV and JSON."), Ink::Faint);
    }
    if told.iter().any(|it| it.assumed) {
        let text = format!("{ASSUMED} The palette does not say it: the median of the materials of the same note.");
        page.paragraph(out, "  ", 2, &text, Ink::Faint);
    }
}

/// "1.5 h"
fn hours(hours: f64) -> String {
    format!("{} h", plain(significant(hours, 2, 0, 2).parse().unwrap_or(hours)))
}

/// That a film should have been gone when it was smelled.
fn gone(line: &DriedLine) -> String {
    format!(
        "{}: by your palette nothing of it was left after {}, and you smelled it after {}. It counts as just before its \
         end. Was it dipped stronger than the trial's `percent` says?",
        escaped(&line.code),
        hours(line.film_hours),
        hours(line.minutes / 60.0),
    )
}
