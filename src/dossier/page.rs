//! The page around its parts.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::Dossier;
use super::files::Fingerprint;
use super::parts::{brief, figures, formula, limits, proof, weigh};
use crate::chart;
use crate::html::kit::to_mind;
use crate::sentences::care::{CAUTION, CAUTIONS_HEAD};

/// No script, no network: what the page may load is inside it.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; font-src data:";

const STYLE: &str = "\
@page { size: A4; margin: 14mm 13mm }
* { box-sizing: border-box }
body { font: 15px/1.5 Inter, 'Helvetica Neue', Arial, sans-serif; color: #1d1b18; background: #fff; max-width: 1000px; margin: 0 auto; padding: 24px 20px }
h1 { font-size: 27px; line-height: 1.2; margin: 0 0 4px; font-weight: 600 }
h2 { font-size: 19px; line-height: 1.3; margin: 40px 0 6px; padding-top: 14px; border-top: 1px solid #c9c3b8; font-weight: 600 }
h3 { font-size: 15px; margin: 20px 0 2px; font-weight: 600 }
p { margin: 6px 0; max-width: 74ch } ul { margin: 6px 0; padding-left: 20px } li { max-width: 74ch }
.lead { color: #55504a } .quiet, .soft, .sub { color: #55504a; font-size: 13px } .sub { display: block }
.mark { font-weight: 600 } .alert { font-weight: 600; border-left: 4px solid #a3341f; padding-left: 10px }
.key { display: grid; grid-template-columns: repeat(auto-fit, minmax(180px, 1fr)); gap: 1px; background: #ddd8ce; border: 1px solid #ddd8ce; margin: 16px 0 }
.key div { background: #fff; padding: 10px 12px } .key b { display: block; font-size: 22px; line-height: 1.25; font-weight: 600 } .key span { display: block; font-size: 13px; color: #55504a }
.scroll { overflow-x: auto }
table { border-collapse: collapse; width: 100%; margin: 10px 0; font-size: 14px }
caption { text-align: left; font-size: 13px; color: #55504a; padding-bottom: 4px }
thead { display: table-header-group } tr { break-inside: avoid }
th { text-align: left; font-size: 12px; font-weight: 600; color: #55504a; border-bottom: 1px solid #1d1b18; padding: 4px 10px 4px 0; vertical-align: bottom }
td { border-bottom: 1px solid #e5e0d6; padding: 5px 10px 5px 0; vertical-align: top }
th.n, td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap }
tbody th { vertical-align: top; padding-top: 5px; font-size: 14px; color: inherit; font-weight: 400; border-bottom: 1px solid #e5e0d6 }
tfoot td, tfoot th { font-weight: 600; border-bottom: 0; font-size: 14px; color: inherit }
figure { margin: 14px 0; break-inside: avoid } figure svg { width: 100%; height: auto; display: block }
figcaption { font-size: 13px; color: #55504a }
code { font-family: ui-monospace, Consolas, monospace; font-size: 12px; overflow-wrap: anywhere }
footer { margin-top: 40px; border-top: 2px solid #1d1b18; padding-top: 10px }
nav ol { columns: 2; margin: 8px 0; padding-left: 20px; font-size: 14px } a { color: inherit }
@media print { body { font-size: 10pt; max-width: none; padding: 0 } h2 { margin-top: 22px; break-after: avoid } h3 { break-after: avoid } table { font-size: 9pt } nav { display: none } .scroll { overflow: visible } }
@media (max-width: 600px) { nav ol { columns: 1 } h1 { font-size: 22px } }
";

/// A part of the page: its anchor, its heading and what it says.
pub(super) type Part = (&'static str, &'static str, Markup);

/// The page as HTML, with the files that it was made from. Names and texts of the user's are escaped.
pub fn page(dossier: &Dossier<'_>, files: &[Fingerprint]) -> String {
    let title = brief::title(dossier);
    let parts: Vec<Part> = [
        Some(brief::part(dossier)),
        formula::none(dossier),
        formula::part(dossier),
        formula::held_back(dossier),
        figures::profile(dossier),
        figures::tradeoff(dossier),
        figures::leeway(dossier),
        figures::push(dossier),
        figures::starts(dossier),
        limits::part(dossier),
        weigh::part(dossier),
        Some(proof::part(dossier)),
        Some(proof::sources(dossier, files)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                (PreEscaped(chart::page_fonts()))
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (title) }
                    (formula::lead(dossier))
                    p.quiet { (CAUTION) }
                    nav aria-label="Contents" {
                        ol { @for (anchor, heading, _) in &parts { li { a href={ "#" (anchor) } { (heading) } } } }
                    }
                }
                main {
                    @for (anchor, heading, markup) in &parts {
                        section aria-labelledby=(anchor) { h2 id=(anchor) { (heading) } (markup) }
                    }
                }
                footer {
                    p.mark { (CAUTION) }
                    h3 { (CAUTIONS_HEAD) }
                    (to_mind(dossier.subject.as_ref().map(|subject| &subject.care)))
                    p.quiet { "Made with permil " (env!("CARGO_PKG_VERSION")) " from " (brief::file_name(&dossier.proposal.head.brief)) "." }
                }
            }
        }
    };
    page.into_string() + "\n"
}
