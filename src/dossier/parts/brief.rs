//! What was wanted, in words.

use std::path::Path;

use maud::{Markup, html};

use crate::brief::Match;
use crate::dossier::page::Part;
use crate::dossier::{Dossier, Reader};
use crate::escape::escaped;
use crate::html::align::Column;
use crate::html::kit::first_upper;
use crate::number::plain;
use crate::problem::{Problem, Rule, RuleKind};

/// The title of the page. A client sees no name of a file.
pub fn title(dossier: &Dossier<'_>) -> String {
    let head = &dossier.proposal.head;
    let title = head.title.as_deref().filter(|title| !title.trim().is_empty());
    match (title, dossier.reader) {
        (Some(title), _) => escaped(title),
        (None, Reader::Own) => file_name(&head.brief),
        (None, Reader::Client) => "An accord".to_owned(),
    }
}

/// The name of a file without its folders.
pub fn file_name(path: &str) -> String {
    escaped(&Path::new(path).file_name().unwrap_or_default().to_string_lossy())
}

/// How a blend is compared with the target.
fn comparison(problem: &Problem) -> Markup {
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
    html! { p { "A blend that smells as near as the numbers can tell to this target. Scores run from 0 to " (plain(problem.palette.scale)) ". " (how) } }
}

/// The brief without its rules, which tell of materials, doses and money.
pub fn for_client(dossier: &Dossier<'_>, may_say: impl Fn(&str) -> bool) -> Part {
    ("brief", "What is wanted", html! { (comparison(dossier.problem)) (target(dossier, may_say)) })
}

/// The brief.
pub fn part(dossier: &Dossier<'_>) -> Part {
    let problem = dossier.problem;
    let own: Vec<&Rule> = problem.rules.iter().filter(|rule| rule.place.file == dossier.brief.file).collect();
    let others = problem.rules.len() - own.len();
    let own = sentences(problem, &own);
    (
        "brief",
        "What is wanted",
        html! {
            (comparison(problem))
            (target(dossier, |_| true))
            @if own.is_empty() { p { "The brief sets no rules." } } @else {
                h3 { "Rules of the brief" }
                ul { @for (sentence, line) in own { li { (first_upper(&escaped(&sentence))) " " span.quiet { "(line " (line) ")" } } } }
            }
            @if others > 0 {
                p.quiet { "To these come " (others) " rules of the palette and the limits files: the doses, steps and caps of single materials, and restrictions." }
            }
        },
    )
}

/// Rules as sentences with their lines; one line that is a rule for many
/// materials is one sentence.
fn sentences(problem: &Problem, rules: &[&Rule]) -> Vec<(String, usize)> {
    let mut found: Vec<(String, usize)> = Vec::new();
    for rule in rules {
        let here = rules.iter().filter(|other| other.place == rule.place && is_alike(&other.kind, &rule.kind)).count();
        let of_all = problem.sentence_of_all(rule).filter(|_| here > 1);
        let sentence = of_all.unwrap_or_else(|| problem.sentence(rule));
        if !found.iter().any(|(known, line)| *known == sentence && *line == rule.place.line) {
            found.push((sentence, rule.place.line));
        }
    }
    found.sort_by_key(|(_, line)| *line);
    found
}

fn is_alike(a: &RuleKind, b: &RuleKind) -> bool {
    std::mem::discriminant(a) == std::mem::discriminant(b)
}

/// The target. `may_say` tells whether what a descriptor means may stand there.
fn target(dossier: &Dossier<'_>, may_say: impl Fn(&str) -> bool) -> Markup {
    let problem = dossier.problem;
    let wanted = || problem.targets.iter().filter(|target| target.score > 0.0);
    let scores = Column::of(wanted().map(|target| plain(target.score)));
    let weights = Column::of(wanted().map(|target| plain(target.weight)));
    let excesses = Column::of(wanted().map(|target| plain(target.weight * target.excess)));
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
                @for target in wanted() {
                    @let descriptor = &problem.palette.descriptors[target.descriptor];
                    tr {
                        th scope="row" { (escaped(&descriptor.name)) }
                        td { @if may_say(&descriptor.meaning) { (escaped(&descriptor.meaning)) } }
                        (scores.cell(&plain(target.score)))
                        (weights.cell(&plain(target.weight)))
                        (excesses.cell(&plain(target.weight * target.excess)))
                    }
                }
            }
        } }
        @if !unwanted.is_empty() { p { "Not wanted: " (unwanted.join(", ")) "." } }
    }
}
