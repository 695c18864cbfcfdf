//! Small pieces that the page is put together from.

use maud::{Markup, html};

use crate::escape::escaped;
use crate::files::edit::BriefEdits;

/// A remark: `wrong`, `warn` or `calm`.
pub fn note(kind: &str, text: &str) -> Markup {
    html! { p class={ "note " (kind) } { (escaped(text)) } }
}

/// A bar of a share from 0 to 1, for those who see; the number stands beside it.
pub fn bar(share: f64, class: &str) -> Markup {
    let width = format!("{:.2}%", share.clamp(0.0, 1.0) * 100.0);
    html! {
        svg.bar aria-hidden="true" height="10" {
            rect.track width="100%" height="10" rx="2" {}
            rect class=(class) width=(width) height="10" rx="2" {}
        }
    }
}

/// A button that changes the brief.
pub fn change_button(edits: &BriefEdits, words: &str, label: &str) -> Markup {
    let edits = serde_json::to_string(edits).unwrap_or_default();
    html! { button.small type="button" data-edits=(edits) data-key={ "try " (escaped(label)) } aria-label=(escaped(label)) { (words) } }
}

/// A table that scrolls sideways where the page is too narrow, and can be
/// scrolled with the keys.
pub fn scrolling(label: &str, content: &Markup) -> Markup {
    html! { div.scroll role="region" aria-label=(label) tabindex="0" { (content) } }
}
