//! What was wanted, in words.

use std::path::Path;

use maud::{Markup, html};

use crate::brief::Match;
use crate::dossier::Dossier;
use crate::dossier::page::Part;
use crate::escape::escaped;
use crate::number::plain;
use crate::problem::Rule;

/// The title of the page.
pub fn title(dossier: &Dossier<'_>) -> String {
    let head = &dossier.proposal.head;
    let title = head.title.as_deref().filter(|title| !title.trim().is_empty());
    title.map_or_else(|| file_name(&head.brief), escaped)
}

/// The name of a file without its folders.
pub fn file_name(path: &str) -> String {
    escaped(&Path::new(path).file_name().unwrap_or_default().to_string_lossy())
}

/// The brief.
pub fn part(dossier: &Dossier<'_>) -> Part {
    let problem = dossier.problem;
    let how = match problem.matching {
        Match::Balance => {
            "What counts is the balance of the character: the blend is compared at the target's own total, \
             whatever its level."
        }
        Match::Level => {
            "What counts is the level: the blend's scores are the means of the scores of its materials, \
                         weighed by strength and dose."
        }
    };
    let own: Vec<&Rule> = problem.rules.iter().filter(|rule| rule.place.file == dossier.brief.file).collect();
    let others = problem.rules.len() - own.len();
    let scale = plain(problem.palette.scale);
    (
        "brief",
        "What is wanted",
        html! {
            p { "A blend that smells as near as the numbers can tell to this target. Scores run from 0 to " (scale) ". " (how) }
            (target(dossier))
            @if own.is_empty() { p { "The brief sets no rules." } } @else {
                h3 { "Rules of the brief" }
                ul { @for rule in own { li { (first_upper(&escaped(&problem.sentence(rule)))) " " span.quiet { "(line " (rule.place.line) ")" } } } }
            }
            @if others > 0 {
                p.quiet { "To these come " (others) " rules of the palette and the limits files: the doses, steps and caps of single materials, and restrictions." }
            }
        },
    )
}

fn target(dossier: &Dossier<'_>) -> Markup {
    let problem = dossier.problem;
    let wanted = problem.targets.iter().filter(|target| target.score > 0.0);
    let unwanted: Vec<String> = problem
        .targets
        .iter()
        .filter(|target| target.score <= 0.0)
        .map(|target| escaped(&problem.palette.descriptors[target.descriptor].name))
        .collect();
    html! {
        div.scroll { table {
            thead { tr { th { "Descriptor" } th { "Means" } th.n { "Wanted" } th.n { "Weight" } th.n { "Weight of too much" } } }
            tbody {
                @for target in wanted {
                    @let descriptor = &problem.palette.descriptors[target.descriptor];
                    tr {
                        th scope="row" { (escaped(&descriptor.name)) }
                        td { (escaped(&descriptor.meaning)) }
                        td.n { (plain(target.score)) }
                        td.n { (plain(target.weight)) }
                        td.n { (plain(target.weight * target.excess)) }
                    }
                }
            }
        } }
        @if !unwanted.is_empty() { p { "Not wanted: " (unwanted.join(", ")) "." } }
    }
}

/// A sentence that begins one.
pub fn first_upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
