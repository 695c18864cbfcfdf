//! `learn` for reading.

use super::compositions::compositions;
use super::learn_lasting::on_paper;
use super::page::{Ink, Page};
use super::table::{Side, Table, aligned};
use crate::analysis::learn::Why;
use crate::brief::Match;
use crate::escape::escaped;
use crate::number::{plain, rounded, significant};
use crate::portable::Portable;
use crate::results::learn::{Change, ExponentLearned, LearnReport, MatchLine, Matches};
use crate::results::learn_slips::SlipLine;
use crate::results::on_scale;
use crate::results::states::{Distrust, Foresight, SlipKind};
use crate::sentences::laws;
use crate::sentences::said::{FOOT, marked};

/// Changes that are shown, and in the short form; JSON and CSV have them all.
const SHOWN: usize = 20;
const FEW: usize = 10;
/// A change of less than this many deviations is noise.
const NOISE: f64 = 0.5;

/// What the trials say.
pub fn learn(report: &LearnReport, page: &Page) -> String {
    let mut out = String::new();
    let name = report.title.as_deref().filter(|title| !title.trim().is_empty()).unwrap_or(&report.palette);
    page.paragraph(&mut out, "", 0, &format!("What the trials say of {}", escaped(name)), Ink::Strong);
    out.push('\n');
    trials(report, page, &mut out);
    if report.used.is_empty() {
        page.paragraph(&mut out, "  ", 2, "No trial says anything yet: nothing was learned.", Ink::Alert);
        return out;
    }
    prediction(report, page, &mut out);
    if page.full {
        matches(report, page, &mut out);
        exponents(report, page, &mut out);
    } else if let Some(text) = report.matches.as_ref().and_then(of_file) {
        page.paragraph(&mut out, "  ", 2, &text, Ink::Plain);
    }
    changes(report, page, &mut out);
    on_paper(report, page, &mut out);
    misfits(report, page, &mut out);
    compositions(&report.compositions, page, &mut out);
    page.full_adds(&mut out, "which match and which exponent explain this nose better, and smaller changes");
    out
}

fn trials(report: &LearnReport, page: &Page, out: &mut String) {
    const INDENT: usize = 18;
    let codes = |codes: Vec<&str>| codes.into_iter().map(escaped).collect::<Vec<_>>().join(", ");
    if !report.used.is_empty() {
        let used = codes(report.used.iter().map(String::as_str).collect());
        page.paragraph(out, "  Learned from", INDENT, &used, Ink::Plain);
    }
    let reasons = [
        (Why::Medium, "smelled on another medium than most"),
        (Why::Minutes, "smelled much sooner or later after dipping than most"),
        (Why::Age, "much younger or older than most"),
        (Why::Nose, "smelled by another nose"),
        (Why::NotJudged, "nothing was judged"),
        (Why::NothingToCompare, "one score alone, zeros alone, or what has no scores say nothing in match balance"),
        (Why::NoOdour, "nothing in it has an odour"),
    ];
    for (why, words) in reasons {
        let aside: Vec<&str> = report.aside.iter().filter(|line| line.why == why).map(|line| &*line.code).collect();
        if !aside.is_empty() {
            page.paragraph(out, "  Left aside", INDENT, &format!("{}: {words}", codes(aside)), Ink::Plain);
        }
    }
    let pooled = [Why::Medium, Why::Minutes, Why::Age];
    if report.aside.iter().any(|line| pooled.contains(&line.why)) {
        page.paragraph(out, "", INDENT, "--pool uses them all the same", Ink::Faint);
    }
    if report.used.is_empty() {
        return;
    }
    let how = match report.matching {
        Match::Level => "the scores as they are",
        Match::Balance => "the balance of the scores, at the total of what was smelled",
    };
    page.paragraph(out, "  Compared", INDENT, &format!("{how}; exponent {}", plain(report.exponent)), Ink::Plain);
    if !report.settled {
        let text = "The estimate did not come to rest: these numbers are not kept without --force.";
        page.paragraph(out, "  ", 2, text, Ink::Alert);
    }
    if report.untrusted == Some(Distrust::Misfits) {
        let text = "More than half of the trials do not fit the others: these numbers are not kept without --force.";
        page.paragraph(out, "  ", 2, text, Ink::Alert);
    }
}

fn prediction(report: &LearnReport, page: &Page, out: &mut String) {
    let Some(line) = &report.prediction else { return };
    let scale = on_scale(report.scale);
    page.head(out, &format!("Does it predict? How far the numbers are off what was smelled, {scale}"));
    let mut table = Table::new(&[Side::Left, Side::Right, Side::Left]);
    let judge = if line.refitted { "judge by this: fitted anew" } else { "judge by this: to first order" };
    let scores = if line.judged == 1 { "1 judged score".to_owned() } else { format!("{} judged scores", line.judged) };
    for (what, number, words) in [
        ("your palette", line.before, scores.as_str()),
        ("corrected, by all trials", line.fitted, "flatters: fitted to these trials"),
        ("each trial by the others", line.without, judge),
    ] {
        table.row(Ink::Plain, vec![what.to_owned(), rounded(number, 2), words.to_owned()]);
    }
    table.write(out, page);
    let (text, ink) = match line.verdict {
        Foresight::Predicts => {
            ("The correction predicts: trials that it has not seen come nearer than by your palette.", Ink::Good)
        }
        Foresight::MerelyFits => (
            "The correction merely fits: trials that it has not seen come no nearer than by your palette. Smell more \
             before you trust it.",
            Ink::Alert,
        ),
        Foresight::TooFew => {
            ("With fewer than four trials nobody can tell whether this predicts or merely fits.", Ink::Alert)
        }
        Foresight::CannotTell => (
            "Trials that it has not seen come nearer than by your palette, but not by so much that it could not be \
             chance. More trials will tell.",
            Ink::Plain,
        ),
    };
    page.paragraph(out, "  ", 2, text, ink);
}

/// That the trials' file asks for another way of comparing than was used.
fn of_file(matches: &Matches) -> Option<String> {
    let used = matches.tried.first()?.matching;
    (matches.of_file != used).then(|| format!("The file says {}; --match {0} keeps to it.", matches.of_file.word()))
}

/// Which way of comparing was used, and how the other does.
fn matches(report: &LearnReport, page: &Page, out: &mut String) {
    let Some(matches) = &report.matches else { return };
    let [used, other] = &matches.tried[..] else { return };
    let off = |line: &MatchLine| {
        let by = line.without.map_or_else(|| "-".to_owned(), |without| rounded(without, 2));
        let restless = if line.settled { "" } else { ", and did not come to rest" };
        format!("{by} by {}{restless}", line.matching.word())
    };
    let why = match matches.better {
        _ if matches.forced => format!("Match {} was asked for", used.matching.word()),
        Some(better) if better == used.matching => {
            format!("Match {} explains this nose better and is used", better.word())
        }
        _ if used.without.zip(other.without).is_some_and(|(used, other)| used < other) => {
            format!("Match {} is used; that it explains this nose better may be chance", used.matching.word())
        }
        _ => format!("Match {} is used", used.matching.word()),
    };
    let file = of_file(matches).map_or(String::new(), |text| format!(" {text}"));
    let text = format!(
        "{why}: at the total of what was smelled each trial by the others is off by {} and {}.{file}",
        off(used),
        off(other)
    );
    page.paragraph(out, "  ", 2, &text, Ink::Plain);
}

fn exponents(report: &LearnReport, page: &Page, out: &mut String) {
    let Some(exponents) = &report.exponents else { return };
    let each: Vec<String> = exponents
        .tried
        .iter()
        .map(|line| format!("{} with exponent {}", rounded(line.without, 2), plain(line.exponent)))
        .collect();
    let verdict = match exponents.better {
        Some(1.0) => "Strong materials weigh in fully for this nose (exponent 1 explains it better)",
        Some(_) => "Strong materials weigh less for this nose (exponent 0.4 explains it better)",
        None => "Whether strong materials weigh less for this nose cannot be told from these trials",
    };
    page.paragraph(
        out,
        "  ",
        2,
        &format!("{verdict}: each trial by the others is off by {}.", each.join(", ")),
        Ink::Plain,
    );
    if let Some(ExponentLearned { value, error, told }) = report.exponent_learned {
        page.paragraph(out, "  ", 2, &format!("{}.", laws::learned(value, error, told, report.exponent)), Ink::Plain);
    }
}

fn number(change: &Change, value: f64) -> String {
    if change.what == "strength" {
        plain(significant(value, 3, 0, 6).parse().unwrap_or(value))
    } else {
        rounded(value, 1)
    }
}

fn changes(report: &LearnReport, page: &Page, out: &mut String) {
    page.head(out, "What changes, the surest first");
    let most = if page.full { SHOWN } else { FEW };
    let told: Vec<&Change> = report.changes.iter().filter(|change| change.sds.abs() >= NOISE).take(most).collect();
    if told.is_empty() {
        page.paragraph(out, "  ", 2, "Nothing: the trials agree with your palette.", Ink::Plain);
    }
    let column = |of: &dyn Fn(&Change) -> String| aligned(&told.iter().map(|it| of(it)).collect::<Vec<_>>());
    let before = column(&|change| marked(&number(change, change.before), change.before_said.is_some()));
    let after = column(&|change| number(change, change.after));
    let mut table = Table::new(&[Side::Left, Side::Left, Side::Right, Side::Right, Side::Left, Side::Left]);
    if !told.is_empty() {
        let head = ["", "", "before", "after", "give or take", "driven by"];
        table.row(Ink::Faint, head.map(str::to_owned).to_vec());
    }
    for (at, change) in told.iter().enumerate() {
        let sd = match change.what.as_str() {
            "strength" => format!("×÷{}", rounded(change.sd.exponential(), 2)),
            _ => format!("±{}", rounded(change.sd, 1)),
        };
        let drivers: Vec<String> = change.driven_by.iter().map(|driver| escaped(&driver.code)).collect();
        let ink = if change.sds.abs() >= 2.0 { Ink::Strong } else { Ink::Plain };
        let what = escaped(&change.what);
        let cells = [escaped(&change.material), what, before[at].clone(), after[at].clone(), sd, drivers.join(", ")];
        table.row(ink, cells.to_vec());
    }
    table.write(out, page);
    let rest = report.changes.len() - told.len();
    if rest > 0 {
        let words = if rest == 1 { "1 smaller change is".to_owned() } else { format!("{rest} smaller changes are") };
        page.paragraph(out, "  ", 2, &format!("{words} in the CSV and JSON."), Ink::Faint);
    }
    if told.iter().any(|change| change.before_said.is_some()) {
        page.paragraph(out, "  ", 2, FOOT, Ink::Faint);
    }
    let text = "Give or take is one standard deviation. Judgements corrected by judgements: the nose decides.";
    page.paragraph(out, "  ", 2, text, Ink::Faint);
}

fn misfits(report: &LearnReport, page: &Page, out: &mut String) {
    page.head(out, "Trials that do not fit the others");
    if report.misfits.is_empty() {
        page.paragraph(out, "  ", 2, "None.", Ink::Plain);
    }
    for misfit in &report.misfits {
        let smelled =
            misfit.smelled.map_or(String::new(), |points| format!(" smelled {}", significant(points, 2, 1, 3)));
        let others =
            misfit.without.map_or(String::new(), |points| format!(", {} by the others", significant(points, 2, 1, 3)));
        let text = format!(
            "{}: {} most of all,{smelled}{others} ({} standard deviations apart). {} Smell it again before you learn \
             from it.",
            escaped(&misfit.code),
            escaped(&misfit.what),
            rounded(misfit.sds.abs(), 1),
            misfit.slip.as_ref().map_or_else(|| ASK.to_owned(), explained),
        );
        page.paragraph(out, "  ", 4, &text, Ink::Alert);
    }
}

/// What is asked where no single slip that was looked for explains a trial.
const ASK: &str = "Was it the right blotter, the right formula?";

/// The slip that would explain a trial best, in a sentence.
fn explained(slip: &SlipLine) -> String {
    let named = |name: &Option<String>| name.as_deref().map_or_else(String::new, escaped);
    let material = named(&slip.material);
    match slip.kind {
        SlipKind::Number => format!("A slip of the pen at {} alone would explain it.", named(&slip.descriptor)),
        SlipKind::Bottle => {
            format!("A wrong bottle would explain it best: {} in the place of {material}.", named(&slip.instead))
        }
        SlipKind::Dilution => {
            let factor = slip.factor.unwrap_or(1.0);
            let times =
                if factor < 1.0 { format!("a {}th", plain(1.0 / factor)) } else { format!("{} times", plain(factor)) };
            format!("A bottle of another dilution would explain it best: {times} of the {material}.")
        }
        SlipKind::Missing => format!("A material left out would explain it best: {material}."),
    }
}
