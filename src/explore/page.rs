//! The page as it is loaded: the controls as the brief has them, and empty
//! places for what is solved.
//!
//! Each control carries the path of its value in the state (`data-path`), and
//! what the file says (`data-file`, JSON); the script keeps the difference.

mod controls;
mod rules;
mod shelf;
mod target;

#[cfg(feature = "serve")]
use maud::DOCTYPE;
use maud::{Markup, html};

use super::bench::{Bench, in_words};
use super::desk::Desk;
use super::save::brief_of;
use super::shell::note;
use crate::escape::escaped;
use crate::files::edit::BriefEdits;

/// The page of a brief, without what a document has around it.
#[derive(Clone, Debug)]
pub struct Content {
    /// What it is called.
    pub title: String,
    /// All that stands in the body.
    pub body: Markup,
}

/// The page of a brief of the desk; of the one that was named at the start where the name
/// is empty.
pub fn content(desk: &Desk, name: &str) -> Content {
    let (path, bench) = match brief_of(desk, name) {
        Ok(path) => {
            let bench = Bench::open(&desk.folder, &path, &BriefEdits::default()).map_err(|faults| in_words(&faults));
            (path, bench)
        }
        Err(why) => (desk.options.brief.clone(), Err(vec![why.to_owned()])),
    };
    let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let title = match &bench {
        Ok(bench) => {
            bench.resolved.brief.title.clone().filter(|title| !title.trim().is_empty()).unwrap_or(file.clone())
        }
        Err(_) => file.clone(),
    };
    let work = match &bench {
        Ok(bench) => workbench(bench, &file),
        Err(words) => html! {
            main {
                section.card {
                    h2 { "The brief cannot be read" }
                    @for word in words { (note("wrong", word)) }
                    p { "Mend the file and load this page again." }
                }
            }
        },
    };
    let body = html! {
        a.skip href="#result" { "Skip to the formula" }
        header.top {
            div.titles {
                h1 { (escaped(&title)) }
                p.soft { "Brief: " (escaped(&file)) ". Move anything: the nearest blend inside your rules is found again. The nose decides." }
            }
            @if bench.is_ok() { (toolbar()) }
        }
        (work)
        footer { p.soft { "permil " (crate::VERSION) } }
    };
    Content { title, body }
}

/// The whole page, as the server gives it; `token` is what its requests carry.
#[cfg(feature = "serve")]
pub fn page(desk: &Desk, name: &str, token: &str) -> String {
    let Content { title, body } = content(desk, name);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="permil-token" content=(token);
                title { (escaped(&title)) " · permil" }
                link rel="icon" href="/icon.svg" type="image/svg+xml";
                link rel="stylesheet" href="/page.css";
                script src="/page.js" defer {}
            }
            body {
                (body)
                noscript { p.note.wrong { "This page needs its script, which comes from this program alone." } }
            }
        }
    };
    page.into_string()
}

fn toolbar() -> Markup {
    html! {
        div.toolbar role="group" aria-label="Changes, comparing, saving" {
            button type="button" data-do="undo" title="Ctrl+Z" { "Undo" }
            button type="button" data-do="redo" title="Ctrl+Shift+Z" { "Redo" }
            button type="button" data-do="reset" { "As in the file" }
            button type="button" data-do="pin" { "Pin this formula" }
            button type="button" data-do="save" { "Save …" }
            details.menu {
                summary { "Download" }
                div.sheet {
                    button type="button" data-download="csv" data-ending="csv" { "Formula, CSV" }
                    button type="button" data-download="svg" data-ending="svg" { "Target and blend, SVG" }
                    button type="button" data-download="png" data-ending="png" { "Target and blend, PNG" }
                    div.weigh {
                        label { "Batch, g" input #batch .number type="text" inputmode="decimal" autocomplete="off" value="10"; }
                        label { "Balance shows, g" input #balance .number type="text" inputmode="decimal" autocomplete="off" value="0.001"; }
                    }
                    button type="button" data-download="weigh" data-ending="weigh.html" { "Weighing sheet, to print" }
                    button type="button" data-download="report" data-ending="report.html" { "Report, everything on one page" }
                }
            }
        }
    }
}

fn workbench(bench: &Bench, file: &str) -> Markup {
    html! {
        main #bench data-file=(file) data-disk=(bench.disk) {
            section.card.head aria-label="How near it comes" {
                div #headline { p.soft { "Looking for the nearest blend …" } }
                p #said .hidden role="status" aria-live="polite" {}
                div #conflict {}
                div #warnings {}
                p #ticks .soft {}
                div #changed role="status" {}
            }
            div.controls role="region" aria-label="What is wanted and what is allowed" {
                (target::target(bench))
                (rules::rules(bench))
                (shelf::shelf(bench))
            }
            div #result tabindex="-1" role="region" aria-label="The formula and what is known of it" {
                section.card { h2 { "Formula" } div #formula {} div #near {} }
                section.card { h2 { "Target and blend" } div #profile {} }
                @if !bench.resolved.brief.stages.is_empty() {
                    section.card.wide #on-paper { h2 { "Over time on a blotter" } div #blotter { p.soft { "Comes with the proven formula." } } }
                }
                section.card.wide hidden #pinned { div #compare {} }
                section.card.wide {
                    h2 { "What more would buy" }
                    p.choice {
                        label for="against" { "Match against " }
                        select #against {
                            option value="price" { "price per kg" }
                            option value="strength" { "strength, by dilution" }
                            option value="count" { "number of materials" }
                            option value="effect" { "cost per unit of strength" }
                        }
                    }
                    div #tradeoff aria-busy="true" { p.soft { "Comes with the proven formula." } }
                }
                section.card { h2 { "What holds it back" } div #worth aria-busy="true" { p.soft { "Comes with the proven formula." } } }
                section.card { h2 { "What could go" } div #without aria-busy="true" { p.soft { "Comes with the proven formula." } } }
                section.card.wide { h2 { "Limits" } div #limits {} }
                section.card.wide {
                    h2 { "Six starting points" }
                    p { "Formulas to smell side by side. " button type="button" data-ask="starts" { "Find six" } }
                    div #starts {}
                }
                section.card.wide {
                    h2 { "A closer look" }
                    p.choice {
                        label for="closer-material" { "Material " }
                        select #closer-material {
                            @for material in &bench.resolved.problem.palette.materials {
                                option value=(material.name) { (escaped(&material.name)) }
                            }
                        }
                        " "
                        button type="button" data-ask="push" { "How far can it go?" }
                        " "
                        button type="button" data-ask="leeway" { "Leeway of every dose" }
                    }
                    div #closer {}
                }
                section.card.wide { h2 { "Care" } div #care {} }
            }
        }
        (dialog(file))
    }
}

fn dialog(file: &str) -> Markup {
    let stem = file.strip_suffix(".toml").unwrap_or(file);
    html! {
        dialog #saving aria-labelledby="saving-head" {
            form #save-form method="dialog" {
                h2 #saving-head { "Save beside the brief" }
                p.soft { "Your file keeps its comments; only the numbers that you moved change. A name that is left empty is not saved." }
                label { "Brief" input #save-brief type="text" value={ (stem) "-2.toml" } autocomplete="off" spellcheck="false"; }
                label { "Formula" input #save-formula type="text" value={ (stem) "-2-formula.toml" } autocomplete="off" spellcheck="false"; }
                p #save-said role="status" {}
                p.buttons {
                    button type="submit" #save-go { "Save" }
                    button type="button" #save-over hidden { "Write over it" }
                    button type="button" data-do="close" { "Close" }
                }
            }
        }
    }
}
