//! A formula at the stages of its brief, on the page.

use super::broken::sentence;
use super::page::{Ink, Page};
use super::strip::{Time, left, measures, profile, shares, span};
use crate::escape::escaped;
use crate::number::plain;
use crate::results::FormulaReport;
use crate::results::stages::{NamedStage, OnPaper};

/// What a stage is called beside its time.
pub fn called(stage: &NamedStage) -> String {
    format!("{}, {}", escaped(&stage.name), span(stage.line.hours()))
}

/// How it was dipped and when it is gone, as a sentence.
pub fn dipped(on_paper: &OnPaper) -> String {
    let dipped = match on_paper.percent {
        percent if percent >= 100.0 => "undiluted".to_owned(),
        percent => format!("at {} %", plain(percent)),
    };
    format!("On a blotter, dipped {dipped}; the last of it is gone after {}.", span(on_paper.life_hours))
}

/// Whose the figures are that a report tells of the whole, as a sentence.
pub fn worst(on_paper: &OnPaper) -> String {
    format!(
        "Match, odour shares and gaps elsewhere are those of the stage that is missed most: {}.",
        escaped(&on_paper.worst)
    )
}

/// By which amounts left on the paper a formula was sought, where its own film leaves others;
/// `None` where they agree.
pub fn clocks(stages: &[NamedStage]) -> Option<String> {
    let differ: Vec<&NamedStage> = stages.iter().filter(|stage| !stage.clock_agrees()).collect();
    let of = |stage: &&NamedStage| {
        let assumed = stage.fidelity_assumed.map_or("-".to_owned(), |it| crate::number::rounded(it, 2));
        format!("{} {assumed} %", escaped(&stage.name))
    };
    (!differ.is_empty()).then(|| {
        let all: Vec<String> = differ.iter().map(of).collect();
        format!(
            "It was sought by other amounts left on the paper than its own film leaves; by those it matches: {}.",
            all.join(", ")
        )
    })
}

/// The stages of one formula; `is_sought` where a search found it.
pub fn stages(report: &FormulaReport, is_sought: bool, page: &Page, out: &mut String) {
    let Some(on_paper) = &report.blotter else { return };
    let times: Vec<Time> = report.stages.iter().map(|stage| Time { head: called(stage), line: &stage.line }).collect();
    page.head(out, "Stage by stage");
    measures(&times, page, out);
    page.paragraph(out, "  ", 2, &dipped(on_paper), Ink::Plain);
    page.paragraph(out, "  ", 2, &worst(on_paper), Ink::Plain);
    if let Some(text) = clocks(&report.stages).filter(|_| is_sought) {
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    for broken in on_paper.broken.iter().filter(|_| is_sought) {
        let text = format!("As its own film dries it breaks a rule: {}.", sentence(broken));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    page.head(out, "Who carries it: odour %, of what is left");
    shares(&times, page, out);
    if page.full {
        page.head(out, "What it smells of at each stage");
        profile(&times, page, out);
        page.head(out, "What is left of each, %");
        left(&times, page, out);
    }
    notes(on_paper, page, out);
}

/// What the figures leave out: all of it in the long form, else what is assumed of this
/// formula and the warning in short.
pub fn notes(on_paper: &OnPaper, page: &Page, out: &mut String) {
    if page.full {
        for note in &on_paper.notes {
            page.paragraph(out, "  ", 2, note, Ink::Faint);
        }
        return;
    }
    if !on_paper.lasting_assumed.is_empty() {
        let names: Vec<String> = on_paper.lasting_assumed.iter().map(|name| escaped(name)).collect();
        let text = format!("How long it lasts is assumed by its note: {}.", names.join(", "));
        page.paragraph(out, "  ", 2, &text, Ink::Alert);
    }
    page.paragraph(out, "  ", 2, crate::sentences::blotter::IN_SHORT, Ink::Faint);
}
