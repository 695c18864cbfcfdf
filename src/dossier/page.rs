//! The page around its parts.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::files::Fingerprint;
use super::parts::{brief, client, figures, formula, front, limits, proof, weigh};
use super::{Dossier, Reader, style};
use crate::chart;
use crate::html::kit::to_mind;
use crate::sentences::care::{CAUTION, CAUTIONS_HEAD};
use crate::trials::Date;

/// No script, no network: what the page may load is inside it.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; font-src data:";

/// A part of the page: its anchor, its heading and what it says.
pub(super) type Part = (&'static str, &'static str, Markup);

/// The page as HTML: with the files that it was made from, which a client does not
/// see, and the day on which it is made, which the caller knows. Names and texts of
/// the user's are escaped.
pub fn page(dossier: &Dossier<'_>, files: &[Fingerprint], day: Option<Date>) -> String {
    let title = brief::title(dossier);
    let (front, parts) = match dossier.reader {
        Reader::Own => own(dossier, files),
        Reader::Client => (figures::profile(dossier).into_iter().collect(), client::parts(dossier)),
    };
    let running = day.map_or_else(|| title.clone(), |day| format!("{title}, {day}"));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                (PreEscaped(chart::page_fonts()))
                style { (PreEscaped(style::sheet(&running))) }
            }
            body {
                header {
                    (front::head(dossier, &title, day))
                    @for part in &front { (section(part)) }
                    (front::caution())
                    nav aria-label="Contents" {
                        ol { @for (anchor, heading, _) in front.iter().chain(&parts) { li { a href={ "#" (anchor) } { (heading) } } } }
                    }
                }
                main { @for part in &parts { (section(part)) } }
                footer {
                    h2 id="cautions" { (CAUTIONS_HEAD) }
                    p.mark { (CAUTION) }
                    @match dossier.reader {
                        Reader::Own => (to_mind(dossier.subject.as_ref().map(|subject| &subject.care))),
                        Reader::Client => (client::to_mind(dossier)),
                    }
                    p.quiet { "Made with permil " (crate::VERSION)
                        @if dossier.reader == Reader::Own { " from " (brief::file_name(&dossier.proposal.head.brief)) } "." }
                }
            }
        }
    };
    page.into_string() + "\n"
}

/// What the perfumer sees: the first page, and the rest.
fn own(dossier: &Dossier<'_>, files: &[Fingerprint]) -> (Vec<Part>, Vec<Part>) {
    let front = [formula::none(dossier), formula::part(dossier), figures::profile(dossier)];
    let parts = [
        Some(brief::part(dossier)),
        formula::materials(dossier),
        formula::held_back(dossier),
        figures::stages(dossier),
        figures::drying(dossier),
        figures::profile_figures(dossier),
        figures::tradeoff(dossier),
        figures::leeway(dossier),
        figures::push(dossier),
        figures::starts(dossier),
        limits::part(dossier),
        weigh::part(dossier),
        Some(proof::part(dossier)),
        Some(proof::sources(dossier, files)),
    ];
    (front.into_iter().flatten().collect(), parts.into_iter().flatten().collect())
}

fn section((anchor, heading, markup): &Part) -> Markup {
    html! { section aria-labelledby=(anchor) { h2 id=(anchor) { (heading) } (markup) } }
}
